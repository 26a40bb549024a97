"""Where a clip shows no new picture for longest, by the time stamps of the decoded pictures.

It must not judge: a picture may stand for long by intent, which the packets tell.
"""

from __future__ import annotations

import heapq

from mediacheck.measure.model import Span

KEPT = 8


class GapGauge:
    """Keeps the longest waits between a picture and the next; of waits as long, the earliest."""

    def __init__(self) -> None:
        self._before_s: float | None = None
        self._longest: list[tuple[float, float]] = []
        """The wait in seconds and the start, negative, so that of equal waits the later goes first."""

    def see(self, second: float) -> None:
        """Take the time of the next picture, in seconds from the first one."""
        if self._before_s is not None:
            wait = second - self._before_s, -self._before_s
            if len(self._longest) < KEPT:
                heapq.heappush(self._longest, wait)
            elif wait > self._longest[0]:
                heapq.heapreplace(self._longest, wait)
        self._before_s = second

    def result(self) -> tuple[Span, ...]:
        """At most `KEPT` waits, in the order of the clip, each from one picture to the next."""
        starts = sorted((-negative_s, length_s) for length_s, negative_s in self._longest)
        return tuple(Span(start_s, start_s + length_s) for start_s, length_s in starts)
