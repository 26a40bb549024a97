"""Fonts with the outlines that a PDF of fpdf2 can carry.

It must not know which letters a font is for.
"""

from __future__ import annotations

import io

from fontTools.pens.cu2quPen import Cu2QuPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont, newTable

ERROR_MAX = 0.5
"""How far a curve may be off, in units of the font: a two thousandth of the size of the letters."""


def with_quadratic_outlines(data: bytes) -> bytes:
    """The same font, with TrueType outlines in place of those of PostScript.

    fpdf2 declares a font with cubic outlines (CFF) for what it is only where its shapes go by CID; else it
    says CIDFontType2, which ISO 32000-1, table 117, keeps for TrueType, and readers complain.
    """
    font = TTFont(io.BytesIO(data), recalcTimestamp=False)
    if "CFF " not in font or hasattr(font["CFF "].cff.topDictIndex[0], "ROS"):
        return data
    shapes, order = font.getGlyphSet(), font.getGlyphOrder()
    glyphs = {}
    for name in order:
        pen = TTGlyphPen(None)
        shapes[name].draw(Cu2QuPen(pen, ERROR_MAX, reverse_direction=True))
        glyphs[name] = pen.glyph()
    font["loca"], font["glyf"] = newTable("loca"), newTable("glyf")
    font["glyf"].glyphOrder, font["glyf"].glyphs = order, glyphs
    _make_truetype(font)
    whole = io.BytesIO()
    font.save(whole)
    return whole.getvalue()


def _make_truetype(font: TTFont) -> None:
    """What else says that a font is TrueType (OpenType 1.9: "maxp" version 1.0, the version of the file)."""
    maxp = font["maxp"]
    maxp.tableVersion = 0x00010000
    maxp.maxZones = 1
    for name in (
        *("maxTwilightPoints", "maxStorage", "maxFunctionDefs", "maxInstructionDefs", "maxStackElements"),
        *("maxSizeOfInstructions", "maxComponentElements", "maxPoints", "maxContours"),
        *("maxCompositePoints", "maxCompositeContours", "maxComponentDepth"),
    ):
        setattr(maxp, name, 0)
    font["head"].glyphDataFormat = 0
    font["post"].formatType = 3.0
    for tag in ("CFF ", "VORG"):
        if tag in font:
            del font[tag]
    font.sfntVersion = "\x00\x01\x00\x00"
