"""What a clip shows along time, small and grey, by which a cut of it is found again however it is encoded.

It must not compare.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

STEP_S = 0.25
WIDTH, HEIGHT = 64, 36
BAR_LEVEL = 28
"""Darker than this in every picture: a bar (black is 16 or 0, and encoders blur edges)."""
SETTLED = 2400
"""After so many pictures, ten minutes, it is known where the bars are: no more large ones are kept."""
BAR_SHARE_MAX = 0.4
"""Bars that take more than this of one side are a dark picture."""


@dataclass(frozen=True, slots=True)
class Trace:
    """Pictures at each quarter of a second, luma, (n, 36, 64) uint8, without the bars around all of them."""

    pictures: NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.pictures)


class Tracer:
    """Is shown all pictures of a clip at rising seconds."""

    def __init__(self) -> None:
        self._pictures: list[NDArray[np.uint8]] = []
        self._brightest: NDArray[np.uint8] | None = None
        self._within: tuple[slice, slice] | None = None
        """Rows and columns between the bars, once they are settled."""

    def see(self, second: float, picture: NDArray[np.uint8]) -> None:
        """Take the next picture, RGB."""
        grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
        middle = np.asarray(cv2.resize(grey, (4 * WIDTH, 4 * HEIGHT), interpolation=cv2.INTER_AREA), np.uint8)
        seen = self._brightest
        self._brightest = np.asarray(middle if seen is None else np.maximum(seen, middle), np.uint8)
        place = round(second / STEP_S)
        kept = middle if self._within is None else _cut(middle, self._within)
        before = self._pictures[-1] if self._pictures else kept
        while len(self._pictures) < place:
            self._pictures.append(before)
        if len(self._pictures) == place:
            self._pictures.append(kept)
        if self._within is None and len(self._pictures) >= SETTLED:
            self._settle()

    def result(self) -> Trace:
        """All pictures, cut down to what lies within bars."""
        if not self._pictures:
            return Trace(np.empty((0, HEIGHT, WIDTH), np.uint8))
        if self._within is None:
            self._settle()
        return Trace(np.stack(self._pictures))

    def _settle(self) -> None:
        assert self._brightest is not None, "there are pictures"
        self._within = _lit(self._brightest.max(axis=1)), _lit(self._brightest.max(axis=0))
        self._pictures = [_cut(picture, self._within) for picture in self._pictures]


def _cut(picture: NDArray[np.uint8], within: tuple[slice, slice]) -> NDArray[np.uint8]:
    return np.asarray(cv2.resize(picture[within], (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA), np.uint8)


def _lit(brightest: NDArray[np.uint8]) -> slice:
    """From where to where something is ever to be seen; all of it where bars would leave too little."""
    lit = np.flatnonzero(brightest > BAR_LEVEL)
    if not len(lit) or len(lit) < (1 - 2 * BAR_SHARE_MAX) * len(brightest):
        return slice(0, len(brightest))
    return slice(int(lit[0]), int(lit[-1]) + 1)
