"""Pages as pictures, for screens and for programs that print pictures.

It must not decide where anything stands.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import overload

import uharfbuzz as hb
from PIL import Image, ImageDraw

from mediacheck.paper.canvas import Anchor, Box, Document, Edge, Point
from mediacheck.paper.look import ASCENT, BLACK, LINE_MM, MM_PER_INCH, WHITE, Ink, Paper, Weight
from mediacheck.paper.shaping import Line, line_of

DPI = 150
DASH_MM, GAP_MM = 1.2, 0.9
"""Of dashed edges; `pdf` draws the same."""


class PngCanvas:
    """One page as a picture."""

    def __init__(self, paper: Paper, dpi: int = DPI) -> None:
        self._dpi = dpi
        self.image = Image.new("RGB", (self._px(paper.width_mm), self._px(paper.height_mm)), WHITE)
        self._pen = ImageDraw.Draw(self.image)

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
        """See `Canvas`."""
        line, size_px = line_of(words, weight), size_pt / 72 * self._dpi
        shift = {"left": 0.0, "middle": 0.5, "right": 1.0}[anchor]
        left = self._px(at.x) - round(shift * line.width_em * size_px)
        if (drawn := _rastered(line, size_px)) is not None:
            mask, x, y = drawn
            self.image.paste(ink, (left + x, self._px(at.y) + round(ASCENT * size_px) + y), mask)

    def picture(self, box: Box, picture: Image.Image) -> None:
        """See `Canvas`."""
        left, top, right, bottom = self._corners(box)
        size = (max(1, right - left + 1), max(1, bottom - top + 1))
        same = picture.size == size
        drawn = picture if same else picture.resize(size, Image.Resampling.LANCZOS, reducing_gap=2.0)
        self.image.paste(drawn, (left, top))

    def line(self, start: Point, end: Point, *, ink: Ink = BLACK, width_mm: float = LINE_MM) -> None:
        """See `Canvas`."""
        places = (self._px(start.x), self._px(start.y), self._px(end.x), self._px(end.y))
        self._pen.line(places, fill=ink, width=max(1, self._px(width_mm)))

    def box(
        self,
        box: Box,
        *,
        fill: Ink | None = None,
        ink: Ink | None = BLACK,
        width_mm: float = LINE_MM,
        edge: Edge = "plain",
    ) -> None:
        """See `Canvas`."""
        corners, width = self._corners(box), max(1, self._px(width_mm))
        plain = ink if edge == "plain" else None
        self._pen.rectangle(corners, fill=fill, outline=plain, width=width if plain else 0)
        if ink is not None and edge == "dashed":
            self._dashed(corners, ink, width)

    def _dashed(self, corners: tuple[int, int, int, int], ink: Ink, width: int) -> None:
        left, top, right, bottom = corners
        dash, step = self._px(DASH_MM), self._px(DASH_MM + GAP_MM)
        for x in range(left, right + 1, step):
            end = min(x + dash - 1, right)
            self._pen.rectangle((x, top, end, top + width - 1), fill=ink)
            self._pen.rectangle((x, bottom - width + 1, end, bottom), fill=ink)
        for y in range(top, bottom + 1, step):
            end = min(y + dash - 1, bottom)
            self._pen.rectangle((left, y, left + width - 1, end), fill=ink)
            self._pen.rectangle((right - width + 1, y, right, end), fill=ink)

    def _px(self, mm: float) -> int:
        return round(mm / MM_PER_INCH * self._dpi)

    def _corners(self, box: Box) -> tuple[int, int, int, int]:
        """The first and the last pixel that belong to it, across and down."""
        left, top = self._px(box.left), self._px(box.top)
        return left, top, max(left, self._px(box.right) - 1), max(top, self._px(box.bottom) - 1)


class Pages(Sequence[Image.Image]):
    """The pages of a document; each is drawn when it is asked for."""

    def __init__(self, document: Document, dpi: int = DPI) -> None:
        self._document, self._dpi = document, dpi

    def __len__(self) -> int:
        return len(self._document.pages)

    @overload
    def __getitem__(self, place: int) -> Image.Image: ...
    @overload
    def __getitem__(self, place: slice) -> tuple[Image.Image, ...]: ...
    def __getitem__(self, place: int | slice) -> Image.Image | tuple[Image.Image, ...]:
        if isinstance(place, slice):
            return tuple(self[number] for number in range(len(self))[place])
        canvas = PngCanvas(self._document.paper, self._dpi)
        self._document.pages[place](canvas)
        return canvas.image

    def __iter__(self) -> Iterator[Image.Image]:
        return (self[number] for number in range(len(self)))


def _rastered(line: Line, size_px: float) -> tuple[Image.Image, int, int] | None:
    """The line as a mask, and where its top left corner lies, seen from the start of the baseline."""
    raster = hb.RasterDraw()
    for part in line.parts:
        scale = size_px / part.run.face.upem
        for glyph in part.glyphs:
            raster.transform = (scale, 0.0, 0.0, scale, glyph.x * size_px, glyph.y * size_px)
            raster.draw_glyph(part.run.face.font, glyph.number)
    image = raster.render()
    extents = image.extents if image is not None else None
    if extents is None or not extents.width or not extents.height:
        return None
    # HarfBuzz counts rows upwards from the bottom.
    size, rows = (extents.width, extents.height), (extents.stride, -1)
    mask = Image.frombytes("L", size, bytes(image.buffer), "raw", "L", *rows)
    return mask, extents.x_origin, -extents.y_origin - extents.height
