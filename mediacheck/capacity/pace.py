"""How fast a medium is written or read: on the whole, and where it was slowest.

It must not look at a clock itself: it is told what took how long.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import ParamSpec, TypeVar

from mediacheck.capacity.speed_class import MEGABYTE

STRETCH_S = 10.0
"""How long a stretch is whose speed counts as sustained. Common practice, no source."""
JUDGED_BYTES_MIN = 1 << 30
JUDGED_S_MIN = 10.0
"""Less than this is taken in by the buffers of cards and readers, and tells nothing of the card."""

Clock = Callable[[], float]
P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Pace:
    """What was done by when, from (0, 0) on: seconds of work, and bytes. Both only grow."""

    marks: tuple[tuple[float, int], ...] = ((0.0, 0),)

    @property
    def seconds(self) -> float:
        """How long the work took."""
        return self.marks[-1][0]

    @property
    def size_bytes(self) -> int:
        """How much was done."""
        return self.marks[-1][1]

    @property
    def mb_s(self) -> float | None:
        """On the whole, in 10^6 bytes a second; None where no time went by."""
        return _mb_s(self.marks[0], self.marks[-1])

    @property
    def stretch_s(self) -> float:
        """How long the stretches are that are compared: 10 s, or a tenth of work that took less."""
        return STRETCH_S if self.seconds >= STRETCH_S else self.seconds / 10

    @property
    def slowest_mb_s(self) -> float | None:
        """Of the slowest stretch of that length or just above it; None where no time went by."""
        slowest, begin = self.mb_s, 0
        for end in range(len(self.marks)):
            while begin + 1 < end and self._lasts(begin + 1, end):
                begin += 1
            if end > begin and self._lasts(begin, end):
                here = _mb_s(self.marks[begin], self.marks[end])
                slowest = here if slowest is None or (here is not None and here < slowest) else slowest
        return slowest

    @property
    def judged(self) -> bool:
        """Whether it was enough to say something of the medium."""
        return self.size_bytes >= JUDGED_BYTES_MIN and self.seconds >= JUDGED_S_MIN

    def _lasts(self, begin: int, end: int) -> bool:
        return self.marks[end][0] - self.marks[begin][0] >= self.stretch_s


def _mb_s(begin: tuple[float, int], end: tuple[float, int]) -> float | None:
    seconds = end[0] - begin[0]
    return (end[1] - begin[1]) / seconds / MEGABYTE if seconds > 0 else None


@dataclass(slots=True)
class Stopwatch:
    """Counts only the time that is spent on the medium."""

    clock: Clock
    _spent_s: float = 0.0
    _marks: list[tuple[float, int]] = field(default_factory=lambda: [(0.0, 0)])

    def timed(self, work: Callable[P, T], *arguments: P.args, **named: P.kwargs) -> T:
        """Do this and count its time, also where it fails."""
        started_s = self.clock()
        try:
            return work(*arguments, **named)
        finally:
            self._spent_s += max(self.clock() - started_s, 0.0)

    def mark(self, done_bytes: int) -> None:
        """So many bytes are done by now, all together."""
        self._marks.append((self._spent_s, done_bytes))

    @property
    def pace(self) -> Pace:
        """Up to the last mark."""
        return Pace(tuple(self._marks))
