"""What a page is drawn on: a few things to draw, in millimetres from the top left corner of the paper.

It must not know what becomes of the page: `png` and `pdf` draw the same pages.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple, Protocol

from PIL import Image

from mediacheck.paper.look import BLACK, LINE_MM, Ink, Paper, Weight

Anchor = Literal["left", "middle", "right"]
Edge = Literal["plain", "dashed"]


class Point(NamedTuple):
    """A place on the paper, in millimetres."""

    x: float
    y: float


class Box(NamedTuple):
    """A region of the paper, in millimetres."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Where it ends."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Where it ends."""
        return self.top + self.height

    def inset(self, by_mm: float) -> Box:
        """The region so far inside this one at every side."""
        return Box(self.left + by_mm, self.top + by_mm, self.width - 2 * by_mm, self.height - 2 * by_mm)


class Canvas(Protocol):
    """One page."""

    def text(
        self,
        at: Point,
        words: str,
        size_pt: float,
        weight: Weight = "regular",
        *,
        ink: Ink = BLACK,
        anchor: Anchor = "left",
    ) -> None:
        """One line in any script, with its top left (or top middle, or top right) corner at a place."""

    def picture(self, box: Box, picture: Image.Image) -> None:
        """A picture that fills the box."""

    def line(self, start: Point, end: Point, *, ink: Ink = BLACK, width_mm: float = LINE_MM) -> None:
        """A straight line."""

    def box(
        self,
        box: Box,
        *,
        fill: Ink | None = None,
        ink: Ink | None = BLACK,
        width_mm: float = LINE_MM,
        edge: Edge = "plain",
    ) -> None:
        """A rectangle; its edge lies inside the box. `ink` is that of the edge, None for no edge."""


Page = Callable[[Canvas], None]


@dataclass(frozen=True, slots=True)
class Document:
    """Pages that belong together. Each is drawn when it is asked for, so that many need little memory."""

    title: str
    paper: Paper
    pages: tuple[Page, ...]
    creator: str
    """The program and its version."""
    language: str = "en"
