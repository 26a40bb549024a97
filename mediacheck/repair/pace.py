"""How far a worker has come with one new file, told while it works.

It must not know what the stages do: each has a weight, about as long as it takes.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from mediacheck.inspection import Decoded
from mediacheck.measure.decode import TELL_EVERY_S
from mediacheck.worker_process import tell

OnShare = Callable[[float], None]
"""Told which share of a stage is done, 0 to 1."""


class Pace:
    """All stages of one piece of work as one way, told in seconds of the new file."""

    def __init__(self, seconds: float | None, whole: float) -> None:
        """`whole` is the sum of the weights to come. `seconds` None: only that it goes on can be told."""
        self.seconds = seconds
        self._whole = whole
        self._behind = 0.0
        self._farthest = 0.0
        self._next_s = 0.0

    def stage(self, weight: float) -> OnShare:
        """A new stage begins, the one before has ended; 0.0 for one that was not foreseen."""
        begins, self._behind = self._behind, self._behind + weight
        self._reached(begins)
        return lambda share: self._reached(begins + weight * min(1.0, max(0.0, share)))

    def ended(self) -> None:
        """All is done, whatever was foreseen."""
        self._next_s = 0.0
        self._reached(self._whole)

    def _reached(self, behind: float) -> None:
        self._farthest = max(self._farthest, min(1.0, behind / self._whole))
        if (now_s := time.monotonic()) >= self._next_s:
            self._next_s = now_s + TELL_EVERY_S
            tell(Decoded((self.seconds or 0.0) * self._farthest, self.seconds))
