"""Loops that look alike, compared only where they differ: so those from one template are told apart.

It must not say how sure the winner is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.decide import Ranked
from mediacheck.identify.gallery import Gallery
from mediacheck.identify.index import SMALL
from mediacheck.identify.photos import Look
from mediacheck.identify.verify import Agreement, agreement, corners_in_photo, rectified

RIVALS = 4
"""Other loops that were seen, the best of them."""
ALIKE, ALIKE_MIN = 8, 0.35
"""So many pictures of other loops that are like the best one take part as well, from this correlation on."""
DIFFER = 0.75
"""Correlation of two pictures of the library below which a block tells them apart."""
WINS_BY = 0.04
COUNT_MAX = 20.0
LARGER_MAX = 3.0
BESIDE = 0.2
"""Screens that share less than this of the smaller one are two."""
ROUNDS = 4
"""So often at most the winner changes."""


@dataclass(frozen=True, slots=True)
class Contest:
    """The winner, and how clearly it won against the rival that came nearest.

    `lead`: mean correlation of the winner less that of the rival, in the blocks where the two differ;
    `where`: how many of these could be compared. A picture that agrees nowhere is a rival as well; one that
    is the same as the winner's is none.
    """

    best: Ranked
    lead: float
    where: float
    agreement: Agreement
    larger: float
    """How much larger the largest other screen in the photo is: 0 as large or smaller, up to LARGER_MAX."""


def contest(looked: Look, ranked: Sequence[Ranked], gallery: Gallery) -> Contest:
    """Hold one for the loops of one photo; `ranked` is not empty."""
    ring = _Ring(looked, ranked, gallery)
    best = ring.entries[0]
    for _ in range(ROUNDS):
        beaten_by = max(
            (other for other in ring.entries if other.loop != best.loop),
            key=lambda other: -ring.lead(best, other)[0],
            default=None,
        )
        if beaten_by is None or ring.lead(best, beaten_by)[0] > -WINS_BY:
            break
        best = beaten_by
    own = ring.of(best)
    leads = [ring.lead(best, other) for other in ring.entries if other.loop != best.loop]
    nothing = own.mean, float(own.compared)
    lead, where = min([nothing, *(one for one in leads if one[1] > 0)])
    return Contest(best, lead, min(COUNT_MAX, where), own, _larger(looked, best, gallery))


def _larger(looked: Look, best: Ranked, gallery: Gallery) -> float:
    """People ask about the largest screen in their photo; the one next to it may show a known loop."""
    quad = corners_in_photo(best.sight.matrix, gallery.keyframes[best.sight.keyframe].size_px)
    if quad is None:
        return 0.0
    own = max(1.0, float(cv2.contourArea(quad)))
    areas = [
        float(cv2.contourArea(other))
        for other in looked.screens
        if cv2.intersectConvexConvex(quad, other)[0] < BESIDE * min(own, float(cv2.contourArea(other)))
    ]
    return float(np.clip(np.log2(max(areas, default=1.0) / own), 0.0, LARGER_MAX))


class _Ring:
    """All that take part, each held against the same part of the photo."""

    def __init__(self, looked: Look, ranked: Sequence[Ranked], gallery: Gallery) -> None:
        self._gallery = gallery
        first = ranked[0]
        self._seen, self._inside = rectified(
            looked.photo, first.sight.matrix, gallery.keyframes[first.sight.keyframe].size_px, SMALL
        )
        self.entries = [first, *ranked[1 : RIVALS + 1], *_alike(first, gallery)]
        self._agreements: dict[int, Agreement] = {}
        self._leads: dict[tuple[int, int], tuple[float, float]] = {}

    def of(self, entry: Ranked) -> Agreement:
        """How an entry agrees with that part of the photo."""
        place = entry.sight.keyframe
        if place not in self._agreements:
            small = self._gallery.keyframes[place].small
            self._agreements[place] = agreement(self._seen, self._inside, small, self._gallery.fine(place))
        return self._agreements[place]

    def lead(self, one: Ranked, other: Ranked) -> tuple[float, float]:
        """Mean correlation of one less that of the other where they differ, and in how many blocks."""
        key = one.sight.keyframe, other.sight.keyframe
        if key not in self._leads:
            self._leads[key] = self._lead(one, other)
            self._leads[key[::-1]] = -self._leads[key][0], self._leads[key][1]
        return self._leads[key]

    def _lead(self, one: Ranked, other: Ranked) -> tuple[float, float]:
        ours, theirs = self.of(one).blocks, self.of(other).blocks
        telling = _differing(one.sight.keyframe, other.sight.keyframe, self._gallery)
        compared = telling & (np.isfinite(ours) | np.isfinite(theirs))
        if not compared.any():
            return 0.0, 0.0
        gain = np.nan_to_num(ours, nan=0.0) - np.nan_to_num(theirs, nan=0.0)
        return float(gain[compared].mean()), float(compared.sum())


def _differing(one: int, other: int, gallery: Gallery) -> NDArray[np.bool_]:
    """Blocks in which two pictures of the library are not the same."""
    small = gallery.keyframes[other].small
    inside = np.ones(small.shape[:2], bool)
    both = agreement(small, inside, gallery.keyframes[one].small, gallery.fine(one)).blocks
    back = agreement(gallery.keyframes[one].small, inside, small, gallery.fine(other)).blocks
    found = np.fmin(both, back)
    return np.isfinite(found) & (found < DIFFER)


def _alike(first: Ranked, gallery: Gallery) -> list[Ranked]:
    """Pictures of other loops that are like the best one, whether they were seen or not."""
    rows = gallery.rows @ gallery.rows[first.sight.keyframe]
    found: dict[int, int] = {}
    for place in np.argsort(-rows)[: 4 * ALIKE].tolist():
        loop = int(gallery.loop_of[place])
        if rows[place] < ALIKE_MIN or len(found) >= ALIKE:
            break
        if loop != first.loop:
            found.setdefault(loop, place)
    return [
        Ranked(loop, replace(first.sight, keyframe=place), first.score - 1) for loop, place in found.items()
    ]
