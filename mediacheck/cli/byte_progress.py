"""Progress of long reads and writes, on standard error and only when that is a terminal.

It must not know what is read or written: it draws what the work tells its watcher.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from mediacheck.cli.progress import SHOWN_AFTER_S, Clock, drawing
from mediacheck.watching import ByteWatcher, NoByteWatcher

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress, TaskID


@contextmanager
def byte_watching(console: Console | None = None, clock: Clock = time.monotonic) -> Iterator[ByteWatcher]:
    """A watcher that draws bytes done, the speed and the time left, or keeps silent.

    `console` is where to draw (default: standard error), `clock` tells seconds.
    """
    silent: ByteWatcher = NoByteWatcher()
    with drawing(console, silent, _bar, _DrawnBytes, clock) as watcher:
        yield watcher


def _bar(console: Console | None, clock: Clock) -> Progress:
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        DownloadColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
        TransferSpeedColumn,
    )
    from rich.table import Column

    return Progress(
        TextColumn("{task.description}"),
        BarColumn(None, table_column=Column(ratio=1)),
        DownloadColumn(),
        TransferSpeedColumn(),
        TimeRemainingColumn(compact=True),
        TextColumn("left"),
        console=console or Console(stderr=True),
        transient=True,
        expand=True,
        get_time=clock,
    )


class _DrawnBytes:
    """Draws once the work has taken longer than a second."""

    def __init__(self, bar: Progress, clock: Clock) -> None:
        self._bar, self._clock = bar, clock
        self._started_s = clock()
        self._shown = False
        self._task: TaskID | None = None

    def begin(self, total_bytes: int, what: str) -> None:
        """A stretch of work begins: it gets a bar of its own, in place of the one before."""
        self.end()
        self._task = self._bar.add_task(what, total=total_bytes)

    def advanced(self, count_bytes: int) -> None:
        """So many more bytes."""
        if self._task is not None:
            self._bar.advance(self._task, count_bytes)
        if not self._shown and self._clock() - self._started_s > SHOWN_AFTER_S:
            self._shown = True
            self._bar.start()

    def end(self) -> None:
        """Take the bar away."""
        if self._task is not None:
            self._bar.remove_task(self._task)
            self._task = None
