"""Points of a picture by which it is known again from another side: SIFT, with the root of its histograms.

It must not know what is compared with what.
Sources: D. G. Lowe, "Distinctive Image Features from Scale-Invariant Keypoints", IJCV 60 (2004), by OpenCV's
implementation; R. Arandjelovic, A. Zisserman, "Three things everyone should know to improve object
retrieval", CVPR 2012, section 3 (RootSIFT).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

LENGTH = 128
SCALE = 512.0
"""Root histograms have a length of 1; as bytes they keep what counts."""
CONTRAST = 0.02
"""Half of OpenCV's usual threshold: screens in photos are dull."""


@dataclass(frozen=True, slots=True)
class Points:
    """Of one picture: places in pixels, (n, 2) float32; descriptors, (n, 128) uint8; strength, (n,).
    Where they are known, the visual word of each point and its signature within the word, (n,)."""

    places: NDArray[np.float32]
    descriptors: NDArray[np.uint8]
    strength: NDArray[np.float32]
    words: NDArray[np.uint16] | None = None
    signatures: NDArray[np.uint64] | None = None

    def __len__(self) -> int:
        return len(self.places)


@cache
def _finder(most: int) -> cv2.SIFT:
    return cv2.SIFT.create(nfeatures=most, contrastThreshold=CONTRAST)


def points_of(grey: NDArray[np.uint8], most: int, spread: int | None = None) -> Points:
    """At most so many points of a grey picture. With `spread`: no more than these, and the strongest of each
    part of the picture first, so that one busy corner does not take them all."""
    found, descriptors = _finder(most).detectAndCompute(grey, None)
    if descriptors is None or not found:
        return Points(*_nothing())
    places = np.array([point.pt for point in found], np.float32)
    strength = np.array([point.response for point in found], np.float32)
    points = Points(places, _rooted(np.asarray(descriptors, np.float32)), strength)
    return points if spread is None else _spread(points, grey.shape[1], grey.shape[0], spread)


def _nothing() -> tuple[NDArray[np.float32], NDArray[np.uint8], NDArray[np.float32]]:
    return np.empty((0, 2), np.float32), np.empty((0, LENGTH), np.uint8), np.empty(0, np.float32)


def _rooted(descriptors: NDArray[np.float32]) -> NDArray[np.uint8]:
    sums = np.maximum(descriptors.sum(axis=1, keepdims=True), 1e-6)
    return np.asarray(np.minimum(255, np.rint(np.sqrt(descriptors / sums) * SCALE)), np.uint8)


def _spread(points: Points, width: int, height: int, most: int, across: int = 8, down: int = 5) -> Points:
    """Round after round the next strongest of each cell of a grid."""
    cell = (points.places[:, 0] * across / width).astype(int).clip(0, across - 1)
    cell += across * (points.places[:, 1] * down / height).astype(int).clip(0, down - 1)
    order = np.lexsort((-points.strength, cell))
    rank = np.empty(len(points), int)
    starts = np.r_[0, np.flatnonzero(np.diff(cell[order])) + 1]
    lengths = np.diff(np.r_[starts, len(points)])
    rank[order] = np.concatenate([np.arange(n) for n in lengths])
    chosen = np.lexsort((-points.strength, rank))[:most]
    return Points(points.places[chosen], points.descriptors[chosen], points.strength[chosen])


def nearest(
    ours: NDArray[np.uint8], others: NDArray[np.uint8], ratio: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of rows that are each other's nearest, and nearer by `ratio` than our second nearest."""
    if len(ours) < 1 or len(others) < 2:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    likeness = ours.astype(np.float32) @ others.astype(np.float32).T / (SCALE * SCALE)
    best = likeness.argmax(axis=1)
    rows = np.arange(len(ours))
    first = likeness[rows, best]
    mutual = likeness.argmax(axis=0)[best] == rows
    likeness[rows, best] = -1
    second = likeness.max(axis=1)
    apart = np.sqrt(np.maximum(0, 2 - 2 * first)) < ratio * np.sqrt(np.maximum(1e-9, 2 - 2 * second))
    good = np.flatnonzero(apart & mutual)
    return good, best[good]
