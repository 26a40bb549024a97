"""Black bars that are baked into the picture through the whole clip, counted in its own pixels.

It must not judge, and it must not guess: what was too dark to tell gives no answer.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.model import Bars

LIT_FROM = 14
"""From here a sample shows something: an encoder's noise in a black bar stays below (common practice)."""
SHOWN_FROM = 64
"""One sample of this, ever, and the line is no bar: a subtitle or a logo stands there. Ringing beside a
bright edge stays below (common practice)."""
TOLD_SHARE = 0.05
"""Share of a frame's samples that must show something before its dark borders tell anything (common
practice)."""
TOLD_MIN = 3
LIT_SHARE_MAX = 0.05
"""Share of the samples of a bar's line that may be lit, over the clip: ringing of the encoder."""
EDGE_LINES = 4
EDGE_SHARE = 0.7
"""A picture ends in a straight line, lit along most of its length in some frame. Lettering on black does
not (common practice)."""
EXTENT_MIN = 0.6
"""A bar runs along a picture that takes up at least this share of the frame in that direction. A lettering
or a product on black takes up less (common practice)."""
SHARPEN_LINES = 10
EDGE_LIT = 0.25
"""The picture begins where a line is lit this often beside the lines further in; ringing is lit less often,
and a poor encoder leaves a half-dark line (own measurements)."""
NARROWEST_PX = 2


@dataclass(slots=True)
class _Lines:
    """What was ever seen on each line across a strip. Arrays hold one number a line."""

    peak: NDArray[np.uint8]
    strip_samples: int
    """Samples of a line in one strip."""
    lit: NDArray[np.int64] = field(init=False)
    longest: NDArray[np.uint8] = field(init=False)
    """Most samples of the line that were lit in one frame."""
    samples: int = 0
    """Looked at on each line, over all frames that could be told."""

    def __post_init__(self) -> None:
        self.lit = np.zeros(len(self.peak), np.int64)
        self.longest = np.zeros(len(self.peak), np.uint8)

    def see(self, strip: NDArray[np.uint8], told: bool) -> None:
        """Take a strip (samples, lines). Dark frames may speak against a bar, never for it."""
        np.maximum(self.peak, strip.max(axis=0), out=self.peak)
        if not told:
            return
        count = np.add.reduce(strip >= LIT_FROM, axis=0, dtype=np.uint8)
        self.lit += count
        np.maximum(self.longest, count, out=self.longest)
        self.samples += self.strip_samples

    def lit_to_the_ends(self) -> bool:
        """Whether no bar can be at either end any more."""
        return bool(min(self.peak[0], self.peak[-1]) >= SHOWN_FROM)

    def picture(self) -> tuple[int, int]:
        """First line of the picture and the line behind its last; (0, 0) where all lines are dark."""
        lines = np.flatnonzero((self.peak >= SHOWN_FROM) | (self.lit > LIT_SHARE_MAX * self.samples))
        return (int(lines[0]), int(lines[-1]) + 1) if len(lines) else (0, 0)

    def bar_px(self, first: int, length: float) -> int:
        """Width of the bar before line `first`, where the picture takes up `length` (0 to 1) of each line.

        0 where the picture does not begin with a straight edge, or the bar is too narrow.
        """
        if length < EXTENT_MIN:
            return 0
        near = slice(first, first + SHARPEN_LINES + EDGE_LINES)
        shares = self.lit[near] / max(1, self.samples)
        blurred = int(np.argmax(shares >= np.median(shares[-EDGE_LINES:]) * EDGE_LIT))
        width = first + blurred
        if (self.peak[first:width] >= SHOWN_FROM).any():
            return 0
        edge = self.longest[width : width + EDGE_LINES]
        straight = bool(edge.max(initial=0) >= EDGE_SHARE * length * self.strip_samples)
        return width if straight and width >= NARROWEST_PX else 0

    def turned(self) -> _Lines:
        """The same lines, counted from the other end."""
        other = _Lines(self.peak[::-1], self.strip_samples)
        other.lit, other.longest, other.samples = self.lit[::-1], self.longest[::-1], self.samples
        return other


class BarsGauge:
    """Watches full-height columns and full-width rows of luma, taken by nearest neighbour.

    Luma is full range, as ffmpeg's format "gray" has it: black is 0 and white is 255.
    """

    def __init__(self) -> None:
        self._down: _Lines | None = None
        self._across: _Lines | None = None
        self._told = 0
        self._ruled_out = False

    def see(self, columns: NDArray[np.uint8], rows: NDArray[np.uint8]) -> None:
        """Take one frame: columns (height, 32) and rows (18, width), uint8 luma."""
        if self._ruled_out:
            return
        if self._down is None or self._across is None:
            self._down = _Lines(np.zeros(columns.shape[0], np.uint8), columns.shape[1])
            self._across = _Lines(np.zeros(rows.shape[1], np.uint8), rows.shape[0])
        told = bool(np.count_nonzero(columns >= SHOWN_FROM) >= TOLD_SHARE * columns.size)
        self._down.see(np.ascontiguousarray(columns.T), told)
        self._across.see(rows, told)
        self._told += told
        self._ruled_out = all(lines.lit_to_the_ends() for lines in (self._down, self._across))

    def result(self) -> Bars | None:
        """The bars, in pixels of the coded picture, all 0 where there are none.

        None where the frames were too few, or too dark throughout, to tell.
        """
        down, across = self._down, self._across
        if self._ruled_out:
            return Bars(0, 0, 0, 0)
        if down is None or across is None or self._told < TOLD_MIN:
            return None
        (top, bottom), (left, right) = down.picture(), across.picture()
        wide, high = (right - left) / len(across.peak), (bottom - top) / len(down.peak)
        return Bars(
            down.bar_px(top, wide),
            down.turned().bar_px(len(down.peak) - bottom, wide),
            across.bar_px(left, high),
            across.turned().bar_px(len(across.peak) - right, high),
        )
