"""Whether a part of a photo is a picture of the library: by geometry first, then block by block.

It must not choose among candidates.
Source of the estimator: D. Barath, J. Noskova, M. Ivashechkin, J. Matas, "MAGSAC++, a fast, reliable and
accurate robust estimator", CVPR 2020, by OpenCV's implementation.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.features import Points, nearest
from mediacheck.identify.index import SMALL, Keyframe

RATIO = 0.9
PAIRS_MIN = 6
INLIERS_MIN = 6
OFF_PX = 4.0
"""In a picture of 640 x 360."""
AREA_MIN = 0.008
"""Share of the photo that a screen must take."""
BLOCK_PX = 12
TEXTURED = 4.0
"""Contrast of a block, in levels, from which it can be compared."""
SMOOTH_PX = 8.0
STRANGE_PATCH = 3, 1
"""Blocks across and down: as large as a price or a short line."""
GOOD = 0.5
"""Correlation of a block from which it agrees."""
CELLS = (8, 5)

Matrix = NDArray[np.float64]
Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Fit:
    """How a picture of the library lies in a photo. `matrix`: from pixels of the photo to its own, 3 x 3."""

    matrix: Matrix
    inliers: int
    pairs: int
    spread: float
    """Share of those parts of the picture with points that agree somewhere."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """How far the pictures agree, block by block. `blocks`: correlations, NaN where there is nothing."""

    blocks: Floats
    colour: float
    """Correlation of the colours; 0 where there are none."""
    contrast: Floats
    """Of each block of the photo, as a share of the library's."""

    @property
    def compared(self) -> int:
        """Blocks with something to compare."""
        return int(np.isfinite(self.blocks).sum())

    @property
    def mean(self) -> float:
        """Of all blocks."""
        return float(np.nanmean(self.blocks)) if self.compared else 0.0

    @property
    def good(self) -> float:
        """Share of the blocks that agree."""
        found = self.blocks[np.isfinite(self.blocks)]
        return float((found > GOOD).mean()) if len(found) else 0.0

    @property
    def worst(self) -> float:
        """The correlation that a tenth of the blocks do not reach."""
        found = self.blocks[np.isfinite(self.blocks)]
        return float(np.percentile(found, 10)) if len(found) else 0.0

    @property
    def patch(self) -> float:
        """The mean of the worst patch of three by two blocks: where one thing was exchanged."""
        known = np.isfinite(self.blocks)
        values = np.where(known, self.blocks, 0).astype(np.float32)
        total = cv2.blur(values, (3, 2), borderType=cv2.BORDER_REFLECT)
        count = cv2.blur(known.astype(np.float32), (3, 2), borderType=cv2.BORDER_REFLECT)
        enough = count >= 0.5
        return float((total[enough] / count[enough]).min()) if enough.any() else 0.0

    @property
    def strange(self) -> float:
        """Where the photo shows something, and not this: 0 to about 2, of the patch where it is clearest.
        Glare and blur hide what is there; another text or product stands there as clearly as all else."""
        fits = self.blocks > GOOD
        if not fits.any():
            return 0.0
        shown = np.minimum(1.0, self.contrast / max(1e-6, float(np.median(self.contrast[fits]))))
        off = np.where(np.isfinite(self.blocks), shown * (1 - np.nan_to_num(self.blocks)), 0)
        return float(cv2.blur(off.astype(np.float32), STRANGE_PATCH, borderType=cv2.BORDER_CONSTANT).max())


def fit(photo: Points, size_px: tuple[int, int], keyframe: Keyframe) -> Fit | None:
    """How the keyframe lies in a photo of this width and height; None where it does not."""
    theirs, ours = nearest(keyframe.points.descriptors, photo.descriptors, RATIO)
    if len(theirs) < PAIRS_MIN:
        return None
    there, here = photo.places[ours], keyframe.points.places[theirs]
    matrix, inside = cv2.findHomography(there, here, cv2.USAC_MAGSAC, OFF_PX, maxIters=2000, confidence=0.999)
    if matrix is None or int(inside.sum()) < INLIERS_MIN:
        return None
    if not is_screen(np.asarray(matrix, float), keyframe.size_px, size_px):
        return None
    agreeing = here[inside.ravel().astype(bool)]
    return Fit(np.asarray(matrix, float), int(inside.sum()), len(theirs), _spread(agreeing, keyframe))


def _spread(agreeing: Floats, keyframe: Keyframe) -> float:
    width, height = keyframe.size_px
    return len(_cells(agreeing, width, height)) / max(1, len(_cells(keyframe.points.places, width, height)))


def _cells(places: Floats, width: int, height: int) -> set[int]:
    across = (places[:, 0] * CELLS[0] / width).astype(int).clip(0, CELLS[0] - 1)
    down = (places[:, 1] * CELLS[1] / height).astype(int).clip(0, CELLS[1] - 1)
    return set((across + CELLS[0] * down).tolist())


def corners_in_photo(matrix: Matrix, size_px: tuple[int, int]) -> Floats | None:
    """Where the corners of a picture of this size lie in the photo; None for a matrix without an inverse."""
    width, height = size_px
    corners = np.array([[[0, 0]], [[width, 0]], [[width, height]], [[0, height]]], np.float32)
    try:
        return np.asarray(cv2.perspectiveTransform(corners, np.linalg.inv(matrix)).reshape(4, 2), np.float32)
    except np.linalg.LinAlgError:
        return None


