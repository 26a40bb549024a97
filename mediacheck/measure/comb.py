"""Whether pictures that call themselves whole are woven from two moments: interlaced material in disguise.

It must not judge how much of that a screen shows well; it counts pictures.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.model import Combed

MOVED_LUMA = 12
"""A sample that changed by more between two frames has moved: noise stays below (common practice)."""
MOVED_SHARE_MIN = 0.002
MOVED_SAMPLES_MIN = 128
TELLING_SHARE = 0.15
"""The combs must differ by this share of the weakest. Moving fine stripes are combs in every weave alike."""
WOVEN_FROM, WHOLE_UP_TO = 2 / 3, 0.4
"""Limits of the balance below, with room to both sides of what clips of known making gave (measured)."""
LINE_AND_NEIGHBOURS = np.ones((3, 1), np.uint8)


class CombGauge:
    """Watches pairs of neighbouring frames, in full-height columns of luma.

    A frame's even and odd lines are its two fields. Each pair gives four weaves: the two frames themselves,
    and the fields of one with the fields of the other. Where something moves, a weave of different moments
    shows combs. Whole pictures: the frames show none and both cross weaves show the same. Woven pictures:
    one cross weave joins fields that are further apart in time than the other's. Detail that stands still
    combs in all four alike and drops out of the differences. (The idea of comparing weaves is that of
    ffmpeg's idet filter, libavfilter/vf_idet.c; the balance is our own.)
    """

    def __init__(self) -> None:
        self._woven = 0
        self._told = 0

    def see(self, columns: NDArray[np.uint8], next_columns: NDArray[np.uint8]) -> None:
        """Take the columns (height, 32) of a frame and of the very next frame, uint8 luma."""
        moved = _moved(columns, next_columns)
        if cv2.countNonZero(moved) < max(MOVED_SAMPLES_MIN, MOVED_SHARE_MIN * moved.size):
            return
        balance = _balance(columns, next_columns, moved)
        if balance is None or WHOLE_UP_TO < balance < WOVEN_FROM:
            return
        self._told += 1
        self._woven += balance >= WOVEN_FROM

    def result(self) -> Combed:
        """Pairs with enough movement to tell, and the share of them with a woven picture (0 if none told)."""
        return Combed(self._woven / self._told if self._told else 0.0, self._told)


def _moved(columns: NDArray[np.uint8], next_columns: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """255 where a sample, or the one above or below it, differs between the frames, else 0."""
    changed = (_apart(columns, next_columns) > MOVED_LUMA).view(np.uint8) * np.uint8(255)
    return np.asarray(cv2.dilate(changed, LINE_AND_NEIGHBOURS), np.uint8)


def _balance(
    columns: NDArray[np.uint8], next_columns: NDArray[np.uint8], moved: NDArray[np.uint8]
) -> float | None:
    """0 for whole pictures, 1 for woven ones; None where the four weaves look alike."""
    around, next_around = _around(columns), _around(next_columns)
    own = (_comb(columns, around, moved) + _comb(next_columns, next_around, moved)) / 2
    # A line of one frame between lines of the other: even and odd lines belong to opposite weaves.
    even, odd = _comb(columns, next_around, moved)
    next_even, next_odd = _comb(next_columns, around, moved)
    near, far = sorted((even + next_odd, odd + next_even))
    apart, clean = far - near, max(near - own.sum(), 0.0)
    if apart + clean <= TELLING_SHARE * near:
        return None
    return float(apart / (apart + clean))


def _around(columns: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The mean of the lines above and below each line but the first and last."""
    half = columns >> 1
    return half[:-2] + half[2:]


def _comb(
    columns: NDArray[np.uint8], around: NDArray[np.uint8], moved: NDArray[np.uint8]
) -> NDArray[np.float64]:
    """How far even lines and odd lines stand out from the lines around them: sums over what moved."""
    against = _apart(columns[1:-1], around) & moved[1:-1]
    return np.array([cv2.sumElems(against[1::2])[0], cv2.sumElems(against[::2])[0]])


def _apart(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.asarray(cv2.absdiff(one, other), np.uint8)
