"""Whether a small picture is a colour-bar test picture: yellow, cyan, green, magenta, red, blue in a row.

It must not look at more than one picture, and knows nothing of time.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

ALONG, ACROSS = 40, 12
"""Samples taken along the row of bars, and lines of them."""
LINES_MIN = 5
"""Of 12 lines: SMPTE bars fill 8 of 12 (SMPTE EG 1), HD bars 7 of 12 (SMPTE RP 219), EBU bars all of them
(EBU Tech 3373; the three from memory)."""
NARROWEST, WIDEST = 2, 7
"""Samples of one bar: a 4:3 picture set in a 16:9 frame gives 3.75, seven bars over the whole width 5.7."""
ORDER = "YCGMRB"
"""By falling luma, the order of every kind (ITU-R BT.471, nomenclature of colour bars)."""
CODES = np.frombuffer(b".BGCRMY.", np.uint8)
"""Letter by which of red (4), green (2) and blue (1) shine; "." is none or all three."""
PEAK_MIN = 110
"""75 % bars have 191 of 255; dull mixtures of real pictures stay below (common practice)."""
VIVID_SHARE_MIN = 0.3
"""HD bars with their grey sides and foot are vivid over 0.37 of the picture, the least of all kinds."""
SHINES_FROM, DARK_UP_TO = 0.7, 0.35
"""Of the strongest of red, green and blue. Room for the wrong colour matrix, BT.601 taken for BT.709."""


def _row_of(order: str) -> re.Pattern[str]:
    bars = "[^A-Z]{0,2}".join(f"{letter}{{{NARROWEST},{WIDEST}}}" for letter in order)
    return re.compile(f"(?<!{order[0]}){bars}(?!{order[-1]})")


ROWS = (_row_of(ORDER), _row_of(ORDER[::-1]))


def shows_colour_bars(small: NDArray[np.uint8]) -> bool:
    """Whether an RGB picture (height, width, 3) shows colour bars of the SMPTE or EBU kinds, 75 or 100 %.

    Upright, upside down, or turned by a quarter, as pictures for turned panels are.
    """
    if not _is_vivid(small):
        return False
    upright, turned = _sampled(small, ACROSS, ALONG), _sampled(small, ALONG, ACROSS).swapaxes(0, 1)
    return _has_row_of_bars(upright) or _has_row_of_bars(turned)


def _is_vivid(small: NDArray[np.uint8]) -> bool:
    """Turns away almost every picture, at a small price."""
    red, green, blue = small[4::8, 4::8, 0], small[4::8, 4::8, 1], small[4::8, 4::8, 2]
    peak, least = np.maximum(np.maximum(red, green), blue), np.minimum(np.minimum(red, green), blue)
    vivid = (peak >= PEAK_MIN) & (least <= peak * np.float32(DARK_UP_TO))
    return bool(np.count_nonzero(vivid) >= VIVID_SHARE_MIN * vivid.size)


def _sampled(small: NDArray[np.uint8], down: int, across: int) -> NDArray[np.uint8]:
    height, width = small.shape[:2]
    lines = (2 * np.arange(down) + 1) * height // (2 * down)
    places = (2 * np.arange(across) + 1) * width // (2 * across)
    sampled: NDArray[np.uint8] = small[lines][:, places]
    return sampled


def _has_row_of_bars(samples: NDArray[np.uint8]) -> bool:
    """`samples` is (lines, along the bars, 3)."""
    lines = (bytes(line).decode("ascii") for line in _letters(samples))
    return sum(any(row.search(line) for row in ROWS) for line in lines) >= LINES_MIN


def _letters(samples: NDArray[np.uint8]) -> NDArray[np.uint8]:
    peak = samples.max(axis=2, keepdims=True)
    shines = samples >= peak * SHINES_FROM
    pure = (shines | (samples <= peak * DARK_UP_TO)).all(axis=2) & (peak[:, :, 0] >= PEAK_MIN)
    code = shines @ np.array([4, 2, 1], np.uint8)
    letters: NDArray[np.uint8] = np.where(pure, CODES[code], CODES[0])
    return letters
