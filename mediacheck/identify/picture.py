"""A picture that shows why: the photo with its screen outlined, what it was compared with, where both agree.

It must not find anything out.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.answers import PhotoAnswer
from mediacheck.identify.gallery import Gallery
from mediacheck.identify.index import SMALL
from mediacheck.identify.verify import BLOCK_PX, GOOD, corners_in_photo, rectified

HEIGHT_PX, GAP_PX = 540, 12
BESIDE = 480, 270
OUTLINE, AGREES, DIFFERS = (255, 170, 0), (40, 150, 40), (200, 30, 30)


def evidence_png(answer: PhotoAnswer, gallery: Gallery) -> bytes:
    """As PNG. Without a picture of the library where none was found."""
    seen = answer.looks[answer.shown_in]
    photo = seen.photo.copy()
    best = answer.best
    if best is None:
        return _png(_tall(photo))
    keyframe = gallery.keyframes[best.sight.keyframe]
    quad = corners_in_photo(best.sight.matrix, keyframe.size_px)
    if quad is not None:
        cv2.polylines(photo, [np.rint(quad).astype(np.int32)], True, OUTLINE, 4, cv2.LINE_AA)
    library = cv2.resize(keyframe.small, BESIDE, interpolation=cv2.INTER_CUBIC)
    there, _ = rectified(seen.photo, best.sight.matrix, keyframe.size_px, SMALL)
    compared = np.asarray(cv2.resize(there, BESIDE, interpolation=cv2.INTER_CUBIC), np.uint8)
    _mark(compared, best.sight.agreement.blocks)
    right = np.vstack([np.asarray(library, np.uint8), compared])
    left = _tall(photo)
    gap = np.full((HEIGHT_PX, GAP_PX, 3), 255, np.uint8)
    return _png(np.hstack([left, gap, right]))


def _tall(photo: NDArray[np.uint8]) -> NDArray[np.uint8]:
    scale = HEIGHT_PX / photo.shape[0]
    size = max(1, round(photo.shape[1] * scale)), HEIGHT_PX
    return np.asarray(cv2.resize(photo, size, interpolation=cv2.INTER_AREA), np.uint8)


def _mark(picture: NDArray[np.uint8], blocks: NDArray[np.float32]) -> None:
    """A frame round each block that could be compared."""
    step = BESIDE[0] * BLOCK_PX / SMALL[0]
    for row, line in enumerate(blocks):
        for column, value in enumerate(line):
            if not np.isfinite(value):
                continue
            corner = round(column * step) + 2, round(row * step) + 2
            other = round((column + 1) * step) - 3, round((row + 1) * step) - 3
            good = value > GOOD
            cv2.rectangle(picture, corner, other, AGREES if good else DIFFERS, 1 if good else 2)


def _png(picture: NDArray[np.uint8]) -> bytes:
    _, made = cv2.imencode(".png", np.ascontiguousarray(picture[:, :, ::-1]))
    return made.tobytes()
