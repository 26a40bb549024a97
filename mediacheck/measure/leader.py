"""Test material that was left on a clip: colour bars, a countdown or a slate at its head or tail.

It must not judge what a store may see, and prefers silence to a false alarm: all of this may be content.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.colour_bars import shows_colour_bars
from mediacheck.measure.countdown import CountdownWatch
from mediacheck.measure.model import Leader, LeaderKind

NEAR_AN_END_S = 15.0
"""How far from the head, the tail, or the leader before it a leader is looked for."""
STILL_MAX = 2.0
"""Mean absolute difference of RGB from the first picture of a stretch, 0 to 255: noise of the encoder."""
STILL_MIN_S = 0.8
BARS_MIN_S = 0.2
SLATE_MIN_S = 1.0
SLATE_MAX_S = 30.0
BLACK_AFTER_SLATE_MIN_S = 0.5
TOUCHING_S = 0.15
"""A cut: nothing else is seen between the two stretches for longer. A fade takes longer."""
BLACK_MAX = 40
"""Greatest R, G or B in a black picture."""
GROUND_SHARE_MIN = 0.5
"""Share of a card that has the tone of its ground, within one step of 16."""
CARD_CONTRAST_MIN = 40
EDGE = 24
EDGES_MIN = 6
"""Changes of luma along a line of pixels that has lettering."""
LETTERING_LINES_MIN = 3
"""A slate lists title, length, date and so on; a title card has a line or two."""
# All limits above: common practice, no published source.

StretchKind = Literal["colour bars", "black", "still", "countdown"]
TEST_KINDS: tuple[StretchKind, ...] = ("colour bars", "countdown")


@dataclass(slots=True)
class _Stretch:
    """Pictures in a row that show one thing. `card_lines` is None where it is no card with lettering."""

    kind: StretchKind
    start_s: float
    end_s: float
    card_lines: int | None = None

    @property
    def length_s(self) -> float:
        return self.end_s - self.start_s


class LeaderGauge:
    """Keeps one record for each stretch of bars or black and for each picture that stands still."""

    def __init__(self) -> None:
        self._stretches: list[_Stretch] = []
        self._open: _Stretch | None = None
        self._first: NDArray[np.uint8] | None = None
        self._countdown = CountdownWatch()

    def see(self, second: float, picture: NDArray[np.uint8]) -> None:
        """Take the next picture: uint8 (height, width, 3), RGB, averaged over areas. It is kept as it is."""
        self._countdown.see(second, _grey(picture))
        if self._open is not None and self._first is not None:
            difference = cv2.norm(self._first, picture, cv2.NORM_L1)
            if difference <= STILL_MAX * picture.size:
                return
        kind = _kind_of(picture)
        if self._open is None or kind == "still" or kind != self._open.kind:
            self._close(second)
            self._open = _Stretch(kind, second, second)
        self._first = picture

    def result(self, end_s: float) -> tuple[Leader, ...]:
        """Leaders in order, with the seconds to cut. `end_s` is when the last picture goes."""
        self._close(end_s)
        countdowns = [_Stretch("countdown", s.start_s, s.end_s) for s in self._countdown.result(end_s)]
        others = [s for s in self._stretches if not any(_inside(s, c) for c in countdowns)]
        stretches = sorted((*others, *countdowns), key=lambda stretch: stretch.start_s)
        found = [leader for place in range(len(stretches)) if (leader := _leader(stretches, place))]
        early, late = _near_start(found), _near_end(found, end_s)
        return tuple(leader for leader in found if leader in early or leader in late)

    def _close(self, second: float) -> None:
        """Put the open stretch on record. Pictures that moved leave none."""
        done, first, self._open = self._open, self._first, None
        if done is None or first is None:
            return
        done.end_s = second
        last = self._stretches[-1] if self._stretches else None
        if done.kind == "still":
            if done.length_s >= STILL_MIN_S:
                done.card_lines = _card_lines(first)
                self._stretches.append(done)
        elif last is not None and last.kind == done.kind and _touch(last, done):
            last.end_s = second
        else:
            self._stretches.append(done)


def _grey(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.asarray(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), np.uint8)


def _kind_of(picture: NDArray[np.uint8]) -> StretchKind:
    if shows_colour_bars(picture):
        return "colour bars"
    return "black" if picture.max() <= BLACK_MAX else "still"


def _touch(before: _Stretch, after: _Stretch) -> bool:
    return after.start_s - before.end_s <= TOUCHING_S


def _inside(stretch: _Stretch, countdown: _Stretch) -> bool:
    middle_s = (stretch.start_s + stretch.end_s) / 2
    return stretch.kind == "still" and countdown.start_s <= middle_s <= countdown.end_s


def _leader(stretches: Sequence[_Stretch], place: int) -> Leader | None:
    one = stretches[place]
    kind: LeaderKind
    if one.kind == "countdown":
        kind = "countdown"
    elif one.kind == "colour bars" and one.length_s >= BARS_MIN_S:
        kind = "colour bars"
    elif one.kind == "still" and _is_slate(stretches, place):
        kind = "slate"
    else:
        return None
    return Leader(kind, one.start_s, one.end_s)


def _is_slate(stretches: Sequence[_Stretch], place: int) -> bool:
    """A card beside bars or a countdown, or one of several lines from the very start to a cut to black."""
    one = stretches[place]
    if one.card_lines is None or not SLATE_MIN_S <= one.length_s <= SLATE_MAX_S:
        return False
    black_before_s, before = _joined(one, stretches[:place][::-1])
    black_after_s, after = _joined(one, stretches[place + 1 :])
    if before in TEST_KINDS or after in TEST_KINDS:
        return True
    from_the_start = before is None and one.start_s - black_before_s <= TOUCHING_S
    cut_to_black = black_after_s >= BLACK_AFTER_SLATE_MIN_S
    return from_the_start and cut_to_black and one.card_lines >= LETTERING_LINES_MIN


def _joined(one: _Stretch, others: Iterable[_Stretch]) -> tuple[float, StretchKind | None]:
    """Seconds of black that touch a stretch on one side, and what touches that black or the stretch."""
    black_s, edge = 0.0, one
    for other in others:
        first, second = sorted((edge, other), key=lambda stretch: stretch.start_s)
        if not _touch(first, second):
            break
        if other.kind != "black":
            return black_s, other.kind
        black_s, edge = black_s + other.length_s, other
    return black_s, None


def _card_lines(picture: NDArray[np.uint8]) -> int | None:
    """Lines of lettering on a card, upright or turned by a quarter; None for what is no card."""
    grey = _grey(picture)
    tones = np.bincount(grey.ravel() >> 4, minlength=16)
    ground = np.convolve(tones, np.ones(3, int), "same").max() / grey.size
    if ground < GROUND_SHARE_MIN or np.ptp(grey) < CARD_CONTRAST_MIN:
        return None
    along, down = _edges(grey), _edges(grey.T)
    # Lettering has most of its strokes one after the other along its lines, whichever way the card is turned.
    return _lettering_lines(along if along.max() >= down.max() else down)


def _edges(grey: NDArray[np.uint8]) -> NDArray[np.int64]:
    """How often luma changes along each line of pixels."""
    steep = np.abs(np.diff(grey.astype(np.int16), axis=1)) > EDGE
    return np.asarray(np.count_nonzero(steep, axis=1))


def _lettering_lines(edges: NDArray[np.int64]) -> int:
    """Runs of pixel lines with more edges than the ground has, which may carry a frame."""
    over = edges - np.bincount(edges).argmax()
    starts = np.flatnonzero((over > 1) & (np.concatenate(([0], over[:-1])) <= 1))
    runs = np.split(over, starts)[1:]
    return sum(bool(run.max() >= EDGES_MIN) for run in runs)


def _near_start(leaders: Sequence[Leader]) -> tuple[Leader, ...]:
    limit_s, near = NEAR_AN_END_S, list[Leader]()
    for leader in leaders:
        if leader.start_s < limit_s:
            near.append(leader)
            limit_s = max(limit_s, leader.end_s + NEAR_AN_END_S)
    return tuple(near)


def _near_end(leaders: Sequence[Leader], end_s: float) -> tuple[Leader, ...]:
    limit_s, near = end_s - NEAR_AN_END_S, list[Leader]()
    for leader in reversed(leaders):
        if leader.end_s > limit_s:
            near.append(leader)
            limit_s = min(limit_s, leader.start_s - NEAR_AN_END_S)
    return tuple(near)
