"""Light from code values: sRGB to linear light, relative luminance and CIE 1976 chromaticity.

It must not look at time: one picture goes in, arrays of the same height and width come out.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import cast

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

RED_U, RED_V = 0.4507, 0.5229
"""The sRGB red primary in u'v'."""

_Row = NDArray[np.float32]
"""What linear R, G and B are worth in a sum, shape (1, 3)."""


def _row(shares: Sequence[float] | NDArray[np.float64]) -> _Row:
    return np.array([shares], np.float32)


_WEIGHTS = _row(LUMINANCE_WEIGHTS)
_X, _Y, _Z = np.array(XYZ_FROM_LINEAR)
_WHOLE = _X + 15 * _Y + 3 * _Z
"""u' is 4X of it and v' is 9Y."""
_WHITE = float(_WHOLE.sum())
_WHITE_U, _WHITE_V = 4 * float(_X.sum()) / _WHITE, 9 * float(_Y.sum()) / _WHITE
_WHOLE_ROW = _row(_WHOLE / _WHITE)
_U_ROW, _V_ROW = _row((4 * _X - _WHITE_U * _WHOLE) / _WHITE), _row((9 * _Y - _WHITE_V * _WHOLE) / _WHITE)
"""Counted from white: of no light it is nothing, and black comes to stand where white does."""
_RED_ROW = _row((1.0, -4.0, -4.0)) + 1e-6 * _WHOLE_ROW
"""Above zero where red is saturated. The millionth takes in what is so to a hair, and leaves out black."""


def linear_light(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear light from 0 to 1 of each code value, in the picture's shape."""
    return cast("NDArray[np.float32]", cv2.LUT(picture, LINEAR))


def relative_luminance(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Relative luminance from 0 (black) to 1 (white), shape (h, w)."""
    return _summed(linear_light(picture), _WEIGHTS)


def chromaticity(
    picture: NDArray[np.uint8],
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    """CIE 1976 u' and v' less those of the red primary, and where red is saturated; each of shape (h, w).

    Saturated red is R / (R + G + B) >= 0.8 in linear light (WCAG 2.2, "general flash and red flash
    thresholds"), that is R >= 4 (G + B); black is not red. What gives less light than `SCREEN_BLACK` is
    filled up with white to that amount before u' and v' are taken; all else is exact.
    """
    light = linear_light(picture)
    u, v, whole = (_summed(light, row) for row in (_U_ROW, _V_ROW, _WHOLE_ROW))
    np.maximum(whole, _all_screen_black(*whole.shape), out=whole)
    u /= whole
    v /= whole
    u += _WHITE_U - RED_U
    v += _WHITE_V - RED_V
    return u, v, _summed(light, _RED_ROW) > 0


def _summed(light: NDArray[np.float32], row: _Row) -> NDArray[np.float32]:
    """One sum of R, G and B for each pixel, shape (h, w)."""
    return cast("NDArray[np.float32]", cv2.transform(light, row))


@functools.lru_cache(maxsize=8)
def _all_screen_black(height: int, width: int) -> NDArray[np.float32]:
    """Arithmetic on two arrays is three times as fast as on one and a number."""
    return np.full((height, width), SCREEN_BLACK, np.float32)
