"""What was seen where, how that is told beside a value, and when it is enough for a limit.

It must not know any key of a profile.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from mediacheck.learn.model import Key, Plain, Value
from mediacheck.loop import File
from mediacheck.report.words import counted

T = TypeVar("T")
P = TypeVar("P", bound="str | int | float")

ENOUGH = 2
"""So many different files make a limit: one alone may be an exception."""
ONE_FILE = "one file is too little for a limit"


@dataclass(frozen=True, slots=True)
class Sighting:
    """One file on one of the cards, which are numbered."""

    card: int
    file: File


Told = Sequence[tuple[Sighting, T | None]]
"""What each file says of one thing; None where it does not say it."""


@dataclass(frozen=True, slots=True)
class Found:
    """What the files have taught about one key."""

    key: str
    value: Plain
    of: tuple[Sighting, ...]
    """The files that it comes from."""
    remark: str = ""
    """How it was made from what they say: "rounded up from 18.3 Mbit/s"."""
    open_because: str = ""
    """Why it cannot be a limit, however many files there are; a clause."""
    by_name: bool = False
    """Whether it is about their names, and not about what is in them."""

    @property
    def different(self) -> int:
        """How many different files there are: copies on several cards are one."""
        return len({_identity(each, self.by_name) for each in self.of})

    @property
    def is_limit(self) -> bool:
        """Whether this is enough for a limit."""
        return self.different >= ENOUGH and not self.open_because

    def at(self, place: Key, cards: int) -> Value:
        """The value at its place in the profile, with its evidence from so many cards."""
        return Value((*place, self.key), self.value, self.evidence(cards), self.is_limit)

    def evidence(self, cards: int) -> str:
        """Where it was seen, how it was made, and why it is no limit where it is none."""
        too_little = ONE_FILE if self.different < ENOUGH else ""
        return joined(seen_in(self.of, cards, self.different), self.remark, self.open_because or too_little)


def content(sighting: Sighting) -> Hashable:
    """What makes two files the same: their size and all that was read of them, each packet's size included.

    Hashes are not taken of every file in a quick look.
    """
    return sighting.file.entry.size_bytes, sighting.file.facts


def _identity(sighting: Sighting, by_name: bool) -> Hashable:
    return sighting.file.entry.path.casefold() if by_name else content(sighting)


def seen_in(of: Sequence[Sighting], cards: int, different: int | None = None) -> str:
    """ "seen on 2 of 3 cards: 12 files", and how many of them are different where some are copies."""
    where = f"seen on {len({each.card for each in of})} of {counted(cards, 'card')}"
    apart = f", {different:,} of them different" if different and different < len(of) else ""
    return f"{where}: {counted(len(of), 'file')}{apart}"


def joined(*clauses: str) -> str:
    """Clauses one after the other, without those that are empty."""
    return "; ".join(filter(None, clauses))


def told(of: Sequence[Sighting], read: Callable[[Sighting], T | None]) -> Told[T]:
    """What each of these files says of one thing."""
    return [(each, read(each)) for each in of]


def unsaid(pairs: Told[T]) -> str:
    """Why there is no limit where files do not say what it would be held against."""
    silent = sum(value is None for _, value in pairs)
    return f"{counted(silent, 'file does', 'files do')} not say it" if silent else ""


def choice(
    key: str, pairs: Told[P], allowed: Sequence[P], write: Callable[[P], str] = str
) -> Iterator[Found]:
    """All values seen, in the order of those that a profile can name; nothing where none was."""
    of = [(each, value) for each, value in pairs if value is not None]
    counts = Counter(value for _, value in of)
    unnamed = sorted(write(value) for value in counts if value not in allowed)
    values = tuple(value for value in allowed if value in counts)
    if values:
        yield Found(
            key,
            values,
            tuple(each for each, _ in of),
            shares([(write(value), counts[value]) for value in values]),
            joined(unsaid(pairs), unnameable(unnamed)),
        )


def shares(counts: Sequence[tuple[str, int]]) -> str:
    """How many files each value was seen in, where there are several: "25 in 9 files, 30 in 1 file"."""
    if len(counts) < 2:
        return ""
    return ", ".join(f"{value} in {counted(count, 'file')}" for value, count in counts)


def unnameable(names: Sequence[str]) -> str:
    """Why there is no limit where something was seen that would then be refused."""
    return f"{', '.join(names)} was seen as well and cannot be named in a profile" if names else ""


def greatest(
    key: str, pairs: Told[int], step: Callable[[int], int], write: Callable[[int], str]
) -> Iterator[Found]:
    """The greatest value seen, rounded up to its next step; nothing where no file says it."""
    of = [(each, value) for each, value in pairs if value is not None]
    if of:
        most = max(value for _, value in of)
        rounded = step(most)
        remark = "" if rounded == most else f"rounded up from {write(most)} to the next step"
        yield Found(key, rounded, tuple(each for each, _ in of), remark, unsaid(pairs))


def as_it_is(value: int) -> int:
    """For values that have no steps."""
    return value
