"""Letters in a PDF: each shape exactly where `shaping` puts it, and the words for those who search them.

It must not shape anything again. fpdf2 keeps the fonts and writes them; what of it is used here beside its
documented interface is `FPDF.fonts`, `FPDF._out`, the catalogue of resources, and `fpdf.fonts.TTFFont` with
its subset: it has no call that draws shapes by number.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from typing import NamedTuple

import uharfbuzz as hb
from fpdf import FPDF
from fpdf.enums import PDFResourceType
from fpdf.fonts import TTFFont

from mediacheck.paper.canvas import Point
from mediacheck.paper.fonts import Typeface
from mediacheck.paper.look import Ink
from mediacheck.paper.outlines import with_quadratic_outlines
from mediacheck.paper.shaping import Glyph, Line, Shaped

FILL, FILL_AND_STROKE = 0, 2
"""Text rendering modes (ISO 32000-1, table 106)."""


class Cut(NamedTuple):
    """A font cut down to the shapes that are needed, and their numbers in it by those in the whole font."""

    font: TTFFont
    numbers: Mapping[int, int]


class Fonts:
    """The fonts of one document, each cut down to the shapes that its lines need."""

    def __init__(self, pdf: FPDF, lines: Iterable[Line]) -> None:
        needed = dict[Typeface, set[int]]()
        for part in (part for line in lines for part in line.parts):
            needed.setdefault(part.run.face, set()).update(glyph.number for glyph in part.glyphs)
        self._fonts = {face: _cut(pdf, face, numbers) for face, numbers in needed.items()}

    def font(self, face: Typeface) -> Cut:
        """What fpdf2 keeps of this typeface."""
        return self._fonts[face]


def shown(pdf: FPDF, fonts: Fonts, line: Line, at: Point, size_pt: float, ink: Ink) -> None:
    """Draw a line from the start of its baseline."""
    x, y = at.x * pdf.k, (pdf.h - at.y) * pdf.k
    red, green, blue = (f"{level / 255:.3f}" for level in ink)
    pdf._out(f"q {red} {green} {blue} rg {red} {green} {blue} RG BT 1 0 0 1 {x:.3f} {y:.3f} Tm")
    pen = _Pen(size_pt)
    for part in line.parts:
        cut = fonts.font(part.run.face)
        pdf._resource_catalog.add(PDFResourceType.FONT, cut.font.i, pdf.page)
        pdf._out(pen.taken(cut, part.run.face.thickened_em))
        for word, glyphs in _words(part):
            shapes = pen.drawn(glyphs)
            pdf._out(shapes if word is None else f"/Span <</ActualText <{_utf16(word)}>>> BDC {shapes} EMC")
    pdf._out("ET Q")


class _Pen:
    """Where the reader of the PDF stands in a line, and how to bring it to the next shape; lengths in em."""

    def __init__(self, size_pt: float) -> None:
        self._size_pt = size_pt
        self._x = self._y = self._thickened = 0.0

    def taken(self, cut: Cut, thickened: float) -> str:
        """Operators that change the font."""
        (self._font, self._numbers), self._thickened = cut, thickened
        mode = f"{FILL_AND_STROKE} Tr {thickened * self._size_pt:.3f} w" if thickened else f"{FILL} Tr"
        return f"/F{cut.font.i} {self._size_pt:g} Tf {mode}"

    def drawn(self, glyphs: Iterable[tuple[Glyph, str]]) -> str:
        """Operators for shapes; each is named by its letters, or by none where another one is."""
        done = list[str]()
        for y, group in groupby(glyphs, key=lambda shape: round(shape[0].y, 4)):
            if y != self._y:
                done.append(f"{y * self._size_pt:.3f} Ts")
            self._y = y
            done.append(f"[{''.join(self._moved(glyph, letters) for glyph, letters in group)}] TJ")
        return " ".join(done)

    def _moved(self, glyph: Glyph, letters: str) -> str:
        """HarfBuzz moves a thickened shape to the right by half of that; a PDF does not."""
        number = self._numbers[glyph.number]
        name = self._font.ttfont.getGlyphName(number)
        width = round(self._font.scale * self._font.ttfont["hmtx"].metrics[name][0])
        kept = self._font.subset.get_glyph(
            glyph=number, unicode=tuple(map(ord, letters)), glyph_name=name, glyph_width=width
        )
        back = round(1000 * (self._x - glyph.x - self._thickened / 2))
        self._x += (width - back) / 1000
        return f"{back or ''}<{self._font.subset.pick_glyph(kept) or 0:04X}>"


def _cut(pdf: FPDF, face: Typeface, numbers: set[int]) -> Cut:
    """The typeface with these shapes only, as a variable font stands now."""
    wanted = hb.SubsetInput()
    wanted.glyph_set.update(numbers)
    wanted.unicode_set.add(ord(" "))  # fpdf2 asks every font for a space
    whole = face.font.face
    for tag, place in face.axes:
        wanted.pin_axis_location(whole, tag, place)
    plan = hb.SubsetPlan(whole, wanted)
    data = with_quadratic_outlines(plan.execute().blob.data)
    font = TTFFont(pdf, io.BytesIO(data), f"font{len(pdf.fonts) + 1}", "")  # type: ignore[arg-type]
    pdf.fonts[font.fontkey] = font
    return Cut(font, dict(plan.old_to_new_glyph_mapping))


def _words(part: Shaped) -> Iterator[tuple[str | None, list[tuple[Glyph, str]]]]:
    """The shapes of a run, each with its letters; words whose letters and shapes do not pair are named whole.

    Readers put letters that run to the left in order by themselves, one shape after the other; there only
    letters with their marks are named together.
    """
    lettered = list(_lettered(part))
    is_space = [letters.isspace() for _, letters in lettered]
    starts = [is_space[i] != is_space[i - 1] if part.run.rightwards else True for i in range(len(lettered))]
    word, words = -1, list[int]()
    for place, (glyph, _) in enumerate(lettered):
        same = place > 0 and glyph.cluster == lettered[place - 1][0].cluster
        word += starts[place] and not same
        words.append(word)
    for _, group in groupby(zip(words, lettered, strict=True), key=lambda one: one[0]):
        glyphs = [shape for _, shape in group]
        paired = all(letters for _, letters in glyphs)
        ordered = sorted(glyphs, key=lambda shape: shape[0].cluster)
        yield None if paired else "".join(letters for _, letters in ordered), glyphs


def _lettered(part: Shaped) -> Iterator[tuple[Glyph, str]]:
    """The first shape of each cluster has all letters of it, the others none."""
    text = part.run.text
    starts = sorted({glyph.cluster for glyph in part.glyphs})
    letters = {start: text[start:end] for start, end in zip(starts, [*starts[1:], len(text)], strict=True)}
    for glyph in part.glyphs:
        yield glyph, letters.pop(glyph.cluster, "")


def _utf16(words: str) -> str:
    """A text string (ISO 32000-1, 7.9.2.2) in hexadecimal digits."""
    return ("\ufeff" + words).encode("utf-16-be").hex().upper()