def is_screen(matrix: Matrix, size_px: tuple[int, int], photo_px: tuple[int, int]) -> bool:
    """Whether a picture lies there as a screen can: not folded, mirrored or tiny."""
    quad = corners_in_photo(matrix, size_px)
    if quad is None or not np.isfinite(quad).all() or np.abs(quad).max() > 20 * max(photo_px):
        return False
    sides = np.roll(quad, -1, axis=0) - quad
    turns = sides[:, 0] * np.roll(sides, -1, axis=0)[:, 1] - sides[:, 1] * np.roll(sides, -1, axis=0)[:, 0]
    if not (turns > 0).all():
        return False
    lengths = np.linalg.norm(sides, axis=1)
    area = float(cv2.contourArea(quad))
    shape_off = max(lengths[0], lengths[2]) / max(1.0, min(lengths[0], lengths[2]))
    shape_off = max(shape_off, max(lengths[1], lengths[3]) / max(1.0, min(lengths[1], lengths[3])))
    return area >= AREA_MIN * photo_px[0] * photo_px[1] and shape_off < 4


def rectified(
    photo: NDArray[np.uint8], matrix: Matrix, size_px: tuple[int, int], to_px: tuple[int, int]
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """The part of the photo where the picture lies, in another size, and which pixels of it are there."""
    scale = np.diag([to_px[0] / size_px[0], to_px[1] / size_px[1], 1.0])
    both = scale @ matrix
    seen = cv2.warpPerspective(photo, both, to_px, flags=cv2.INTER_AREA)
    inside = cv2.warpPerspective(
        np.full(photo.shape[:2], 255, np.uint8), both, to_px, flags=cv2.INTER_NEAREST
    )
    return np.asarray(seen, np.uint8), inside > 0


def agreement(
    seen: NDArray[np.uint8],
    inside: NDArray[np.bool_],
    small: NDArray[np.uint8],
    small_fine: Floats | None = None,
) -> Agreement:
    """Of a rectified part of the photo with the small picture of a keyframe, both (108, 192, 3) RGB.

    `small_fine`: `fine` of the latter, where that is known.
    """
    ours, theirs = fine(seen), fine(small) if small_fine is None else small_fine
    shape = SMALL[1] // BLOCK_PX, BLOCK_PX, SMALL[0] // BLOCK_PX, BLOCK_PX
    one, other = (_blocks(each, shape) for each in (ours, theirs))
    whole = inside.reshape(shape).mean(axis=(1, 3)) > 0.95
    wanted = other.std(axis=2)
    textured = wanted > TEXTURED
    like = np.where(whole & textured, _correlation(one, other), np.nan).astype(np.float32)
    return Agreement(like, _colour(seen, small, inside), one.std(axis=2) / np.maximum(1e-3, wanted))


def fine(picture: NDArray[np.uint8]) -> Floats:
    """Without light and shade, and a little blurred: a photo never has the sharpness of the file."""
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY).astype(np.float32)
    return np.asarray(
        cv2.GaussianBlur(grey, (0, 0), 1.0) - cv2.GaussianBlur(grey, (0, 0), SMOOTH_PX), np.float32
    )


def _blocks(plane: Floats, shape: tuple[int, int, int, int]) -> Floats:
    return np.asarray(plane.reshape(shape).transpose(0, 2, 1, 3).reshape(shape[0], shape[2], -1), np.float32)


def _correlation(one: Floats, other: Floats) -> Floats:
    one = one - one.mean(axis=2, keepdims=True)
    other = other - other.mean(axis=2, keepdims=True)
    length = np.linalg.norm(one, axis=2) * np.linalg.norm(other, axis=2)
    return np.asarray((one * other).sum(axis=2) / np.maximum(1e-3, length), np.float32)


def _colour(seen: NDArray[np.uint8], small: NDArray[np.uint8], inside: NDArray[np.bool_]) -> float:
    """Correlation of what is red against green and blue against yellow, on a coarse grid."""
    found = []
    kept = cv2.resize(inside.astype(np.uint8), (32, 18), interpolation=cv2.INTER_AREA) > 0
    for picture in (seen, small):
        lab = cv2.cvtColor(cv2.resize(picture, (32, 18), interpolation=cv2.INTER_AREA), cv2.COLOR_RGB2LAB)
        found.append(lab[kept][:, 1:].astype(np.float32))
    one, other = (part - part.mean(axis=0) for part in found)
    if len(one) < 20 or other.std() < 2:
        return 0.0
    length = float(np.linalg.norm(one) * np.linalg.norm(other))
    return float((one * other).sum() / max(1e-3, length))


def refined(photo: NDArray[np.uint8], matrix: Matrix, keyframe: Keyframe) -> Matrix:
    """The same, moved so that the pictures lie on each other best: points alone are a few pixels off."""
    seen, inside = rectified(photo, matrix, keyframe.size_px, SMALL)
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 25, 1e-4)
    warp = np.eye(3, dtype=np.float32)
    try:
        _, found = cv2.findTransformECC(
            fine(keyframe.small),
            fine(seen),
            warp,
            cv2.MOTION_HOMOGRAPHY,
            criteria,
            inside.astype(np.uint8),
            3,
        )
    except cv2.error:
        return matrix
    scale = np.diag([SMALL[0] / keyframe.size_px[0], SMALL[1] / keyframe.size_px[1], 1.0])
    return np.asarray(np.linalg.inv(scale) @ np.linalg.inv(np.asarray(found, float)) @ scale @ matrix, float)
