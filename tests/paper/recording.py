"""A canvas that notes what is drawn and where, so that tests can ask whether anything overlaps or is cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations

from PIL import Image

from mediacheck.paper.canvas import Anchor, Box, Document, Edge, Page, Point
from mediacheck.paper.look import (
    BLACK,
    CONTRAST_MIN,
    LINE_MM,
    WHITE,
    Ink,
    Paper,
    Weight,
    contrast,
)
from mediacheck.paper.text import line_mm, width_mm

HAIR_MM = 0.02
"""Lengths may be off by so much: they are sums of fractions."""


@dataclass(frozen=True)
class Text:
    """One line of words and the room that it takes."""

    words: str
    box: Box
    ink: Ink
    size_pt: float
    weight: Weight


@dataclass
class RecordingCanvas:
    """Notes everything on one page."""

    texts: list[Text] = field(default_factory=list)
    pictures: list[tuple[Box, Image.Image]] = field(default_factory=list)
    boxes: list[tuple[Box, Ink | None, Ink | None, Edge]] = field(default_factory=list)
    """Box, fill, ink of the edge, edge."""
    lines: list[tuple[Point, Point]] = field(default_factory=list)

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
        width = width_mm(words, size_pt, weight)
        left = at.x - {"left": 0.0, "middle": 0.5, "right": 1.0}[anchor] * width
        self.texts.append(Text(words, Box(left, at.y, width, line_mm(size_pt)), ink, size_pt, weight))

    def picture(self, box: Box, picture: Image.Image) -> None:
        self.pictures.append((box, picture))

    def line(self, start: Point, end: Point, *, ink: Ink = BLACK, width_mm: float = LINE_MM) -> None:
        self.lines.append((start, end))

    def box(
        self,
        box: Box,
        *,
        fill: Ink | None = None,
        ink: Ink | None = BLACK,
        width_mm: float = LINE_MM,
        edge: Edge = "plain",
    ) -> None:
        self.boxes.append((box, fill, ink, edge))

    @property
    def words(self) -> list[str]:
        """All words, in the order of drawing."""
        return [text.words for text in self.texts]

    def ground_of(self, text: Text) -> Ink:
        """The colour that the words stand on."""
        under = [fill for box, fill, _, _ in self.boxes if fill is not None and _holds(box, text.box)]
        return under[-1] if under else WHITE


def recorded(page: Page) -> RecordingCanvas:
    """What is on one page."""
    canvas = RecordingCanvas()
    page(canvas)
    return canvas


def words_of(document: Document) -> list[str]:
    """All words on all pages, in the order of drawing."""
    return [word for page in document.pages for word in recorded(page).words]


def faults(document: Document) -> list[str]:
    """What is wrong with the pages: words or pictures that leave the margins, overlap, or cannot be read."""
    return [
        f"page {number}: {fault}"
        for number, page in enumerate(document.pages, 1)
        for fault in _faults(recorded(page), document.paper)
    ]


def _faults(canvas: RecordingCanvas, paper: Paper) -> Iterator[str]:
    yield from _outside(canvas, paper)
    yield from _unreadable(canvas)
    for one, other in combinations([text for text in canvas.texts if text.words.strip()], 2):
        if _overlap(one.box, other.box):
            yield f"words overlap: {one.words!r} {other.words!r}"
    for (first, _), (second, _) in combinations(canvas.pictures, 2):
        if _overlap(first, second):
            yield f"pictures overlap: {first} {second}"


def _outside(canvas: RecordingCanvas, paper: Paper) -> Iterator[str]:
    inside = Box(0, 0, paper.width_mm, paper.height_mm).inset(paper.margin_mm - 1.2)
    drawn = [(text.words, text.box) for text in canvas.texts if text.words]
    drawn += [("a picture", box) for box, _ in canvas.pictures]
    drawn += [("a box", box) for box, *_ in canvas.boxes]
    for what, box in drawn:
        if not _holds(inside, box):
            yield f"outside the margins: {what!r} {box}"


def _unreadable(canvas: RecordingCanvas) -> Iterator[str]:
    for text in canvas.texts:
        if contrast(text.ink, canvas.ground_of(text)) < CONTRAST_MIN:
            yield f"too little contrast: {text.words!r}"
        on_picture = any(_overlap(text.box, box) for box, _ in canvas.pictures)
        if on_picture and not _on_label(canvas, text):
            yield f"words on a picture: {text.words!r}"


def _on_label(canvas: RecordingCanvas, text: Text) -> bool:
    """Whether the words have a ground of their own."""
    return any(fill is not None and _holds(box, text.box) for box, fill, _, _ in canvas.boxes)


def _holds(outer: Box, inner: Box) -> bool:
    return (
        inner.left >= outer.left - HAIR_MM
        and inner.top >= outer.top - HAIR_MM
        and inner.right <= outer.right + HAIR_MM
        and inner.bottom <= outer.bottom + HAIR_MM
    )


def _overlap(one: Box, other: Box) -> bool:
    """Lines of text may touch: letters seldom fill the height of their line."""
    slack = 0.35
    return (
        min(one.right, other.right) - max(one.left, other.left) > slack
        and min(one.bottom, other.bottom) - max(one.top, other.top) > slack
    )
