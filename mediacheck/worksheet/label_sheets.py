"""Sheets of labels, by the size of a label in millimetres.

It must not know what stands on a label. The sizes are those that such sheets commonly have (from memory).
Each printer feeds a little differently: a first page is printed on plain paper and held against the sheet.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from mediacheck.errors import WrongUse
from mediacheck.paper.canvas import Box
from mediacheck.paper.look import PAPERS, Paper, PaperName


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """How labels lie on one sheet; all in millimetres."""

    paper_name: PaperName
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    across_mm: float
    """From the left edge of a label to that of the next."""
    down_mm: float

    @property
    def name(self) -> str:
        """By which it is asked for: "63.5x38.1"."""
        return f"{self.width_mm:g}x{self.height_mm:g}"

    @property
    def paper(self) -> Paper:
        """The paper."""
        return PAPERS[self.paper_name]

    @property
    def places(self) -> int:
        """How many labels are on a sheet."""
        return self.columns * self.rows

    def boxes(self) -> Iterator[Box]:
        """Where the labels are, row by row."""
        for row in range(self.rows):
            for column in range(self.columns):
                left, top = self.left_mm + column * self.across_mm, self.top_mm + row * self.down_mm
                yield Box(left, top, self.width_mm, self.height_mm)


SHEETS: tuple[LabelSheet, ...] = (
    LabelSheet("A4", 3, 7, 63.5, 38.1, 7.25, 15.15, 66.0, 38.1),
    LabelSheet("A4", 3, 8, 70.0, 37.0, 0.0, 0.5, 70.0, 37.0),
    LabelSheet("A4", 2, 7, 99.1, 38.1, 4.65, 15.15, 101.6, 38.1),
    LabelSheet("A4", 5, 13, 38.1, 21.2, 4.75, 10.7, 40.6, 21.2),
    LabelSheet("Letter", 3, 10, 66.7, 25.4, 4.8, 12.7, 69.85, 25.4),
    LabelSheet("Letter", 2, 10, 101.6, 25.4, 4.0, 12.7, 106.0, 25.4),
)


def label_sheet(name: str) -> LabelSheet:
    """The sheet with labels of this size. WrongUse, which lists them: there is none."""
    wanted = name.lower().replace(" ", "").replace("mm", "").replace("×", "x")
    found = next((sheet for sheet in SHEETS if sheet.name == wanted), None)
    if found is None:
        known = ", ".join(f"{sheet.name} ({sheet.paper_name})" for sheet in SHEETS)
        raise WrongUse(f"There is no sheet with labels of {name} mm; there are: {known}.")
    return found
