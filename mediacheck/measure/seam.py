"""The jump that is seen each time the loop starts again, beside the jumps inside the clip.

It must not judge, and knows nothing of the item that plays next: it takes the clip to follow itself, and
keeps both ends for `measure.meeting`.
"""

from __future__ import annotations

from collections import deque
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.likeness import likeness
from mediacheck.measure.meeting import TINY_PX
from mediacheck.measure.model import Seam, Span

STEPS_A_LEVEL = 20
"""The median is known to 1/20 of a level, however long the clip: changes are counted, not kept."""
LEVELS = 256
AT_THE_END_S = 0.1
"""A stretch of black this near to an end reaches it: the last picture's own length is often a guess."""
END_PICTURES = 4
"""Kept of each end, to tell how alike neighbours are: where film was pulled down to a higher rate, two
neighbours may be the same picture, four are not."""

Small = NDArray[np.uint8]


class SeamGauge:
    """Keeps the first pictures, the last ones, and counts of the changes between neighbours."""

    def __init__(self) -> None:
        self._first: list[Small] = []
        self._last: deque[Small] = deque(maxlen=END_PICTURES)
        self._counts = [0] * (LEVELS * STEPS_A_LEVEL)
        self._greatest = 0.0

    def see(self, second: float, picture: Small) -> None:
        """Take the next picture: uint8 (height, width, 3), RGB. It is kept; `second` is not needed."""
        if self._last:
            changed = change(self._last[-1], picture)
            self._counts[int(changed * STEPS_A_LEVEL)] += 1
            self._greatest = max(self._greatest, changed)
        if len(self._first) < END_PICTURES:
            self._first.append(picture)
        self._last.append(picture)

    def result(self, end_s: float, black: tuple[Span, ...]) -> Seam | None:
        """The seam of a clip that ends at `end_s` with these stretches of black; None if no picture came.

        A single picture follows itself without any change.
        """
        if not self._last:
            return None
        head, tail = [_tiny(one) for one in self._first], [_tiny(one) for one in self._last]
        return Seam(
            picture_change=change(self._last[-1], self._first[0]),
            usual_change=self._median(),
            greatest_change=self._greatest,
            black_s=_black_at_the_seam_s(end_s, black),
            likeness=likeness(tail[-1], head[0]),
            usual_likeness=min(
                (likeness(*pair) for end in (head, tail) for pair in pairwise(end)), default=1.0
            ),
            first=head[0].tobytes().hex(),
            last=tail[-1].tobytes().hex(),
        )

    def _median(self) -> float:
        """The lower of the two middle changes where their number is even; 0 where there were none."""
        passed, half = 0, sum(self._counts) / 2
        for step, count in enumerate(self._counts):
            passed += count
            if count and passed >= half:
                return (step + 0.5) / STEPS_A_LEVEL if step else 0.0
        return 0.0


def change(before: Small, after: Small) -> float:
    """Mean absolute difference of two pictures of one size, 0 to 255."""
    return cv2.norm(before, after, cv2.NORM_L1) / before.size


def _tiny(picture: Small) -> Small:
    """Each place the mean of its area; what is upright is pressed flat."""
    return np.asarray(cv2.resize(picture, TINY_PX, interpolation=cv2.INTER_AREA), np.uint8)


def picture_of(kept: str) -> Small:
    """What `Seam.first` or `Seam.last` shows, uint8 (18, 32, 3), RGB. Raises ValueError for anything else."""
    across, down = TINY_PX
    return np.frombuffer(bytes.fromhex(kept), np.uint8).reshape(down, across, 3)


def _black_at_the_seam_s(end_s: float, black: tuple[Span, ...]) -> float:
    """A clip that is black throughout counts once."""
    at_ends = [s for s in black if s.start_s <= AT_THE_END_S or s.end_s >= end_s - AT_THE_END_S]
    return sum((span.end_s - span.start_s for span in at_ends), 0.0)
