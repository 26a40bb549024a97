"""Progress of making new files: a line for each that is being made, and one for all of them.

It must not know how they are made: it draws what the repair tells its watcher.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from mediacheck.cli.progress import SHOWN_AFTER_S, Clock, drawing

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress, TaskID

    from mediacheck.inspection import Decoded
    from mediacheck.survey import Watcher


@contextmanager
def making_watching(console: Console | None = None, clock: Clock = time.monotonic) -> Iterator[Watcher]:
    """A watcher that draws each file with its own time left, and that of all; silent without a terminal.

    `console` is where to draw (default: standard error), `clock` tells seconds.
    """
    from mediacheck.survey import NoWatcher

    silent: Watcher = NoWatcher()
    with drawing(console, silent, _bar, _Making, clock) as watcher:
        yield watcher


def _bar(console: Console | None, clock: Clock) -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
    from rich.table import Column

    return Progress(
        TextColumn("{task.description}", table_column=Column(ratio=1, no_wrap=True), markup=False),
        BarColumn(20),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(compact=True),
        TextColumn("left"),
        console=console or Console(stderr=True),
        transient=True,
        expand=True,
        get_time=clock,
    )


class _Making:
    """Draws once the work has taken longer than a second. Sizes are shares of the whole work."""

    def __init__(self, bar: Progress, clock: Clock) -> None:
        self._bar, self._clock = bar, clock
        self._started_s = clock()
        self._shown = False
        self._all: TaskID | None = None
        self._files = self._of = 0
        self._ended = 0.0
        self._each: dict[str, TaskID] = {}
        self._begun: dict[str, float] = {}

    def begin(self, files: int, size_bytes: int) -> None:
        """So many files are to be made."""
        if self._all is not None:  # what had to be made once more
            self._bar.remove_task(self._all)
        self._files, self._of, self._ended = 0, files, 0.0
        self._all = self._bar.add_task("", total=max(size_bytes, 1))
        self._draw()

    def decoded(self, path: str, size_bytes: int, so_far: Decoded) -> None:
        """This file is made so far."""
        if path not in self._each:
            from mediacheck.report.words import safe

            self._each[path] = self._bar.add_task(safe(path), total=1.0)
        if so_far.of_seconds:
            share = min(so_far.seconds / so_far.of_seconds, 1.0)
            self._begun[path] = share * size_bytes
            self._bar.update(self._each[path], completed=share)
        self._draw()

    def done(self, path: str, size_bytes: int) -> None:
        """This file is made, or cannot be."""
        self._files += 1
        self._ended += size_bytes
        self._begun.pop(path, None)
        if path in self._each:
            self._bar.remove_task(self._each.pop(path))
        self._draw()
        if self._files == self._of:  # the terminal is free for what comes next
            self._bar.stop()
            self._shown = False

    def waiting(self) -> None:
        """The work goes on, though it has nothing to tell yet."""
        self._show()

    def _draw(self) -> None:
        if self._all is not None:
            words = f"{self._files} of {self._of} new files"
            self._bar.update(self._all, description=words, completed=self._ended + sum(self._begun.values()))
        self._show()

    def _show(self) -> None:
        if not self._shown and self._clock() - self._started_s > SHOWN_AFTER_S:
            self._shown = True
            self._bar.start()
