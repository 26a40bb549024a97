"""Which item a clip is, where in it, and in which seconds the two differ: by what both show along time.

It must not know loops or displays: it is given items and tells of items.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.differences import Pictures, differing, laid, moved_by
from mediacheck.identify.traces import HEIGHT, STEP_S, WIDTH, Trace

GRID = (32, 18)
KEPT = (1.0, 0.95, 0.9, 0.85, 0.8)
"""How much of the picture a crop may have left, in the middle."""
FLAT = 4.0
"""Contrast, in levels, below which a picture tells nothing."""
SAME = 0.9
"""Mean correlation of the pictures from which a clip is taken for a cut of an item."""
ALIKE = 0.8
"""Correlation of one picture from which the two count as the same (a fade that is a little off included)."""
GAP = 5
"""Steps from one moment that differs to the next within one stretch."""
DIFFERS_S = 0.75
"""So long at least, or it is a fade that came a little earlier."""
ASIDE = 0.01
"""What a moment a quarter of a second off counts less: pictures of two rates fall on other moments."""
OUTSIDE = 0.2
"""What a clip counts less that stands over an end of the item, where what differs would not be compared."""
DULL = 12.0
"""Contrast, in levels, below which noise alone spoils the correlation of one picture."""
LEAST = 6
"""Pictures with content that a clip must have: one and a half seconds."""

Grid = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Found:
    """Where a clip stands in an item. `score`: mean correlation, up to 1; `differing`: seconds of the item,
    each from and to, in which the clip shows something else."""

    item: str
    offset_s: float
    score: float
    differing: tuple[tuple[float, float], ...]
    compared_s: float


@dataclass(frozen=True, slots=True)
class _Cropped:
    """Pictures of which the middle was kept, and what is left of them on a small grid."""

    kept: float
    pictures: Pictures
    grid: Grid


class Cuts:
    """Finds clips in many items."""

    def __init__(self, items: Mapping[str, Trace]) -> None:
        self._traces = {name: trace for name, trace in items.items() if len(trace)}

    def find(self, clip: Trace) -> tuple[Found, ...]:
        """Every item that the clip is a cut of, the likeliest first; none where it shows too little."""
        if not tells(clip):
            return ()
        telling = _telling(clip.pictures)
        ours = [_cropped(clip.pictures, kept) for kept in KEPT]
        best = [_best(name, ours, trace.pictures, telling) for name, trace in self._traces.items()]
        return tuple(sorted((one for one in best if one is not None), key=lambda one: -one.score))


def _best(
    name: str, ours: Sequence[_Cropped], pictures: Pictures, telling: NDArray[np.int64]
) -> Found | None:
    """The clip may be a crop of the item, or the other way round."""
    theirs = [_cropped(pictures, kept) for kept in KEPT]
    pairs = [*((ours[0], item) for item in theirs), *((clip, theirs[0]) for clip in ours[1:])]
    scored = [(*_place(clip.grid, item.grid, telling), clip, item) for clip, item in pairs]
    score, offset, clip, item = max(scored, key=lambda one: one[0])
    return _told(name, clip, item, offset, telling) if score >= SAME * 0.85 else None


def _cropped(pictures: Pictures, kept: float) -> _Cropped:
    x, y = WIDTH * (1 - kept) / 2, HEIGHT * (1 - kept) / 2
    middle = np.array([[kept, 0, x], [0, kept, y]], np.float32)
    part = pictures if kept == 1 else np.stack([moved_by(one, middle) for one in pictures])
    return _Cropped(kept, part, _normal(_resized(part, GRID).astype(np.float32)))


def _resized(pictures: Pictures, size: tuple[int, int]) -> Pictures:
    small = [cv2.resize(one, size, interpolation=cv2.INTER_AREA) for one in pictures]
    return np.asarray(np.stack(small) if small else np.empty((0, size[1], size[0])), np.uint8)


def tells(trace: Trace) -> bool:
    """Whether something can be known by it; all black, or a part of a second, nothing can."""
    return len(_telling(trace.pictures)) >= min(LEAST, max(1, len(trace)))


def _telling(pictures: Pictures) -> NDArray[np.int64]:
    """Moments at which something is to be seen."""
    return np.flatnonzero(_contrast(pictures) >= FLAT)


def _contrast(pictures: NDArray[np.uint8]) -> NDArray[np.float32]:
    return np.asarray(pictures.reshape(len(pictures), -1).std(axis=1), np.float32)


def _normal(grids: NDArray[np.float32]) -> Grid:
    """Each with a mean of 0 and a length of 1: brightness and contrast do not count."""
    flat = grids.reshape(len(grids), -1)
    flat = flat - flat.mean(axis=1, keepdims=True)
    return np.asarray(flat / np.maximum(1e-3, np.linalg.norm(flat, axis=1, keepdims=True)), np.float32)


def _place(clip: Grid, item: Grid, telling: NDArray[np.int64]) -> tuple[float, int]:
    """The best mean correlation over all offsets, and the offset; a clip may stand over either end."""
    likeness = clip[telling] @ item.T
    near = np.maximum(likeness, np.maximum(_moved(likeness, 1), _moved(likeness, -1)) - ASIDE)
    count, length = near.shape[0], near.shape[1]
    first, last = -int(telling.max()), length - 1 - int(telling.min())
    offsets = np.arange(first, last + 1)
    places = offsets[:, None] + telling[None, :]
    inside = (places >= 0) & (places < length)
    values = np.where(inside, near[np.arange(count)[None, :], places.clip(0, length - 1)], 0.0)
    enough = inside.sum(axis=1) >= max(1, min(count, max(LEAST, count // 2)))
    scores = np.where(enough, values.sum(axis=1) / np.maximum(1, inside.sum(axis=1)), -1.0)
    at = int((scores - OUTSIDE * (1 - inside.mean(axis=1))).argmax())
    return float(scores[at]), int(offsets[at])


def _moved(likeness: NDArray[np.float32], by: int) -> NDArray[np.float32]:
    moved = np.roll(likeness, by, axis=1)
    moved[:, 0 if by > 0 else -1] = -1
    return moved


def _told(name: str, clip: _Cropped, item: _Cropped, offset: int, telling: NDArray[np.int64]) -> Found:
    pairs = [(int(p), int(p) + offset) for p in range(len(clip.grid)) if 0 <= p + offset < len(item.grid)]
    told = np.isin([ours for ours, _ in pairs], telling)
    moved, inside = laid(clip.pictures, item.pictures, [pairs[n] for n in np.flatnonzero(told)])
    grid = _normal(_resized(moved, GRID).astype(np.float32))
    like = np.array([_likeness(clip.grid, grid, ours, theirs) for ours, theirs in pairs], np.float32)
    bright = _contrast(item.pictures)[[theirs for _, theirs in pairs]] >= DULL
    cropped = (clip.kept, item.kept) != (1, 1)
    other = differing(clip.pictures, moved, pairs, inside, cropped)
    other |= told & bright & (like < ALIKE)
    same = told & ~other
    score = float(like[same].mean()) if same.any() else 0.0
    return Found(
        name,
        offset * STEP_S,
        score * float(same.sum() / max(1, told.sum())) ** 0.25,
        _runs(other, [theirs for _, theirs in pairs]),
        len(pairs) * STEP_S,
    )


def _likeness(clip: Grid, item: Grid, ours: int, theirs: int) -> float:
    near = item[max(0, theirs - 1) : theirs + 2]
    return float((near @ clip[ours]).max())


def _runs(other: NDArray[np.bool_], places: Sequence[int]) -> tuple[tuple[float, float], ...]:
    """Stretches of seconds, of those that last; a moment in between in which both look the same ends none."""
    runs: list[tuple[int, int]] = []
    for number in np.flatnonzero(other).tolist():
        if runs and number - runs[-1][1] <= GAP:
            runs[-1] = runs[-1][0], number
        else:
            runs.append((number, number))
    lasting = [(start, end) for start, end in runs if (end + 1 - start) * STEP_S >= DIFFERS_S]
    return tuple((places[start] * STEP_S, (places[end] + 1) * STEP_S) for start, end in lasting)
