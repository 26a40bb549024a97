"""How pages look: paper, colours, sizes of letters and lines. Every page takes them from here.

It must not draw. Nothing is told by colour alone: pages are printed in black and white.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

PaperName = Literal["A4", "Letter"]
Ink = tuple[int, int, int]
Weight = Literal["regular", "bold"]

MM_PER_INCH = 25.4
MM_PER_PT = MM_PER_INCH / 72

BLACK: Ink = (0, 0, 0)
WHITE: Ink = (255, 255, 255)
GREY: Ink = (96, 96, 96)
"""Words of less weight: labels, page numbers."""
HAIRLINE: Ink = (176, 176, 176)
"""Lines that part things which the space between them parts as well."""
TINT: Ink = (238, 238, 236)
"""The ground of a screen with no picture, and of cells; words on it are black or grey."""
CONTRAST_MIN = 4.5
"""Of words and their ground: WCAG 2.2, success criterion 1.4.3, level AA."""

TITLE_PT, HEADING_PT, NAME_PT, TEXT_PT, SMALL_PT = 18.0, 13.5, 10.5, 8.6, 7.7
LINE_MM, RULE_MM = 0.17, 0.35
"""A thin line and a strong one."""
LEADING = 1.3
"""Distance of baselines, in parts of the size of the letters."""
ASCENT = 1.0
"""From the top of a line to its baseline, in parts of the size of the letters."""


@dataclass(frozen=True, slots=True)
class Paper:
    """One size of paper. The margin keeps clear of what printers cannot reach."""

    width_mm: float
    height_mm: float
    margin_mm: float = 12.0

    @property
    def room_mm(self) -> float:
        """Width between the margins."""
        return self.width_mm - 2 * self.margin_mm

    @property
    def right_mm(self) -> float:
        """Where the right margin begins."""
        return self.width_mm - self.margin_mm

    @property
    def bottom_mm(self) -> float:
        """Where the bottom margin begins."""
        return self.height_mm - self.margin_mm


PAPERS: dict[PaperName, Paper] = {
    "A4": Paper(210, 297),  # ISO 216
    "Letter": Paper(215.9, 279.4),  # ANSI/ASME Y14.1: 8.5 x 11 inches
}


def contrast(one: Ink, other: Ink) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2, "contrast ratio" and "relative luminance")."""
    dark, light = sorted((_luminance(one), _luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def _luminance(ink: Ink) -> float:
    red, green, blue = (_linear(level / 255) for level in ink)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(level: float) -> float:
    return level / 12.92 if level <= 0.04045 else ((level + 0.055) / 1.055) ** 2.4
