"""The jump that is seen each time the loop starts again, beside the jumps inside the clip.

It must not judge, and knows nothing of the item that plays next: it takes the clip to follow itself.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.model import Seam, Span

STEPS_A_LEVEL = 20
"""The median is known to 1/20 of a level, however long the clip: changes are counted, not kept."""
LEVELS = 256
AT_THE_END_S = 0.1
"""A stretch of black this near to an end reaches it: the last picture's own length is often a guess."""


class SeamGauge:
    """Keeps the first picture, the last one, and counts of the changes between neighbours."""

    def __init__(self) -> None:
        self._first: NDArray[np.uint8] | None = None
        self._last: NDArray[np.uint8] | None = None
        self._counts = [0] * (LEVELS * STEPS_A_LEVEL)
        self._greatest = 0.0

    def see(self, second: float, picture: NDArray[np.uint8]) -> None:
        """Take the next picture: uint8 (height, width, 3), RGB. `second` is not needed here."""
        if self._last is None:
            self._first = picture.copy()
        else:
            change = _change(self._last, picture)
            self._counts[int(change * STEPS_A_LEVEL)] += 1
            self._greatest = max(self._greatest, change)
        self._last = picture.copy()

    def result(self, end_s: float, black: tuple[Span, ...]) -> Seam | None:
        """The seam of a clip that ends at `end_s` with these stretches of black; None if no picture came.

        A single picture follows itself without any change.
        """
        if self._first is None or self._last is None:
            return None
        return Seam(
            picture_change=_change(self._last, self._first),
            usual_change=self._median(),
            greatest_change=self._greatest,
            black_s=_black_at_the_seam_s(end_s, black),
        )

    def _median(self) -> float:
        """The lower of the two middle changes where their number is even; 0 where there were none."""
        passed, half = 0, sum(self._counts) / 2
        for step, count in enumerate(self._counts):
            passed += count
            if count and passed >= half:
                return (step + 0.5) / STEPS_A_LEVEL if step else 0.0
        return 0.0


def _change(before: NDArray[np.uint8], after: NDArray[np.uint8]) -> float:
    """Mean absolute difference, 0 to 255."""
    return cv2.norm(before, after, cv2.NORM_L1) / before.size


def _black_at_the_seam_s(end_s: float, black: tuple[Span, ...]) -> float:
    """A clip that is black throughout counts once."""
    at_ends = [s for s in black if s.start_s <= AT_THE_END_S or s.end_s >= end_s - AT_THE_END_S]
    return sum((span.end_s - span.start_s for span in at_ends), 0.0)
