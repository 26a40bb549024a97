"""Lines of text as shapes at their places: what every canvas draws, and what the room for it follows from.

It must not draw.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from typing import NamedTuple

import uharfbuzz as hb

from mediacheck.paper.look import Weight
from mediacheck.paper.runs import Run, clean, runs


class Glyph(NamedTuple):
    """One shape at its place in the line; x and y in em, y upwards."""

    number: int
    cluster: int
    """Where in the text of its run the letters begin that it belongs to."""
    x: float
    y: float


class Shaped(NamedTuple):
    """One run and its shapes, from left to right."""

    run: Run
    glyphs: tuple[Glyph, ...]


class Line(NamedTuple):
    """One line of text."""

    parts: tuple[Shaped, ...]
    width_em: float


def line_of(text: str, weight: Weight = "regular") -> Line:
    """The shapes of one line; what cannot be printed stands there as a sign."""
    return _line(clean(text), weight)


@lru_cache(maxsize=8192)
def _line(text: str, weight: Weight) -> Line:
    parts, x = list[Shaped](), 0.0
    language = _language(text)
    for run in runs(text, weight):
        glyphs, advance = _shaped(run, language, x)
        parts.append(Shaped(run, glyphs))
        x += advance
    return Line(tuple(parts), x)


def _shaped(run: Run, language: str, start: float) -> tuple[tuple[Glyph, ...], float]:
    buffer = hb.Buffer()
    buffer.add_str(run.text)
    buffer.direction = "ltr" if run.rightwards else "rtl"
    buffer.script = run.script or "Zyyy"
    buffer.language = language
    hb.shape(run.face.font, buffer)
    glyphs, x, em = list[Glyph](), 0.0, run.face.upem
    for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        at = start + (x + place.x_offset) / em
        glyphs.append(Glyph(info.codepoint, info.cluster, at, place.y_offset / em))
        x += place.x_advance
    return tuple(glyphs), x / em


def _language(text: str) -> str:
    """Chinese, Japanese and Korean write some letters of one code point differently."""
    names = {unicodedata.name(letter, "").partition(" ")[0] for letter in text}
    if names & {"HIRAGANA", "KATAKANA"}:
        return "ja"
    return "ko" if "HANGUL" in names else "und"
