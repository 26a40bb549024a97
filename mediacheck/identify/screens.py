"""Where screens may be in a photo: bright four-sided shapes, the largest first.

It must not know what is on them.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Quad = NDArray[np.float32]
"""Four corners, (4, 2), clockwise from the upper left one."""
SEARCH_WIDTH_PX = 400
SHARE_MIN = 0.02
"""Of the photo: smaller screens show nothing that could be known."""
LEVELS = (0.35, 0.5, 0.65, 0.8)
"""Shares of the way from dark to bright at which shapes are looked for."""
ALIKE = 0.85
"""Overlap from which two shapes are the same."""


def screens_in(grey: NDArray[np.uint8], most: int = 4) -> tuple[Quad, ...]:
    """Candidates, the largest first."""
    scale = SEARCH_WIDTH_PX / max(grey.shape)
    small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    smooth = np.asarray(cv2.GaussianBlur(small, (0, 0), 1.5), np.uint8)
    dark, bright = np.percentile(smooth, (5, 99))
    found: list[Quad] = []
    for level in LEVELS:
        mask = (smooth > dark + level * (bright - dark)).astype(np.uint8)
        found += _shapes(mask)
    edges = cv2.Canny(smooth, 20, 60)
    joined = cv2.morphologyEx(edges, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    found += _shapes(np.asarray(joined, np.uint8))
    found.sort(key=lambda quad: -_area(quad))
    chosen: list[Quad] = []
    for quad in found:
        if len(chosen) < most and not any(_overlap(quad, other) > ALIKE for other in chosen):
            chosen.append(quad)
    return tuple(np.asarray(quad / scale, np.float32) for quad in chosen)


def _shapes(mask: NDArray[np.uint8]) -> list[Quad]:
    closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8))
    contours, _ = cv2.findContours(closed, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    least = SHARE_MIN * mask.shape[0] * mask.shape[1]
    quads = []
    for contour in contours:
        if cv2.contourArea(contour) < least:
            continue
        quad = _quad(np.asarray(cv2.convexHull(contour), np.int32))
        if quad is not None and 0.8 * _area(quad) <= cv2.contourArea(cv2.convexHull(contour)):
            quads.append(quad)
    return quads


def _quad(hull: NDArray[np.int32]) -> Quad | None:
    around = cv2.arcLength(hull, True)
    for share in (0.02, 0.03, 0.05, 0.08):
        corners = cv2.approxPolyDP(hull, share * around, True)
        if len(corners) == 4:
            return _ordered(corners.reshape(4, 2).astype(np.float32))
        if len(corners) < 4:
            return None
    return None


def _ordered(corners: Quad) -> Quad:
    """Clockwise from the upper left one."""
    middle = corners.mean(axis=0)
    angles = np.arctan2(corners[:, 1] - middle[1], corners[:, 0] - middle[0])
    ordered = corners[np.argsort(angles)]
    first = int(ordered.sum(axis=1).argmin())
    return np.roll(ordered, -first, axis=0)


def _area(quad: Quad) -> float:
    return float(abs(cv2.contourArea(quad)))


def _overlap(one: Quad, other: Quad) -> float:
    shared, _ = cv2.intersectConvexConvex(one, other)
    return float(shared) / max(1.0, _area(one) + _area(other) - float(shared))
