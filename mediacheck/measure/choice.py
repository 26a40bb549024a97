"""Which of many pictures of an item to show: those that tell most about it, none of them black or blurred.

It must not read files, and knows nothing of screens.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.black import is_black
from mediacheck.measure.model import Picture

TINY_PX = (32, 18)
"""Across and down, whatever the shape: enough to tell scenes apart."""
FLAT_CONTRAST = 2.0
"""Standard deviation of a tiny picture below which nothing is drawn in it: a fade to white."""
BLURRED_SHARE = 0.4
"""Of the sharpness of the pictures before and after, both: less than this is a smear (own measurements)."""
MIXED_MIN, MIXED_REST = 0.08, 0.3
"""A cross-fade has at least so much of each of its two scenes, and at most this share of their difference is
neither (own measurements)."""
LENGTH_LEVELS = 45.0
"""How many levels of difference the length of the item counts for: alike pictures are spread over it."""
MOVING_LEVELS, MOVING_SHARE, SCENE_LEVELS = 3.0, 1.5, 20.0
"""A picture is in the midst of a move if it differs from both neighbours by more than the first, and by more
than so many times what is usual in this item (own measurements on titles that slide); but if it differs from
both by the last, it is a scene of its own."""
FAR = 255.0
ROUNDS_MAX = 8
KEPT_MAX = 48
"""Pictures that are held while more come in: 10 MB of them."""

Levels = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """A picture and what is told from it."""

    picture: Picture
    tiny: Levels
    sharpness: float
    """Variance of the Laplacian of the luma: J. L. Pech-Pacheco et al., "Diatom autofocusing in brightfield
    microscopy: a comparative study", ICPR 2000."""
    is_empty: bool
    """Black, or all of one colour."""


def look_at(picture: Picture) -> Look:
    """Measure one picture."""
    rgb = np.frombuffer(picture.rgb, np.uint8).reshape(picture.height, picture.width, 3)
    tiny = cv2.resize(rgb, TINY_PX, interpolation=cv2.INTER_AREA).astype(np.float32)
    grey = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY)
    sharpness = float(cv2.Laplacian(grey, cv2.CV_32F).var())
    return Look(picture, tiny, sharpness, bool(tiny.std() < FLAT_CONTRAST) or is_black(rgb))


def apart(one: Look, other: Look) -> float:
    """Mean difference of two pictures in levels, 0 to 255."""
    return float(np.abs(one.tiny - other.tiny).mean())


class Gathering:
    """Takes pictures as they come, in the order of time, and holds on to a few that differ."""

    def __init__(self) -> None:
        self._looks = list[Look]()
        self._steps = list[float]()
        """How far each is from the one before it."""

    def add(self, picture: Picture) -> None:
        """The next picture. Where too many are held, the less sharp of the two most alike neighbours goes."""
        look = look_at(picture)
        self._steps.append(apart(self._looks[-1], look) if self._looks else 0.0)
        self._looks.append(look)
        if len(self._looks) > KEPT_MAX:
            later = min(range(1, len(self._looks)), key=self._steps.__getitem__)
            pair = (later - 1, later)
            self._drop(min(pair, key=lambda place: self._looks[place].sharpness))

    def chosen(self, count: int) -> tuple[Picture, ...]:
        """See `chosen`."""
        return tuple(look.picture for look in choose(self._looks, count))

    def _drop(self, place: int) -> None:
        del self._looks[place], self._steps[place]
        if place < len(self._looks):
            self._steps[place] = apart(self._looks[place - 1], self._looks[place]) if place else 0.0


def chosen(pictures: Iterable[Picture], count: int) -> tuple[Picture, ...]:
    """At most so many of them, in the order of time, which together are like the rest of them.

    Fewer where the rest is black or blurred; where all are, one is better than none.
    """
    gathering = Gathering()
    for picture in pictures:
        gathering.add(picture)
    return gathering.chosen(count)


def choose(looks: Sequence[Look], count: int, preferred: Collection[float] = ()) -> list[Look]:
    """As `chosen`. Pictures at the seconds `preferred` come before others."""
    good = _good(looks, count)
    if count < 1 or not good:
        return list(looks[:count][:1])
    unlike, distances = _distances(good)
    liked = [place for place, look in enumerate(good) if look.picture.second in preferred]
    picked = _spread([], liked, count, unlike, distances)
    picked = _spread(picked, range(len(good)), count, unlike, distances)
    return [good[place] for place in sorted(picked)]


