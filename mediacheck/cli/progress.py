"""Progress of long work, on standard error and only when that is a terminal."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

    from mediacheck.check import Watcher

SHOWN_AFTER_S = 1.0


@contextmanager
def watching() -> Iterator[Watcher]:
    """A watcher that draws files and bytes done and the time left, or one that keeps silent."""
    from mediacheck.check import NoWatcher

    if not sys.stderr.isatty():
        yield NoWatcher()
        return
    bar = _bar()
    watcher = _Drawn(bar)
    try:
        yield watcher
    finally:
        bar.stop()


def _bar() -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TimeRemainingColumn

    return Progress(
        TextColumn("{task.fields[files]} of {task.fields[of]} files"),
        BarColumn(),
        DownloadColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )


class _Drawn:
    """Draws once the work has taken longer than a second."""

    def __init__(self, bar: Progress) -> None:
        self._bar = bar
        self._started = time.monotonic()
        self._task: TaskID | None = None
        self._files = 0

    def begin(self, files: int, size_bytes: int) -> None:
        """The card is listed."""
        self._task = self._bar.add_task("", total=max(size_bytes, 1), files=0, of=files)

    def done(self, size_bytes: int) -> None:
        """One more file."""
        self._files += 1
        if self._task is None:
            return
        self._bar.update(self._task, advance=size_bytes, files=self._files)
        if time.monotonic() - self._started > SHOWN_AFTER_S:
            self._bar.start()
