"""What follows for a card from what was measured of its capacity and speed.

It must not promise more than was measured.
"""

from __future__ import annotations

from dataclasses import dataclass

from mediacheck.capacity.examination import USED_PART, Capacity
from mediacheck.capacity.speed_class import SpeedClass
from mediacheck.names import VerdictWord

FILLED_PERCENT_MIN = 98
"""With less than this of the free space filled, something other than its size stopped it. Our choice."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """A card that was filled and read back."""

    shown: str
    """The drive or device, as people know it."""
    capacity: Capacity
    promised: SpeedClass | None = None
    """What is printed on the card."""
    memory_bytes: int = 0
    """How much this computer may have kept in memory of what it wrote."""
    left_behind: str | None = None
    """What is still on the drive that should have been removed, a clause."""
    erased: bool = False
    """Whether the whole device was written over."""

    @property
    def verdict(self) -> VerdictWord:
        """fail: false capacity or bad cells; incomplete: something could not be tested; warn: slow."""
        if not self.capacity.is_sound:
            return "fail"
        if self.not_tested:
            return "incomplete"
        return "warn" if self.has_warning else "pass"

    @property
    def has_warning(self) -> bool:
        """Whether something is not as it should be and does not make the card fail."""
        return self.is_slow or self.left_behind is not None

    @property
    def is_slow(self) -> bool:
        """Whether its slowest stretch was under what its class promises, which holds for any stretch."""
        slowest = self.capacity.written.pace.slowest_mb_s
        judged = self.promised is not None and self.capacity.written.pace.judged
        return bool(judged and self.promised and slowest is not None and slowest < self.promised.write_mb_s)

    @property
    def is_unjudged(self) -> bool:
        """Whether its speed was asked for and too little could be written to tell."""
        return self.promised is not None and not self.capacity.written.pace.judged

    @property
    def is_full_enough(self) -> bool:
        """Whether all the room was filled, or a fault of the card kept it from being filled."""
        capacity = self.capacity
        filled = capacity.written.size_bytes * 100 >= capacity.room_bytes * FILLED_PERCENT_MIN
        return filled or capacity.written.stopped is not None

    @property
    def is_partly_tested(self) -> bool:
        """Whether so much was in use that what was free does not speak for the whole card."""
        return self.capacity.used_bytes * USED_PART > self.capacity.claimed_bytes

    @property
    def certain_bytes(self) -> int:
        """What was certainly read from the card itself: the memory cannot hold more than its size."""
        written_bytes = self.capacity.written.size_bytes
        kept_bytes = 0 if self.capacity.from_medium else self.memory_bytes
        return max(written_bytes - kept_bytes, 0)

    @property
    def not_tested(self) -> bool:
        """Whether something should have been tested and could not be."""
        return self.is_unjudged or not self.capacity.from_medium or not self.is_full_enough


def exit_code(outcome: Outcome, strict: bool) -> int:
    """0 as it claims, or slower; 1 fail (or a warning with `strict`); 3 not fully tested."""
    if outcome.verdict == "fail" or (strict and outcome.has_warning):
        return 1
    return 3 if outcome.verdict == "incomplete" else 0
