"""Draws and measures lines of text in any script on a page.

It must not know what the text is about.
"""

from __future__ import annotations

import unicodedata
from bisect import bisect_left
from collections.abc import Iterator
from functools import lru_cache
from itertools import accumulate, takewhile
from typing import Literal, NamedTuple

import uharfbuzz as hb
from PIL import Image

from mediacheck.sheet.fonts import Typeface, Weight
from mediacheck.sheet.runs import Run, clean, joins, runs

Anchor = Literal["left", "middle", "right"]
Ink = tuple[int, int, int]
BLACK: Ink = (0, 0, 0)
ELLIPSIS = "…"
BREAK_AFTER = " -_/\\,;+"
LEADING = 1.3
"""Distance of baselines, in parts of the size of the letters."""
ASCENT = 1.0
"""From the top of a line to its baseline, in parts of the size of the letters."""


class _Glyph(NamedTuple):
    """One shape at its place; x and y in em, y upwards."""

    face: Typeface
    number: int
    x: float
    y: float


class _Line(NamedTuple):
    glyphs: tuple[_Glyph, ...]
    width_em: float


def line_px(size_px: int) -> int:
    """Height of one line."""
    return round(size_px * LEADING)


def width_px(text: str, size_px: int, weight: Weight = "regular") -> int:
    """How much room a line of text takes on paper."""
    return round(_line(clean(text), weight).width_em * size_px)


def draw(
    page: Image.Image,
    at: tuple[int, int],
    text: str,
    size_px: int,
    weight: Weight = "regular",
    *,
    ink: Ink = BLACK,
    anchor: Anchor = "left",
) -> int:
    """Draw one line with its top left (or top middle, or top right) corner at a place; returns its width."""
    line = _line(clean(text), weight)
    width = round(line.width_em * size_px)
    left = at[0] - {"left": 0, "middle": width // 2, "right": width}[anchor]
    if (drawn := _rastered(line, size_px)) is not None:
        mask, x, y = drawn
        page.paste(ink, (left + x, at[1] + round(ASCENT * size_px) + y), mask)
    return width


def shortened(text: str, size_px: int, weight: Weight, room_px: int) -> str:
    """The text, or its beginning and end with an ellipsis between them where it needs more room."""
    text = clean(text)
    if width_px(text, size_px, weight) <= room_px:
        return text
    parts = list(clusters(text))
    fits = bisect_left(
        range(1, len(parts)), True, key=lambda kept: _too_wide(parts, kept, size_px, weight, room_px)
    )
    return _abridged(parts, fits)


def _too_wide(parts: list[str], kept: int, size_px: int, weight: Weight, room_px: int) -> bool:
    return width_px(_abridged(parts, kept), size_px, weight) > room_px


def _abridged(parts: list[str], kept: int) -> str:
    """So many letters of both ends. The end of a file name says what it is, so both ends get half."""
    return "".join((*parts[: (kept + 1) // 2], ELLIPSIS, *parts[len(parts) - kept // 2 :]))


def wrapped(text: str, size_px: int, weight: Weight, room_px: int, lines_max: int) -> tuple[str, ...]:
    """The text in at most so many lines, broken where a word or a part of a name ends if that can be."""
    room = lines_max * room_px
    while room > room_px:
        lines = tuple(_broken(shortened(text, size_px, weight, room), size_px, weight, room_px))
        if len(lines) <= lines_max:
            return lines
        room -= room_px // 4
    return (shortened(text, size_px, weight, room_px),)


def clusters(text: str) -> Iterator[str]:
    """Letters, each with the marks that belong to it."""
    cluster = ""
    for letter in text:
        if cluster and not joins(letter):
            yield cluster
            cluster = ""
        cluster += letter
    if cluster:
        yield cluster


def _broken(text: str, size_px: int, weight: Weight, room_px: int) -> Iterator[str]:
    """Fill line after line; where words allow it, end a line at a break between them."""
    parts = list(clusters(text))
    while parts:
        fits = max(1, _count_that_fits(parts, size_px, weight, room_px))
        end = fits if fits == len(parts) else _best_break(parts, fits)
        yield "".join(parts[:end]).strip()
        parts = parts[end:]


def _best_break(parts: list[str], fits: int) -> int:
    """After a word or a part of a name; else before the extension; else wherever the room ends."""
    words = [i for i in range(1, fits + 1) if parts[i - 1] in BREAK_AFTER]
    extensions = [i for i in range(1, fits + 1) if parts[i] == "."]
    return (words or extensions or [fits])[-1]


def _count_that_fits(parts: list[str], size_px: int, weight: Weight, room_px: int) -> int:
    widths = accumulate(_line(part, weight).width_em * size_px for part in parts)
    return sum(1 for _ in takewhile(lambda width: width <= room_px, widths))


@lru_cache(maxsize=8192)
def _line(text: str, weight: Weight) -> _Line:
    glyphs, x = list[_Glyph](), 0.0
    language = _language(text)
    for run in runs(text, weight):
        shaped, advance = _shaped(run, language)
        glyphs.extend(glyph._replace(x=glyph.x + x) for glyph in shaped)
        x += advance
    return _Line(tuple(glyphs), x)


def _shaped(run: Run, language: str) -> tuple[list[_Glyph], float]:
    buffer = hb.Buffer()
    buffer.add_str(run.text)
    buffer.direction = "ltr" if run.rightwards else "rtl"
    buffer.script = run.script or "Zyyy"
    buffer.language = language
    hb.shape(run.face.font, buffer)
    glyphs, x, em = list[_Glyph](), 0.0, run.face.upem
    for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        at = x + place.x_offset
        glyphs.append(_Glyph(run.face, info.codepoint, at / em, place.y_offset / em))
        x += place.x_advance
    return glyphs, x / em


def _language(text: str) -> str:
    """Chinese, Japanese and Korean write some letters of one code point differently."""
    names = {unicodedata.name(letter, "").partition(" ")[0] for letter in text}
    if names & {"HIRAGANA", "KATAKANA"}:
        return "ja"
    return "ko" if "HANGUL" in names else "und"


def _rastered(line: _Line, size_px: int) -> tuple[Image.Image, int, int] | None:
    """The line as a mask, and where its top left corner lies, seen from the start of the baseline."""
    raster = hb.RasterDraw()
    for glyph in line.glyphs:
        scale = size_px / glyph.face.upem
        raster.transform = (scale, 0.0, 0.0, scale, glyph.x * size_px, glyph.y * size_px)
        raster.draw_glyph(glyph.face.font, glyph.number)
    image = raster.render()
    extents = image.extents if image is not None else None
    if extents is None or not extents.width or not extents.height:
        return None
    # HarfBuzz counts rows upwards from the bottom.
    size, rows = (extents.width, extents.height), (extents.stride, -1)
    mask = Image.frombytes("L", size, bytes(image.buffer), "raw", "L", *rows)
    return mask, extents.x_origin, -extents.y_origin - extents.height
