"""Progress of a run over many cards, in one line on standard error and only when that is a terminal.

It must not know how the work is done: it draws what the run tells its watcher.
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

    from mediacheck.many.run import CardsWatcher


@contextmanager
def cards_watching(console: Console | None = None, clock: Clock = time.monotonic) -> Iterator[CardsWatcher]:
    """A watcher that draws cards and files done and the time left, or keeps silent.

    `console` is where to draw (default: standard error), `clock` tells seconds.
    """
    silent: CardsWatcher = _Silent()
    with drawing(console, silent, _bar, _Drawn, clock) as watcher:
        yield watcher


class _Silent:
    """Where there is no terminal."""

    def begin(self, cards: int) -> None:
        """Nothing to show."""

    def listed(self, place: int, size_bytes: int) -> None:
        """Nothing to show."""

    def looked_at(self, place: int, size_bytes: int) -> None:
        """Nothing to show."""

    def checked(self, place: int) -> None:
        """Nothing to show."""

    def waiting(self) -> None:
        """Nothing to show."""


def _bar(console: Console | None, clock: Clock) -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
    from rich.table import Column

    return Progress(
        TextColumn("{task.fields[cards]} of {task.fields[of]} cards"),
        BarColumn(None, table_column=Column(ratio=1)),
        TextColumn("{task.fields[files]} files"),
        TimeRemainingColumn(compact=True),
        TextColumn("left"),
        console=console or Console(stderr=True),
        transient=True,
        expand=True,
        get_time=clock,
    )


class _Drawn:
    """Draws once the work has taken longer than a second.

    A card in work counts as far as its bytes are looked at.
    """

    def __init__(self, bar: Progress, clock: Clock) -> None:
        self._bar, self._clock = bar, clock
        self._started_s = clock()
        self._shown = False
        self._task: TaskID | None = None
        self._cards = self._of = self._files = 0
        self._size_bytes: dict[int, int] = {}
        """Of the cards in work, by place."""
        self._done_bytes: dict[int, int] = {}

    def begin(self, cards: int) -> None:
        """So many cards."""
        self._of = cards
        self._task = self._bar.add_task("", total=max(cards, 1), cards=0, of=cards, files=0)

    def listed(self, place: int, size_bytes: int) -> None:
        """This card is being looked at."""
        self._size_bytes[place], self._done_bytes[place] = size_bytes, 0
        self._show()

    def looked_at(self, place: int, size_bytes: int) -> None:
        """One more file."""
        self._files += 1
        self._done_bytes[place] += size_bytes
        self._draw()

    def checked(self, place: int) -> None:
        """One more card."""
        self._cards += 1
        self._size_bytes.pop(place, None)
        self._draw()
        if self._cards == self._of:  # the terminal is free for what comes next
            self._bar.stop()

    def waiting(self) -> None:
        """The work goes on, though it has nothing to tell yet."""
        self._show()

    def _draw(self) -> None:
        if self._task is None:
            return
        begun = sum(self._done_bytes[place] / size for place, size in self._size_bytes.items() if size)
        self._bar.update(self._task, completed=self._cards + begun, cards=self._cards, files=self._files)
        self._show()

    def _show(self) -> None:
        if not self._shown and self._clock() - self._started_s > SHOWN_AFTER_S:
            self._shown = True
            self._bar.start()
