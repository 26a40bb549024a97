"""Where the picture is black: stretches in which the person in front of the screen sees nothing.

It must not judge: how long a stretch may be is the profile's affair.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.model import Span

DARK_MAX = 25
"""A pixel is dark when none of R, G, B (0 to 255) is above a tenth of the range: as blackdetect's pix_th of
0.10, but by the strongest colour, since full blue has only 7 % of the luma and is no black."""
DARK_SHARE = 0.98
"""Share of the pixels that must be dark, as blackdetect's pic_th."""
CELL_PX = 4
DRAWN_MIN = 10
"""Steps of luma between the darker and the brighter parts of a dark picture from which something is drawn in
it: a night scene is dark, but not black (common practice, no source). Parts are cells of 4 x 4 pixels, so
that grain and encoder noise average out."""
MEAN_MAX = DARK_SHARE * DARK_MAX + (1 - DARK_SHARE) * 255
"""No black picture has a greater mean than this: most pictures are told apart by their sum alone."""


class BlackGauge:
    """Watches for black pictures. A picture lasts until the next one comes, so black ends when that does."""

    def __init__(self) -> None:
        self._since: float | None = None
        self._spans: list[Span] = []

    def see(self, second: float, picture: NDArray[np.uint8]) -> None:
        """Take the next picture: uint8 (h, w, 3), RGB over the full range 0 to 255."""
        black = is_black(picture)
        if black and self._since is None:
            self._since = second
        elif not black and self._since is not None:
            self._keep(self._since, second)
            self._since = None

    def _keep(self, start_s: float, end_s: float) -> None:
        if end_s > start_s:
            self._spans.append(Span(start_s, end_s))

    def result(self, end_s: float) -> tuple[Span, ...]:
        """Every black stretch, however short, in order. `end_s` is when the last picture goes."""
        open_span = () if self._since is None else (Span(self._since, end_s),)
        spans = (Span(span.start_s, min(span.end_s, end_s)) for span in (*self._spans, *open_span))
        return tuple(span for span in spans if span.end_s > span.start_s)


def is_black(picture: NDArray[np.uint8]) -> bool:
    """Whether at least 98 % of the pixels are dark and nothing is drawn in them.

    ffmpeg's blackdetect (pix_th 0.10, pic_th 0.98) has the same two limits, for luma, and no third one.
    """
    if cv2.norm(picture, cv2.NORM_L1) > MEAN_MAX * picture.size:
        return False
    dark = cv2.inRange(picture, (0, 0, 0), (DARK_MAX, DARK_MAX, DARK_MAX))
    return cv2.countNonZero(dark) >= DARK_SHARE * dark.size and not _drawn(picture, dark.astype(np.float32))


def _drawn(picture: NDArray[np.uint8], dark: NDArray[np.float32]) -> bool:
    """Whether cells differ in the luma of their dark pixels, leaving out 1 cell in 100 at either end.

    Bright pixels stay out of it: they have had their say, and a small caption leaves the picture black.
    """
    height, width = picture.shape[:2]
    size = (max(1, width // CELL_PX), max(1, height // CELL_PX))
    luma = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY) * dark
    weight = cv2.resize(dark, size, interpolation=cv2.INTER_AREA)
    cells = cv2.resize(luma, size, interpolation=cv2.INTER_AREA)[weight > 0] / weight[weight > 0]
    cells.sort()
    left_out = cells.size // 100
    return bool(cells[-1 - left_out] - cells[left_out] >= DRAWN_MIN)
