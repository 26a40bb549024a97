"""Whether a small picture is a colour-bar test picture: yellow, cyan, green, magenta, red, blue in a row.

It must not look at more than one picture, and knows nothing of time.
"""

from __future__ import annotations

import functools
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
LETTERS = np.frombuffer(b".BGCRMY.", np.uint8)
"""Letter by which of red (4), green (2) and blue (1) shine; "." is none or all three."""
PEAK_MIN = 110
"""75 % bars have 191 of 255; dull mixtures of real pictures stay below (common practice)."""
VIVID_SHARE_MIN = 0.3
"""HD bars with their grey sides and foot are vivid over 0.37 of the picture, the least of all kinds."""
SHINES_FROM, DARK_UP_TO = 0.7, 0.35
"""Of the strongest of red, green and blue. Room for the wrong colour matrix, BT.601 taken for BT.709."""


_PEAKS = np.arange(256)
_HAIR = 1e-9
"""0.35 x 180 is a hair under 63 in the machine."""
SHINES = np.ceil(_PEAKS * SHINES_FROM - _HAIR).astype(np.uint8)
DARK = np.floor(_PEAKS * DARK_UP_TO + _HAIR).astype(np.uint8)
"""The same for each strongest value there is: from here on one shines, up to here one is dark."""
VIVID = np.where(_PEAKS >= PEAK_MIN, DARK.astype(np.int16), np.int16(-1))
"""Up to here the weakest of the three leaves the colour vivid."""


def _row_of(order: str) -> re.Pattern[bytes]:
    """Six bars in a row. It begins with two letters as they stand, since the search for such is quick."""
    first, last = order[0], order[-1]
    begin = f"{first * NARROWEST}(?<!{first * (NARROWEST + 1)}){first}{{0,{WIDEST - NARROWEST}}}"
    bars = (begin, *(f"{letter}{{{NARROWEST},{WIDEST}}}" for letter in order[1:]))
    return re.compile(("[^A-Z\n]{0,2}".join(bars) + f"(?!{last})").encode())


ROWS = (_row_of(ORDER), _row_of(ORDER[::-1]))


def shows_colour_bars(small: NDArray[np.uint8]) -> bool:
    """Whether an RGB picture (height, width, 3) shows colour bars of the SMPTE or EBU kinds, 75 or 100 %.

    Upright, upside down, or turned by a quarter, as pictures for turned panels are.
    """
    if not _is_vivid(small):
        return False
    samples = small.reshape(-1, 3).take(_places(*small.shape[:2]), axis=0)
    lines = _letters(np.ascontiguousarray(samples.T))
    return _have_row_of_bars(lines[:ACROSS]) or _have_row_of_bars(lines[ACROSS:])


def _is_vivid(small: NDArray[np.uint8]) -> bool:
    """Turns away almost every picture, at a small price."""
    colours = np.ascontiguousarray(small[4::8, 4::8].reshape(-1, 3).T)
    vivid = colours.min(axis=0) <= VIVID.take(colours.max(axis=0))
    return bool(np.count_nonzero(vivid) >= VIVID_SHARE_MIN * vivid.size)


@functools.lru_cache(maxsize=8)
def _places(height: int, width: int) -> NDArray[np.intp]:
    """Where the samples lie, counted pixel by pixel: first all lines across the picture, then all down it."""
    upright = _middles(height, ACROSS)[:, None] * width + _middles(width, ALONG)
    turned = _middles(height, ALONG) * width + _middles(width, ACROSS)[:, None]
    return np.concatenate((upright, turned), axis=None)


def _middles(side: int, parts: int) -> NDArray[np.intp]:
    return np.asarray((2 * np.arange(parts) + 1) * side // (2 * parts), np.intp)


def _have_row_of_bars(lines: NDArray[np.uint8]) -> bool:
    text, width = lines.tobytes(), lines.shape[1]
    return len({found.start() // width for row in ROWS for found in row.finditer(text)}) >= LINES_MIN


def _letters(colours: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Lines of text (lines, `ALONG` + 1): a letter for each column of `colours` (3, samples)."""
    peak = colours.max(axis=0)
    shines = colours >= SHINES.take(peak)
    pure = (shines | (colours <= DARK.take(peak))).all(axis=0) & (peak >= PEAK_MIN)
    red, green, blue = shines.view(np.uint8)
    codes = (4 * red + 2 * green + blue) * pure
    lines = np.full((peak.size // ALONG, ALONG + 1), ord("\n"), np.uint8)
    lines[:, :ALONG] = LETTERS.take(codes).reshape(-1, ALONG)
    return lines
