"""Which item a clip is, where in it, and in which seconds the two differ: by what both show along time.

It must not know loops or displays: it is given items and tells of items.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

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
BLOCK = (4, 3)
DIFFERS = 16.0
"""Mean difference in one block that is no encoder's, in levels of pictures brought to the same contrast."""
USUAL_PERCENT = 20
"""What the encoder itself makes different is seen in the moments that differ least."""
DIFFERS_S = 0.75
"""So long at least, or it is a fade that came a little earlier."""
ASIDE = 0.01
"""What a moment a quarter of a second off counts less: pictures of two rates fall on other moments."""
USUAL_CONTRAST = 50.0
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


class Cuts:
    """Finds clips in many items."""

    def __init__(self, items: Mapping[str, Trace]) -> None:
        self._names = [name for name, trace in items.items() if len(trace)]
        self._traces = {name: items[name] for name in self._names}
        self._scaled: dict[float, list[tuple[str, Grid]]] = {}

    def find(self, clip: Trace) -> tuple[Found, ...]:
        """Every item that the clip is a cut of, the likeliest first; none where it shows too little."""
        ours = [(kept, _normal(_grids(clip.pictures, kept))) for kept in KEPT]
        telling = np.flatnonzero(_contrast(clip.pictures) >= FLAT)
        if len(telling) < min(LEAST, max(1, len(clip))):
            return ()
        best = [self._best(name, ours, telling) for name in self._names]
        good = sorted((one for one in best if one is not None), key=lambda one: -one.score)
        return tuple(good)

    def _best(
        self, name: str, ours: Sequence[tuple[float, Grid]], telling: NDArray[np.int64]
    ) -> Found | None:
        """The clip may be a crop of the item, or the other way round."""
        whole = ours[0][1]
        pairs = [(whole, grid) for _, grid in self._of(name)] + [
            (grid, self._of(name)[0][1]) for _, grid in ours[1:]
        ]
        scored = [(*_place(clip, item, telling), clip, item) for clip, item in pairs]
        score, offset, clip, item = max(scored, key=lambda one: one[0])
        if score < SAME * 0.85:
            return None
        return _told(name, clip, item, offset, telling, _contrast(self._traces[name].pictures))

    def _of(self, name: str) -> list[tuple[float, Grid]]:
        pictures = self._traces[name].pictures
        return [(kept, _normal(_grids(pictures, kept))) for kept in KEPT]


def _grids(pictures: NDArray[np.uint8], kept: float) -> NDArray[np.float32]:
    """The middle part of each picture, on a small grid."""
    x, y = round(WIDTH * (1 - kept) / 2), round(HEIGHT * (1 - kept) / 2)
    part = pictures[:, y : HEIGHT - y, x : WIDTH - x]
    small = [cv2.resize(one, GRID, interpolation=cv2.INTER_AREA) for one in part]
    return np.stack(small).astype(np.float32) if small else np.empty((0, GRID[1], GRID[0]), np.float32)


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
    at = int(scores.argmax())
    return float(scores[at]), int(offsets[at])


def _moved(likeness: NDArray[np.float32], by: int) -> NDArray[np.float32]:
    moved = np.roll(likeness, by, axis=1)
    moved[:, 0 if by > 0 else -1] = -1
    return moved


def _told(
    name: str,
    clip: Grid,
    item: Grid,
    offset: int,
    telling: NDArray[np.int64],
    contrast: NDArray[np.float32],
) -> Found:
    pairs = [(int(p), int(p) + offset) for p in range(len(clip)) if 0 <= p + offset < len(item)]
    told = set(telling.tolist())
    like = np.array([_likeness(clip, item, ours, theirs) for ours, theirs in pairs], np.float32)
    blocks = np.array(
        [_block(clip, item, ours, theirs) * _levels(contrast[theirs]) for ours, theirs in pairs], np.float32
    )
    usual = float(np.percentile(blocks, USUAL_PERCENT)) if len(blocks) else 0.0
    telling_pairs = np.array([ours in told for ours, _ in pairs])
    bright = np.array([contrast[theirs] >= DULL for _, theirs in pairs])
    other = (
        ((blocks > max(DIFFERS, 2.5 * usual)) | (telling_pairs & bright & (like < ALIKE)))
        if len(pairs)
        else np.array([])
    )
    same = telling_pairs & ~other.astype(bool)
    score = float(like[same].mean()) if same.any() else 0.0
    return Found(
        name,
        offset * STEP_S,
        score * float(same.sum() / max(1, telling_pairs.sum())) ** 0.25,
        _runs(other.astype(bool), [theirs for _, theirs in pairs]),
        len(pairs) * STEP_S,
    )


def _likeness(clip: Grid, item: Grid, ours: int, theirs: int) -> float:
    near = item[max(0, theirs - 1) : theirs + 2]
    return float((near @ clip[ours]).max())


def _block(clip: Grid, item: Grid, ours: int, theirs: int) -> float:
    """The greatest difference of one block, as a share of the contrast; the nearest moment counts."""
    found = []
    for near in range(max(0, theirs - 1), min(len(item), theirs + 2)):
        off = np.abs(clip[ours] - item[near]).reshape(GRID[1], GRID[0])
        found.append(float(cv2.blur(off, BLOCK).max()))
    return min(found) * float(np.sqrt(GRID[0] * GRID[1]))


def _levels(contrast: float) -> float:
    """What a difference is multiplied by: a dull picture was made stronger, and its noise with it."""
    return min(USUAL_CONTRAST, float(contrast))


def _runs(other: NDArray[np.bool_], places: Sequence[int]) -> tuple[tuple[float, float], ...]:
    """Stretches of seconds, of those that last."""
    runs: list[tuple[float, float]] = []
    start: int | None = None
    for number, differs in enumerate([*other.tolist(), False]):
        if differs and start is None:
            start = number
        elif not differs and start is not None:
            if (number - start) * STEP_S >= DIFFERS_S:
                runs.append((places[start] * STEP_S, (places[number - 1] + 1) * STEP_S))
            start = None
    return tuple(runs)
