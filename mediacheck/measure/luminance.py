"""Light from code values: sRGB to linear light, relative luminance and CIE 1976 chromaticity.

It must not look at time: one picture goes in, arrays of the same height and width come out.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

LUMINANCE_WEIGHTS = (0.2126, 0.7152, 0.0722)
"""Shares of linear red, green and blue in relative luminance (WCAG 2.2, "relative luminance")."""
XYZ_FROM_LINEAR = ((0.4124, 0.3576, 0.1805), LUMINANCE_WEIGHTS, (0.0193, 0.1192, 0.9505))
"""Linear sRGB to CIE XYZ (IEC 61966-2-1; from memory)."""
SCREEN_BLACK = 0.004
"""What a screen in a lit store gives back where the signal is black, as a share of its white (250:1, common
practice, no source). Black has no chromaticity of its own, 0/0; here it has that of white."""


def _linear(code: int) -> float:
    """One channel: 0 to 255 in, 0 to 1 out (WCAG 2.2; the knee at 0.04045 is that of May 2021)."""
    share = code / 255
    return share / 12.92 if share <= 0.04045 else float(((share + 0.055) / 1.055) ** 2.4)


LINEAR: NDArray[np.float32] = np.array([_linear(code) for code in range(256)], np.float32)
"""Linear light, 0 to 1, of each code value."""
LINEAR.flags.writeable = False

_WEIGHTS = np.array([LUMINANCE_WEIGHTS], np.float32)


_X, _Y, _Z = np.array(XYZ_FROM_LINEAR)
_ROWS = np.stack([4 * _X, 9 * _Y, _X + 15 * _Y + 3 * _Z, np.array([1.0, -4.0, -4.0])]).astype(np.float32)
"""They give 4X, 9Y, X + 15Y + 3Z and R - 4 (G + B) from linear R, G and B."""
_WHITE = _ROWS.sum(axis=1)


def linear_light(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear R, G, B from 0 to 1, in the picture's shape (h, w, 3)."""
    return cv2.LUT(picture, LINEAR).astype(np.float32, copy=False)


def relative_luminance(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Relative luminance from 0 (black) to 1 (white), shape (h, w)."""
    luminance = cv2.transform(linear_light(picture), _WEIGHTS)
    return luminance.reshape(picture.shape[:2]).astype(np.float32, copy=False)


def chromaticity(
    picture: NDArray[np.uint8],
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    """CIE 1976 u' and v', and where a pixel is saturated red; each of shape (h, w).

    Saturated red is R / (R + G + B) >= 0.8 in linear light (WCAG 2.2, "general flash and red flash
    thresholds"), that is R >= 4 (G + B); black is not red. What gives less light than `SCREEN_BLACK` is
    filled up with white to that amount before u' and v' are taken; all else is exact.
    """
    shape = picture.shape[:2]
    light = linear_light(picture).reshape(-1, 3)
    four_x, nine_y, whole, redness = _ROWS @ light.T
    white = np.maximum(SCREEN_BLACK - whole / _WHITE[2], 0)
    whole += white * _WHITE[2]
    u, v = (four_x + white * _WHITE[0]) / whole, (nine_y + white * _WHITE[1]) / whole
    red = (redness >= 0) & (light[:, 0] > 0)
    return u.reshape(shape), v.reshape(shape), red.reshape(shape)
