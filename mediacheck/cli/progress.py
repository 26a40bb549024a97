"""Progress of long work, on standard error and only when that is a terminal.

It must not know how the work is done: it draws what the check tells its watcher.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress, TaskID

    from mediacheck.inspection import Decoded
    from mediacheck.survey import Watcher

SHOWN_AFTER_S = 1.0
Told = TypeVar("Told")
Clock = Callable[[], float]


@contextmanager
def watching(console: Console | None = None, clock: Clock = time.monotonic) -> Iterator[Watcher]:
    """A watcher that draws files done, seconds decoded, the speed and the time left, or keeps silent.

    `console` is where to draw (default: standard error), `clock` tells seconds.
    """
    from mediacheck.survey import NoWatcher

    silent: Watcher = NoWatcher()
    with drawing(console, silent, _bar, _Drawn, clock) as watcher:
        yield watcher


@contextmanager
def drawing(
    console: Console | None,
    silent: Told,
    make_bar: Callable[[Console | None, Clock], Progress],
    make: Callable[[Progress, Clock], Told],
    clock: Clock,
) -> Iterator[Told]:
    """What is told of the work and draws it, or keeps silent where there is no terminal."""
    if not (console.is_terminal if console else sys.stderr.isatty()):
        yield silent
        return
    bar = make_bar(console, clock)
    try:
        yield make(bar, clock)
    finally:
        bar.stop()


def _bar(console: Console | None, clock: Clock) -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
    from rich.table import Column

    return Progress(
        TextColumn("{task.fields[files]} of {task.fields[of]} files"),
        BarColumn(None, table_column=Column(ratio=1)),
        TextColumn("{task.fields[decoded]}"),
        TimeRemainingColumn(compact=True),
        TextColumn("left"),
        console=console or Console(stderr=True),
        transient=True,
        expand=True,
        get_time=clock,
    )


class _Drawn:
    """Draws once the work has taken longer than a second."""

    def __init__(self, bar: Progress, clock: Clock) -> None:
        self._bar, self._clock = bar, clock
        self._started_s = clock()
        self._shown = False
        self._task: TaskID | None = None
        self._files = self._of = 0
        self._done_bytes = 0
        self._begun_bytes: dict[str, float] = {}
        """By path, of files that are being decoded: how many of their bytes that makes."""
        self._decoded = _DecodedSeconds(clock)

    def begin(self, files: int, size_bytes: int) -> None:
        """The card is listed."""
        if self._task is not None:  # of the stage before
            self._bar.remove_task(self._task)
        self._files, self._of, self._done_bytes = 0, files, 0
        self._task = self._bar.add_task("", total=max(size_bytes, 1), files=0, of=files, decoded="")

    def decoded(self, path: str, size_bytes: int, so_far: Decoded) -> None:
        """A file is decoded so far: its bytes count as done in the same share."""
        self._decoded.reached(path, so_far.seconds)
        if so_far.of_seconds:
            self._begun_bytes[path] = size_bytes * min(so_far.seconds / so_far.of_seconds, 1.0)
        self._draw()

    def done(self, path: str, size_bytes: int) -> None:
        """One more file."""
        self._files += 1
        self._done_bytes += size_bytes
        self._begun_bytes.pop(path, None)
        self._draw()
        if self._files == self._of:  # the terminal is free for what comes next
            self._bar.stop()
            self._shown = False

    def waiting(self) -> None:
        """The work goes on, though it has nothing to tell yet."""
        self._show()

    def _draw(self) -> None:
        if self._task is None:
            return
        so_far_bytes = self._done_bytes + sum(self._begun_bytes.values())
        self._bar.update(self._task, completed=so_far_bytes, files=self._files, decoded=self._decoded.text())
        self._show()

    def _show(self) -> None:
        if not self._shown and self._clock() - self._started_s > SHOWN_AFTER_S:
            self._shown = True
            self._bar.start()


class _DecodedSeconds:
    """How much film was decoded, and in how much time on the clock, all files together."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._seconds: dict[str, float] = {}
        self._first_s: float | None = None
        self._last_s = 0.0

    def reached(self, path: str, seconds: float) -> None:
        """This file is decoded so far."""
        self._seconds[path] = seconds
        self._last_s = self._clock()
        if self._first_s is None:
            self._first_s = self._last_s

    def text(self) -> str:
        """Such as "75 s decoded, 8.2x"; empty while nothing was decoded.

        The speed is against playing one film at a time; work that decodes nothing at the end of the run
        does not lower it.
        """
        seconds = sum(self._seconds.values())
        if not seconds or self._first_s is None:
            return ""
        took_s = self._last_s - self._first_s
        return f"{seconds:.0f} s decoded" + (f", {seconds / took_s:.1f}x" if took_s > 0 else "")
