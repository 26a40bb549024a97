"""Where the picture stands still: stretches in which nothing on the screen changes.

It must not judge: a still slide is no damage, and how long one may last is the profile's affair.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.model import Span

SPAN_MIN_S = 0.5
"""Shorter stretches are not recorded: every clip has some."""
CELL_PX = 10
MEAN_MAX = 3.0
"""Mean absolute difference, in steps of 0 to 255, up to which two pictures may be the same. Keyframes of a
still slide differ by this much where the encoder is short of bits (H.264 at CRF 32: up to 2.7 measured)."""
LUMA_MAX = 2.0
"""Greatest difference of a cell's mean luma. Encoder noise averages out in a cell (up to 1.9 measured),
while movement and fades do not."""
CELL_MAX = 12.0
"""Greatest mean absolute difference in a cell, in any of R, G, B (noise: up to 11 measured). It catches what
moves inside a cell and leaves its mean alone. All three limits: own measurements, no published source."""


@dataclass(frozen=True)
class _Seen:
    """A picture, and when it came."""

    second: float
    picture: NDArray[np.uint8]

    @functools.cached_property
    def luma(self) -> NDArray[np.float64]:
        """Its cells' mean luma. Where much moves, nobody asks for it."""
        return _cell_means(_luma(self.picture))


class FrozenGauge:
    """Compares each picture with the one before it and with the first of the stretch.

    The first comparison finds a jump; the second one ends the stretch where small steps add up.
    """

    def __init__(self) -> None:
        self._first: _Seen | None = None
        self._last: _Seen | None = None
        self._spans: list[Span] = []

    def see(self, second: float, picture: NDArray[np.uint8]) -> None:
        """Take the next picture: uint8 (h, w, 3), RGB. It is kept as it is."""
        now = _Seen(second, picture)
        first, last, self._last = self._first, self._last, now
        if first is None or last is None:
            self._first = now
        elif _differ(last, now) or (last is not first and _differ(first, now)):
            self._keep(first.second, second)
            self._first = now

    def _keep(self, start_s: float, end_s: float) -> None:
        if end_s - start_s >= SPAN_MIN_S:
            self._spans.append(Span(start_s, end_s))

    def result(self, end_s: float) -> tuple[Span, ...]:
        """Stretches of half a second or more, in order. `end_s` is when the last picture goes.

        A stretch lasts from its first picture to the one that differs: a single picture that stays on the
        screen is a stretch too. Two stills in a row are two stretches that touch.
        """
        open_span = () if self._first is None else (Span(self._first.second, end_s),)
        spans = (Span(span.start_s, min(span.end_s, end_s)) for span in (*self._spans, *open_span))
        return tuple(span for span in spans if span.end_s - span.start_s >= SPAN_MIN_S)


def _luma(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY).astype(np.uint8, copy=False)


@functools.lru_cache(maxsize=8)
def _net(height: int, width: int) -> tuple[NDArray[np.intp], NDArray[np.int64]]:
    """Where cells of about `CELL_PX` each way have their corners in a table of sums, and their areas."""
    rows, columns = (
        np.linspace(0, side, max(1, round(side / CELL_PX)) + 1).round().astype(np.intp)
        for side in (height, width)
    )
    return rows[:, None] * (width + 1) + columns, np.outer(np.diff(rows), np.diff(columns))


def _cell_means(values: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Exact means over the cells, shape (rows, columns); of a picture, the greatest of R, G and B."""
    corners, areas = _net(*values.shape[:2])
    table = cv2.integral(values)
    at_corners = table.reshape(-1, *table.shape[2:]).take(corners, axis=0)
    lines = at_corners[1:] - at_corners[:-1]
    sums = lines[:, 1:] - lines[:, :-1]
    means: NDArray[np.float64] = (sums if sums.ndim == 2 else sums.max(axis=2)) / areas
    return means


def _differ(one: _Seen, other: _Seen) -> bool:
    """Whether a person could see a difference. The cheapest questions come first."""
    if cv2.norm(one.picture, other.picture, cv2.NORM_L1) > MEAN_MAX * one.picture.size:
        return True
    if cv2.norm(one.luma, other.luma, cv2.NORM_INF) > LUMA_MAX:
        return True
    if cv2.norm(one.picture, other.picture, cv2.NORM_INF) <= CELL_MAX:
        return False
    difference = cv2.absdiff(one.picture, other.picture).astype(np.uint8, copy=False)
    return float(_cell_means(difference).max()) > CELL_MAX
