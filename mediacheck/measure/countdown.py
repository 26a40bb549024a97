"""Film-style countdowns: one big digit after another in the middle of a ground that stands still.

It must not read the digits, and it says nothing of where in the clip a countdown is a mistake.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.model import Span

DIGITS_MIN, DIGITS_MAX = 4, 12
"""Shorter rows are more often part of the content ("3, 2, 1"), longer ones are no digits but slides."""
STEP_S, STEP_TOLERANCE_S = 1.0, 0.07
EARLIER_TOLERANCE_S = 0.05
BLEND_S = 0.1
"""So long may one digit melt into the next where frames were blended."""
KEPT_PICTURES_MAX = 150
GROUND_CHANGE_MAX = 2.0
"""Mean absolute difference of luma outside the middle, in one second: noise of the encoder."""
DIGIT_CHANGE = 32
MIDDLE_DOWN, MIDDLE_ACROSS = (0.05, 0.95), (0.2, 0.8)
CHANGE_HEIGHT_MIN, DIGIT_HEIGHT_MIN = 0.1, 0.2
"""Shares of the picture's height: of what differs between two digits (6 and 5 share a lot), of a digit."""
DIGIT_SHAPE_MAX = 1.15
"""Width over height. A word is wider."""
OFF_CENTRE_MAX = 0.12
SAME_CHANGE_MIN = 0.85
"""Overlap over union, from one picture to the next, of where the digit differs from the one before."""
CONTRAST_MIN = 40
TONE_BINS, TONES = 16, 4
GROUND_SHARE_MIN, DIGIT_SHARE_MIN = 0.8, 0.72
"""Share of the pixels in the four commonest of 16 steps of luma, in the picture and around the digit. A
ground, a hand that darkens half of it and a digit take no more; photos of products do."""
# All limits above: common practice and own measurements, no published source.

Grey = NDArray[np.uint8]


@dataclass(slots=True)
class _Run:
    """Digits so far, from the second one on. `change` is where the digit differs from the one before."""

    start_s: float
    step_s: float
    change: Grey
    anywhere: Grey
    """The same of all digits together."""
    steps: int = 0

    def is_countdown(self, height: int) -> bool:
        """Whether these were so many digits, and so big in pictures of this height."""
        _, _, wide, high = cv2.boundingRect(self.anywhere)
        big = high >= DIGIT_HEIGHT_MIN * height and wide <= DIGIT_SHAPE_MAX * high
        return big and DIGITS_MIN <= self.steps + 2 <= DIGITS_MAX


class CountdownWatch:
    """Compares each picture with the one a second before.

    On a countdown the two differ in the digit alone, even while a hand sweeps round once a second, and that
    difference stays the same for one second and then jumps. A product that turns in the middle of a flat
    ground never keeps a difference for a whole second.
    """

    def __init__(self) -> None:
        self._past: deque[tuple[float, Grey]] = deque(maxlen=KEPT_PICTURES_MAX)
        self._run: _Run | None = None
        self._found: list[Span] = []

    def see(self, second: float, grey: Grey) -> None:
        """Take the next picture as luma (height, width), uint8. It is kept for a second: hand over a copy."""
        self._past.append((second, grey))
        earlier = self._a_second_before(second)
        change = None if earlier is None else _digit_change(earlier, grey)
        if self._run is not None and (change is None or not _goes_on(self._run, second, change)):
            self._end_run(second)
        if self._run is None and change is not None:
            self._run = _Run(second, second, change, change)

    def result(self, end_s: float) -> tuple[Span, ...]:
        """Countdowns of four digits or more, from the first digit until the last one goes."""
        self._end_run(end_s)
        return tuple(self._found)

    def _a_second_before(self, second: float) -> Grey | None:
        wanted, past = second - STEP_S, self._past
        while len(past) > 1 and abs(past[1][0] - wanted) <= abs(past[0][0] - wanted):
            past.popleft()
        return past[0][1] if abs(past[0][0] - wanted) <= EARLIER_TOLERANCE_S else None

    def _end_run(self, second: float) -> None:
        run, self._run = self._run, None
        if run is not None and run.is_countdown(len(self._past[-1][1])):
            self._found.append(Span(max(0.0, run.start_s - STEP_S), second))


def _goes_on(run: _Run, second: float, change: Grey) -> bool:
    """Whether this picture continues the run; counts a step where it shows the next digit."""
    since_s = second - run.step_s
    union = cv2.countNonZero(run.change | change)
    same = cv2.countNonZero(run.change & change) >= SAME_CHANGE_MIN * union
    run.change, run.anywhere = change, run.anywhere | change
    if same or since_s <= BLEND_S:
        return since_s <= STEP_S + STEP_TOLERANCE_S
    run.step_s, run.steps = second, run.steps + 1
    return abs(since_s - STEP_S) <= STEP_TOLERANCE_S


def _digit_change(earlier: Grey, grey: Grey) -> Grey | None:
    """255 where the middle of the picture changed within a second; None unless it looks like two digits."""
    height, width = grey.shape
    top, bottom = (round(height * share) for share in MIDDLE_DOWN)
    left, right = (round(width * share) for share in MIDDLE_ACROSS)
    change = np.asarray(cv2.absdiff(earlier, grey), np.uint8)
    middle = change[top:bottom, left:right]
    around = cv2.sumElems(change)[0] - cv2.sumElems(middle)[0]
    if around > GROUND_CHANGE_MAX * (change.size - middle.size):
        return None
    digit = np.asarray(cv2.threshold(middle, DIGIT_CHANGE, 255, cv2.THRESH_BINARY)[1], np.uint8)
    x, y, wide, high = cv2.boundingRect(digit)
    off_down, off_across = abs(2 * y + high - digit.shape[0]) / 2, abs(2 * x + wide - digit.shape[1]) / 2
    centred = off_down <= OFF_CENTRE_MAX * height and off_across <= OFF_CENTRE_MAX * width
    if high < CHANGE_HEIGHT_MIN * height or not centred:
        return None
    place = slice(top + y, top + y + high), slice(left + x, left + x + wide)
    digits = _is_digit(grey[place]) and _is_digit(earlier[place])
    return digit if digits and _tones_share(grey) >= GROUND_SHARE_MIN else None


def _is_digit(grey: Grey) -> bool:
    return bool(np.ptp(grey) >= CONTRAST_MIN) and _tones_share(grey) >= DIGIT_SHARE_MIN


def _tones_share(grey: Grey) -> float:
    counts = cv2.calcHist([grey], [0], None, [TONE_BINS], [0, 256])
    return float(np.sort(counts, axis=None)[-TONES:].sum()) / grey.size
