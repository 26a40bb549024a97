"""Loops that look alike, compared only where they differ: so those from one template are told apart.

It must not say how sure the winner is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.decide import Ranked
from mediacheck.identify.gallery import Gallery
from mediacheck.identify.index import SMALL
from mediacheck.identify.photos import Look
from mediacheck.identify.verify import Agreement, Floats, agreement, rectified

RIVALS = 4
"""Other loops that were seen, the best of them."""
ALIKE, ALIKE_MIN = 8, 0.35
"""So many pictures of other loops that are like the best one take part as well, from this correlation on."""
DIFFER = 0.75
"""Correlation of two pictures of the library below which a block tells them apart."""
WINS_BY = 0.04
COUNT_MAX = 20.0
EVEN, STEADY = 0.1, 30.0
"""Spread that any lead has; more than this says no more."""
Lead = tuple[float, float, float]
ROUNDS = 4
"""So often at most the winner changes."""


@dataclass(frozen=True, slots=True)
class Contest:
    """The winner, and how clearly it won against the rival that came nearest.

    `lead`: mean correlation of the winner less that of the rival, in the blocks where the two differ; how
    many of these could be compared; and the first against how unevenly it is spread: a small lead everywhere
    says more than a large one here and there. A picture that agrees nowhere is a rival as well; one that is
    the same as the winner's is none.
    """

    best: Ranked
    lead: Lead
    agreement: Agreement


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
    nothing = _led(own.blocks[np.isfinite(own.blocks)])
    told = [nothing, *(one for one in leads if one[1] > 0)]
    lead, where, _ = min(told)
    return Contest(best, (lead, min(COUNT_MAX, where), min(one[2] for one in told)), own)


def _led(gain: Floats) -> Lead:
    """Mean, number, and the mean against its spread."""
    if not len(gain):
        return 0.0, 0.0, 0.0
    mean, count = float(gain.mean()), float(len(gain))
    return mean, count, float(np.clip(mean * np.sqrt(count) / (float(gain.std()) + EVEN), -STEADY, STEADY))


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
        self._leads: dict[tuple[int, int], Lead] = {}

    def of(self, entry: Ranked) -> Agreement:
        """How an entry agrees with that part of the photo."""
        place = entry.sight.keyframe
        if place not in self._agreements:
            small = self._gallery.keyframes[place].small
            self._agreements[place] = agreement(self._seen, self._inside, small, self._gallery.fine(place))
        return self._agreements[place]

    def lead(self, one: Ranked, other: Ranked) -> Lead:
        """Mean correlation of one less that of the other where they differ, in how many blocks, and how
        steadily."""
        key = one.sight.keyframe, other.sight.keyframe
        if key not in self._leads:
            self._leads[key] = self._lead(one, other)
            lead, where, steady = self._leads[key]
            self._leads[key[::-1]] = -lead, where, -steady
        return self._leads[key]

    def _lead(self, one: Ranked, other: Ranked) -> Lead:
        ours, theirs = self.of(one).blocks, self.of(other).blocks
        telling = _differing(one.sight.keyframe, other.sight.keyframe, self._gallery)
        compared = telling & (np.isfinite(ours) | np.isfinite(theirs))
        return _led((np.nan_to_num(ours, nan=0.0) - np.nan_to_num(theirs, nan=0.0))[compared])


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
