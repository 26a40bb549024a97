"""Which loops the files of a card show, where their bytes are those of none.

It must not know displays and faces: that is for `asking`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from mediacheck.identify.clips import Found, tells
from mediacheck.identify.library import LoopNamed
from mediacheck.identify.traces import STEP_S, Trace
from mediacheck.report.words import counted

SLACK_S = 0.75
"""A file that was encoded anew is this much shorter or longer than its item at most."""


def seconds_words(differing: Sequence[tuple[float, float]]) -> str:
    """Stretches of seconds for a sentence."""
    return ", ".join(f"{start:.1f} to {end:.1f}" for start, end in differing)


@dataclass(frozen=True, slots=True)
class CardFile:
    """A file of a card: what it shows along time (None: it cannot be decoded), and the items it is like."""

    sha256: str
    trace: Trace | None
    found: tuple[Found, ...]

    @property
    def can_be_told(self) -> bool:
        """Whether it can be said which items it shows."""
        return self.trace is not None and (bool(self.found) or tells(self.trace))

    def like(self, item: str, seconds: float) -> tuple[float, Found | None]:
        """How sure it is that it shows all of this item and nothing else, 0 where it does not; and what it
        shows of it, if anything."""
        if self.sha256 == item:
            return 1.0, None
        found = next((one for one in self.found if one.item == item), None)
        if found is None or self.trace is None:
            return 0.0, None
        lengths = seconds, len(self.trace) * STEP_S
        whole = not found.differing and all(abs(one - found.compared_s) <= SLACK_S for one in lengths)
        return (min(1.0, found.score) if whole else 0.0), found


@dataclass(frozen=True, slots=True)
class Held:
    """What a card holds of a loop. `items`: how many it holds whole, each in a file of its own."""

    loop: LoopNamed
    items: int
    partly: int
    """Files beside those that show a part of it, or items with other seconds in them."""
    files: int
    """All that are on the card."""
    score: float
    differing: tuple[tuple[float, float], ...]
    """Seconds of its round; of a card that holds something of each item."""

    @property
    def is_whole(self) -> bool:
        """Whether the card holds this loop and nothing else."""
        return self.items == self.files == len(self.loop.items)

    def may_be_whole(self, unknown: int) -> bool:
        """Whether it would, if the files of which nothing is known were what is missing."""
        return self.items + unknown == self.files == len(self.loop.items)

    @property
    def words(self) -> str:
        """Why it is not this loop, in one sentence."""
        if self.differing:
            return f"It is this loop but for the seconds {seconds_words(self.differing)}."
        others = self.files - self.items
        besides = f", and {counted(others, 'other file')}" if others else ""
        return f"It holds {self.items} of the {counted(len(self.loop.items), 'item')} of this loop{besides}."


def held_by(loops: Sequence[LoopNamed], files: Sequence[CardFile]) -> list[Held]:
    """The loops of which something is on the card, that first of which it holds most."""
    found = [one for one in (_held(loop, files) for loop in loops) if one.items or one.partly]
    return sorted(found, key=lambda one: (-one.items, -one.partly, len(one.loop.items)))


def _held(loop: LoopNamed, files: Sequence[CardFile]) -> Held:
    likes = [[file.like(item.sha256, item.seconds) for item in loop.items] for file in files]
    pairs = _paired([[score for score, _ in row] for row in likes])
    left = [row for number, row in enumerate(likes) if number not in pairs.values()]
    open_ = [number for number in range(len(loop.items)) if number not in pairs]
    partly = [row for row in left if any(row[number][1] is not None for number in open_)]
    scores = [likes[file][item][0] for item, file in pairs.items()]
    share = len(pairs) / max(1, len(files), len(loop.items))
    one_each = len(pairs) + len(partly) == len(files) == len(loop.items)
    differing = _differing(loop, partly, open_) if one_each else ()
    return Held(loop, len(pairs), len(partly), len(files), share * min(scores, default=0.0), differing)


def _paired(likes: Sequence[Sequence[float]]) -> dict[int, int]:
    """As many items as go, each with a file of its own that shows it: the file of each item (Kuhn)."""
    pairs: dict[int, int] = {}

    def finds(file: int, tried: set[int]) -> bool:
        for item, like in enumerate(likes[file]):
            if like > 0 and item not in tried:
                tried.add(item)
                if item not in pairs or finds(pairs[item], tried):
                    pairs[item] = file
                    return True
        return False

    for number in range(len(likes)):
        finds(number, set())
    return pairs


def _differing(
    loop: LoopNamed, rows: Sequence[Sequence[tuple[float, Found | None]]], open_: Sequence[int]
) -> tuple[tuple[float, float], ...]:
    """In seconds of its round. Nothing where an item is cut, or two files show the same one."""
    begins = [sum(item.seconds for item in loop.items[:number]) for number in range(len(loop.items))]
    by_item: dict[int, tuple[tuple[float, float], ...]] = {}
    for row in rows:
        here = [number for number in open_ if (found := row[number][1]) and found.differing]
        if len(here) != 1 or here[0] in by_item:
            return ()
        found = row[here[0]][1]
        assert found is not None
        if abs(loop.items[here[0]].seconds - found.compared_s) > SLACK_S:
            return ()
        by_item[here[0]] = tuple((begins[here[0]] + a, begins[here[0]] + b) for a, b in found.differing)
    return tuple(stretch for number in sorted(by_item) for stretch in by_item[number])
