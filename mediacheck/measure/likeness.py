"""How alike two pictures are in their structure, beside how far apart their levels are.

It must not judge, and knows nothing of clips: it is given two pictures.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

SIDE_PX, SIGMA_PX = 11, 1.5
"""The window that slides over the picture, and the width of its bell."""
EDGE_PX = SIDE_PX // 2
LUMINANCE, CONTRAST = (0.01 * 255) ** 2, (0.03 * 255) ** 2
"""C1 and C2 of the paper, from its K1 and K2, for levels of 0 to 255."""
BELL = cv2.getGaussianKernel(SIDE_PX, SIGMA_PX)

Floats = NDArray[np.float64]


def ssim(before: NDArray[np.uint8], after: NDArray[np.uint8]) -> float:
    """Structural similarity of two planes of 8-bit luma, (height, width): 1 for the same plane, 0 for none.

    Z. Wang, A. C. Bovik, H. R. Sheikh, E. P. Simoncelli: "Image Quality Assessment: From Error Visibility to
    Structural Similarity", IEEE Transactions on Image Processing 13 (2004), equations 13 to 17: a Gaussian
    window of 11 x 11 with a sigma of 1.5, K1 = 0.01, K2 = 0.03, the mean over all places where the window
    lies wholly inside. Less than 0 where one plane is the other's negative. Raises ValueError for planes of
    unequal size, or smaller than the window.
    """
    return float(_similarity(before, after).mean())


def likeness(before: NDArray[np.uint8], after: NDArray[np.uint8]) -> float:
    """The least `ssim` of red, green and blue of two pictures (height, width, 3), RGB.

    Luma alone would take a red ground for a green one of the same brightness.
    """
    by_place = _similarity(before, after)
    return float(by_place.mean(axis=(0, 1)).min())


def _similarity(before: NDArray[np.uint8], after: NDArray[np.uint8]) -> Floats:
    """SSIM at every place of the window, for each plane by itself."""
    if before.shape != after.shape or min(before.shape[:2]) < SIDE_PX:
        raise ValueError(f"pictures of {before.shape} and {after.shape} cannot be compared")
    one, two = before.astype(np.float64), after.astype(np.float64)
    mean_one, mean_two = _weighed(one), _weighed(two)
    spread = _weighed(one * one) - mean_one**2 + _weighed(two * two) - mean_two**2
    shared = _weighed(one * two) - mean_one * mean_two
    like = (2 * mean_one * mean_two + LUMINANCE) * (2 * shared + CONTRAST)
    return like / ((mean_one**2 + mean_two**2 + LUMINANCE) * (spread + CONTRAST))


def _weighed(plane: Floats) -> Floats:
    """The mean under the window, for every place where it lies wholly inside."""
    whole = np.asarray(cv2.sepFilter2D(plane, -1, BELL, BELL), np.float64)
    return whole[EDGE_PX:-EDGE_PX, EDGE_PX:-EDGE_PX]
