"""Progress of work that takes files one by one, on standard error and only when that is a terminal.

It must not know what is done with them.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from mediacheck.cli.progress import SHOWN_AFTER_S, Clock, drawing

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress

Seen = Callable[[str], None]
NAME_SHOWN = 60


@contextmanager
def counting(console: Console | None = None, clock: Clock = time.monotonic) -> Iterator[Seen]:
    """To be told each file by its name: draws how many there were, or keeps silent."""
    silent: Seen = _silent
    with drawing(console, silent, _bar, _drawn, clock) as seen:
        yield seen


def _silent(name: str) -> None:
    """Nobody looks."""


def _bar(console: Console | None, clock: Clock) -> Progress:
    from rich.console import Console
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    return Progress(
        SpinnerColumn(),
        TextColumn("{task.completed:,} files"),
        TimeElapsedColumn(),
        TextColumn("{task.description}", markup=False),
        console=console or Console(stderr=True),
        transient=True,
        get_time=clock,
    )


def _drawn(bar: Progress, clock: Clock) -> Seen:
    task = bar.add_task("", total=None)
    begun_s = clock()
    shown = False

    def seen(name: str) -> None:
        nonlocal shown
        bar.update(task, advance=1, description=name[-NAME_SHOWN:])
        if not shown and clock() - begun_s > SHOWN_AFTER_S:
            shown = True
            bar.start()

    return seen
