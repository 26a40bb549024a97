"""The sheets of paper that pages are made for, and the sizes of letters on them.

It must not draw.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

DPI = 150
PaperName = Literal["A4", "Letter"]


@dataclass(frozen=True, slots=True)
class Paper:
    """One size of paper at 150 dots per inch. The margin keeps clear of what printers cannot reach."""

    width_px: int
    height_px: int
    margin_px: int = 70

    @property
    def room_px(self) -> int:
        """Width between the margins."""
        return self.width_px - 2 * self.margin_px

    @property
    def right_px(self) -> int:
        """Where the right margin begins."""
        return self.width_px - self.margin_px


PAPERS: dict[PaperName, Paper] = {
    "A4": Paper(1240, 1754),  # ISO 216: 210 x 297 mm
    "Letter": Paper(1275, 1650),  # ANSI/ASME Y14.1: 8.5 x 11 inches
}
TITLE_PX, VERDICT_PX, NAME_PX, TEXT_PX, SMALL_PX = 38, 28, 22, 18, 16
"""18, 13, 10.5, 8.6 and 7.7 points."""
GREY = (96, 96, 96)
HAIRLINE = (176, 176, 176)