def _good(looks: Sequence[Look], count: int) -> list[Look]:
    """Without black and blurred ones; and, where enough are left, without those in the midst of a move."""
    drawn = [look for look in looks if not look.is_empty]
    neighbours = zip([None, *drawn], drawn, [*drawn[1:], None], strict=False)
    clear = [look for before, look, after in neighbours if not _is_blurred(before, look, after)]
    if not clear:
        return []
    steps = [apart(before, after) for before, after in pairwise(clear)]
    unrest = [min(around) for around in zip([FAR, *steps], [*steps, FAR], strict=True)]
    limit = max(MOVING_LEVELS, MOVING_SHARE * median(unrest))
    pairs = zip(clear, unrest, strict=True)
    settled = [look for look, moved in pairs if moved <= limit or moved >= SCENE_LEVELS]
    return settled if len(settled) >= count else clear


def _is_blurred(before: Look | None, look: Look, after: Look | None) -> bool:
    """Whether it is less sharp than both neighbours, or one of them shows through the other."""
    if before is None or after is None:
        return False
    return look.sharpness < BLURRED_SHARE * min(before.sharpness, after.sharpness) or _is_fade(
        before.tiny, look.tiny, after.tiny
    )


def _is_fade(before: Levels, tiny: Levels, after: Levels) -> bool:
    """Whether the picture is a mixture of the two around it, which are of different scenes."""
    change = after - before
    size = float(np.abs(change).mean())
    if size < SCENE_LEVELS:
        return False
    share = float(((tiny - before) * change).sum() / (change * change).sum())
    rest = float(np.abs(tiny - before - share * change).mean())
    return MIXED_MIN < share < 1 - MIXED_MIN and rest < MIXED_REST * size


def _distances(looks: Sequence[Look]) -> tuple[Levels, Levels]:
    """Of each from each, in levels: how unlike they are; and the same with how far they are apart in time."""
    tiny = np.stack([look.tiny for look in looks])
    seconds = np.array([look.picture.second for look in looks], np.float32)
    unlike = np.stack([np.abs(tiny - one).mean(axis=(1, 2, 3)) for one in tiny])
    length_s = max(float(seconds[-1] - seconds[0]), 1e-6)
    in_time = LENGTH_LEVELS * np.abs(seconds[:, None] - seconds) / length_s
    return np.asarray(unlike, np.float32), np.asarray(unlike + in_time, np.float32)


def _spread(kept: list[int], pool: Iterable[int], count: int, unlike: Levels, distances: Levels) -> list[int]:
    """Add from the pool, to what is kept, pictures that leave as little as can be unlike all picked.

    k-medoids (L. Kaufman, P. J. Rousseeuw: "Finding Groups in Data", 1990, chapter 2): one after the other
    first, those of scenes that are not shown yet before others; then each moves to the middle of those that
    it stands for. So titles are shown when they stand still, where the pictures farthest from each other show
    them in the midst of a move.
    """
    left = [place for place in pool if place not in kept]
    picked = list(kept)
    while left and len(picked) < count:
        nearest = distances[picked].min(axis=0) if picked else np.full(len(distances), FAR, np.float32)
        hidden = unlike[picked].min(axis=0) >= SCENE_LEVELS if picked else np.ones(len(unlike), bool)
        new = [place for place in left if hidden[place]]
        counted = hidden if new else ~hidden
        best = min(new or left, key=lambda i: float(np.minimum(nearest, distances[i])[counted].sum()))
        picked.append(best)
        left.remove(best)
    for _ in range(ROUNDS_MAX if picked else 0):
        moved = kept + _middles(picked, len(kept), {*left, *picked}, distances)
        if moved == picked:
            break
        picked = moved
    return picked


def _middles(picked: list[int], fixed: int, pool: set[int], distances: Levels) -> list[int]:
    """For each but the fixed ones, which of its own in the pool is least far from all of its own."""
    owners = distances[picked].argmin(axis=0)
    middles = list[int]()
    for number in range(fixed, len(picked)):
        own = np.flatnonzero(owners == number)
        candidates = [int(place) for place in own if int(place) in pool] or [picked[number]]
        middles.append(min(candidates, key=lambda place: float(distances[place][own].sum())))
    return middles
