"""Pages as a PDF: letters stay letters, which can be searched, and only those that occur are carried along.

It must not decide where anything stands. The same pages give the same bytes on any machine and day.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import UTC, datetime

from fpdf import FPDF
from PIL import Image

from mediacheck.paper.canvas import Anchor, Box, Document, Edge, Point
from mediacheck.paper.look import ASCENT, BLACK, LINE_MM, MM_PER_PT, Ink, Weight
from mediacheck.paper.pdf_text import Fonts, shown
from mediacheck.paper.png import DASH_MM, GAP_MM
from mediacheck.paper.shaping import Line, line_of

NO_DATE = datetime(1980, 1, 1, tzinfo=UTC)
"""fpdf2 writes no document without a date. This one, the first that a card can hold, stands for none."""
JPEG_QUALITY = 88


def as_pdf(document: Document, made_at: datetime = NO_DATE) -> bytes:
    """The whole document. It bears a date only where one is given."""
    paper = document.paper
    pdf = FPDF(unit="mm", format=(paper.width_mm, paper.height_mm))
    pdf.set_auto_page_break(False)
    pdf.set_margin(0)
    pdf.set_title(document.title)
    pdf.set_lang(document.language)
    pdf.set_creator(document.creator)
    pdf.set_producer(f"{document.creator} with fpdf2")
    pdf.set_creation_date(made_at)
    pdf.set_display_mode("fullpage", "single")
    canvases = [PdfCanvas() for _ in document.pages]
    for page, canvas in zip(document.pages, canvases, strict=True):
        page(canvas)
    fonts = Fonts(pdf, (line for canvas in canvases for line in canvas.lines))
    for canvas in canvases:
        pdf.add_page()
        for stroke in canvas.strokes:
            stroke(pdf, fonts)
    return bytes(pdf.output())


class PdfCanvas:
    """One page, kept until all letters of the document are known."""

    def __init__(self) -> None:
        self.lines = list[Line]()
        self.strokes = list[Callable[[FPDF, Fonts], None]]()

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
        line = line_of(words, weight)
        self.lines.append(line)
        shift = {"left": 0.0, "middle": 0.5, "right": 1.0}[anchor]
        left = at.x - shift * line.width_em * size_pt * MM_PER_PT
        baseline = Point(left, at.y + ASCENT * size_pt * MM_PER_PT)
        self.strokes.append(lambda pdf, fonts: shown(pdf, fonts, line, baseline, size_pt, ink))

    def picture(self, box: Box, picture: Image.Image) -> None:
        """See `Canvas`."""
        packed = io.BytesIO()
        picture.convert("RGB").save(packed, "JPEG", quality=JPEG_QUALITY)
        data = packed.getvalue()
        self.strokes.append(lambda pdf, _: _picture(pdf, box, data))

    def line(self, start: Point, end: Point, *, ink: Ink = BLACK, width_mm: float = LINE_MM) -> None:
        """See `Canvas`."""
        self.strokes.append(lambda pdf, _: _line(pdf, start, end, ink, width_mm))

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
        if fill is not None:
            self.strokes.append(lambda pdf, _: _filled(pdf, box, fill))
        if ink is not None:
            self.strokes.append(lambda pdf, _: _edged(pdf, box.inset(width_mm / 2), ink, width_mm, edge))


def _picture(pdf: FPDF, box: Box, data: bytes) -> None:
    pdf.image(io.BytesIO(data), box.left, box.top, box.width, box.height)


def _line(pdf: FPDF, start: Point, end: Point, ink: Ink, width_mm: float) -> None:
    _take(pdf, ink, width_mm, "plain")
    pdf.line(*start, *end)


def _filled(pdf: FPDF, box: Box, fill: Ink) -> None:
    pdf.set_fill_color(*fill)
    pdf.rect(*box, style="F")


def _edged(pdf: FPDF, box: Box, ink: Ink, width_mm: float, edge: Edge) -> None:
    _take(pdf, ink, width_mm, edge)
    pdf.rect(*box, style="D")


def _take(pdf: FPDF, ink: Ink, width_mm: float, edge: Edge) -> None:
    pdf.set_draw_color(*ink)
    pdf.set_line_width(width_mm)
    if edge == "dashed":
        pdf.set_dash_pattern(DASH_MM, GAP_MM)
    else:
        pdf.set_dash_pattern()
