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
NOISE_LUMA = 3
"""Lines stand out by this much where an encoder is short of bits (measured)."""
MOVED_SHARE_MIN = 0.002
MOVED_SAMPLES_MIN = 128
TELLING_SHARE = 0.2
"""The combs must differ by this share of the weakest. Moving fine stripes are combs in every weave alike."""
WOVEN_FROM, WHOLE_UP_TO = 2 / 3, 0.4
"""Limits of the balance below, with room to both sides of what clips of known making gave (measured)."""
DETAIL_MAX = 0.5
"""Fine strokes in the pictures may outweigh combs by this share of the combs of the widest weave. Slow fine
graphics gave 1.0 and more where they were whole, woven clips of real footage 0.4 at most, but for a few that
were small and coarsely encoded (measured)."""
COMBS_MIN = 0.5
"""Levels that the combs of the widest weave must reach, as a mean over what moved (measured)."""
LINES_MIN = 5
"""A line with two on either side."""
LINE_AND_NEIGHBOURS = np.ones((3, 1), np.uint8)


class CombGauge:
    """Watches pairs of neighbouring frames, in full-height columns of luma.

    A frame's even and odd lines are its two fields. Each pair gives four weaves: the two frames themselves,
    and the fields of one with the fields of the other. Where something moves, a weave of different moments
    shows combs. Whole pictures: the frames show none and both cross weaves show the same. Woven pictures:
    one cross weave joins fields that are further apart in time than the other's. Detail that stands still
    combs in all four alike and drops out of the differences. (The idea of comparing weaves is that of
    ffmpeg's idet filter, libavfilter/vf_idet.c; the balance is our own.)

    Whole pictures of slow fine graphics can look woven in that comparison: lettering that rolls up by two
    lines is smoother in one cross weave than in the other. So all woven pairs together must show that what
    stands out are combs, in which every other line is alike, and not the strokes of a drawing.
    """

    def __init__(self) -> None:
        self._woven = self._whole = self._alike = 0
        self._moved_samples = 0
        self._own_combs = self._wide_combs = 0.0

    def see(self, columns: NDArray[np.uint8], next_columns: NDArray[np.uint8]) -> None:
        """Take the columns (height, 32) of a frame and of the very next frame, uint8 luma."""
        moved = _moved(columns, next_columns)
        samples = cv2.countNonZero(moved)
        if len(moved) < LINES_MIN or samples < max(MOVED_SAMPLES_MIN, MOVED_SHARE_MIN * moved.size):
            return
        balance = _balance(columns, next_columns, moved)
        if balance is None or WHOLE_UP_TO < balance < WOVEN_FROM:
            self._alike += 1
            return
        if balance <= WHOLE_UP_TO:
            self._whole += 1
            return
        self._woven += 1
        self._moved_samples += samples
        own, wide = _combs(columns, next_columns, moved)
        self._own_combs, self._wide_combs = self._own_combs + own, self._wide_combs + wide

    def result(self) -> Combed:
        """Pairs with enough movement to tell, and the share of them with a woven picture (0 if none told).

        Woven pairs that are not to be believed count as unclear.
        """
        woven = self._woven if self._shows_combs() else 0
        told = woven + self._whole
        return Combed(woven / told if told else 0.0, told, self._alike + self._woven - woven)

    def _shows_combs(self) -> bool:
        """Whether the woven pairs are to be believed."""
        strong = self._wide_combs > COMBS_MIN * self._moved_samples
        return strong and self._own_combs >= -DETAIL_MAX * self._wide_combs


def _moved(columns: NDArray[np.uint8], next_columns: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """255 where a sample, or the one above or below it, differs between the frames, else 0."""
    changed = (_apart(columns, next_columns) > MOVED_LUMA).view(np.uint8) * np.uint8(255)
    return np.asarray(cv2.dilate(changed, LINE_AND_NEIGHBOURS), np.uint8)


def _balance(
    columns: NDArray[np.uint8], next_columns: NDArray[np.uint8], moved: NDArray[np.uint8]
) -> float | None:
    """0 for whole pictures, 1 for woven ones; None where the four weaves look alike."""
    own = (_comb(columns, columns, moved) + _comb(next_columns, next_columns, moved)) / 2
    # A line of one frame between lines of the other: even and odd lines belong to opposite weaves.
    even, odd = _comb(columns, next_columns, moved)
    next_even, next_odd = _comb(next_columns, columns, moved)
    near, far = sorted((even + next_odd, odd + next_even))
    apart, clean = far - near, max(near - own.sum(), 0.0)
    if apart + clean <= TELLING_SHARE * near:
        return None
    return float(apart / (apart + clean))


def _comb(
    columns: NDArray[np.uint8], beside: NDArray[np.uint8], moved: NDArray[np.uint8]
) -> NDArray[np.float64]:
    """How far even lines and odd lines stand out from both lines next to them, taken of `beside`.

    Sums of levels above the noise, over what moved.
    """
    over, under = _standing_out(columns[1:-1], beside[:-2], beside[2:])
    height = (over | under) & moved[1:-1]
    height = np.asarray(cv2.threshold(height, NOISE_LUMA, 0, cv2.THRESH_TOZERO)[1], np.uint8)
    return np.array([cv2.sumElems(height[1::2])[0], cv2.sumElems(height[::2])[0]])


def _combs(
    columns: NDArray[np.uint8], next_columns: NDArray[np.uint8], moved: NDArray[np.uint8]
) -> tuple[float, float]:
    """What combs outweigh fine lines by: in a frame itself (the mean of both), and in the wider cross weave.

    Sums of levels over what moved; below 0 where fine lines outweigh combs.
    """
    own = sum(_alternation(frame, frame, moved).sum() for frame in (columns, next_columns)) / 2
    even, odd = _alternation(columns, next_columns, moved)
    next_even, next_odd = _alternation(next_columns, columns, moved)
    return float(own), float(max(even + next_odd, odd + next_even))


def _alternation(
    columns: NDArray[np.uint8], beside: NDArray[np.uint8], moved: NDArray[np.uint8]
) -> NDArray[np.float64]:
    """How far the lines two away side with a line that stands out from those next to it, taken of `beside`.

    In a comb they are like the line itself, and each sample counts with its height. Where the line is a
    stroke of fine drawing they are like its neighbours, and it counts against. Sums over even and odd lines.
    """
    line, above, below = columns[2:-2], beside[1:-3], beside[3:-1]
    over, under = _standing_out(line, above, below)
    two_away = columns[:-4].astype(np.int16) + columns[4:]
    sides = two_away - line - (above >> 1) - (below >> 1)
    height = (over | under).astype(np.int16)
    counted = np.clip(np.where(over > 0, sides, -sides), -height, height)
    counted[moved[2:-2] == 0] = 0
    return np.array([counted[::2].sum(dtype=np.float64), counted[1::2].sum(dtype=np.float64)])


def _standing_out(
    lines: NDArray[np.uint8], above: NDArray[np.uint8], below: NDArray[np.uint8]
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """By how much each sample is brighter, or darker, than those above and below it; one of the two is 0."""
    over = cv2.subtract(lines, cv2.max(above, below))
    under = cv2.subtract(cv2.min(above, below), lines)
    return np.asarray(over, np.uint8), np.asarray(under, np.uint8)


def _apart(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.asarray(cv2.absdiff(one, other), np.uint8)
