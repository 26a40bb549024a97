"""Which font has which letters: the fonts that came with the installation, for every script they know.

It must not look at the fonts of the system: a page looks the same on every machine.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path

import pymupdf_fonts
import uharfbuzz as hb

from mediacheck.paper.look import Weight

BOLD_EM = 0.03
"""How much a font without a bold cut is thickened, in parts of its size."""
BOLD_CUTS = ("figbo", "notosbo")
WEIGHT_AXIS, BOLD_WEIGHT = "wght", 700.0


@dataclass(frozen=True, slots=True, eq=False)
class Typeface:
    """One font in one weight. `letters` holds the code points that it has a shape for."""

    font: hb.Font
    letters: hb.Set
    upem: int
    """Font units to the em."""
    axes: tuple[tuple[str, float], ...]
    """Where a variable font stands on each of its axes."""
    thickened_em: float
    """0 where the font has a cut of this weight."""


def typeface_for(letter: str, weight: Weight) -> Typeface | None:
    """The first font that has this letter, or None where no font has it."""
    return _typeface_for(letter, weight)


def main_typeface(weight: Weight) -> Typeface:
    """The font of the page, in which everything stands that it has letters for."""
    return _bundled("figbo" if weight == "bold" else "figo", weight)


@lru_cache(maxsize=8192)
def _typeface_for(letter: str, weight: Weight) -> Typeface | None:
    return next((face for face in _typefaces(weight) if ord(letter) in face.letters), None)


def _typefaces(weight: Weight) -> Iterator[Typeface]:
    """All of them, the preferred first; each is loaded when a search gets to it."""
    yield main_typeface(weight)
    yield _bundled("notosbo" if weight == "bold" else "notos", weight)
    for path in _font_files():
        yield _from_file(path, weight)
    yield _bundled("symbol1", weight)
    yield _bundled("symbol2", weight)


@lru_cache
def _font_files() -> tuple[Path, ...]:
    """CJK first, then one file per script; emoji last, since that file also holds digits."""
    cjk = _files_of("cvttf_NotoSansCJK_Regular", "*.otf")
    scripts = [path for path in _files_of("manimgx_fonts", "*.ttf") if "Italic" not in path.name]
    return (*cjk, *sorted(scripts, key=lambda path: ("Emoji" in path.name, path.name)))


def _files_of(package: str, pattern: str) -> list[Path]:
    spec = find_spec(package)
    folders = spec.submodule_search_locations if spec else None
    return sorted(path for folder in folders or () for path in Path(folder).glob(pattern))


@cache
def _bundled(name: str, weight: Weight) -> Typeface:
    return _made(pymupdf_fonts.myfont(name), weight, is_bold_cut=name in BOLD_CUTS)


@cache
def _from_file(path: Path, weight: Weight) -> Typeface:
    return _made(path.read_bytes(), weight, is_bold_cut=False)


def _made(data: bytes, weight: Weight, *, is_bold_cut: bool) -> Typeface:
    face = hb.Face(data)
    font, axes, thickened_em = hb.Font(face), {axis.tag: axis.default_value for axis in face.axis_infos}, 0.0
    if weight == "bold" and WEIGHT_AXIS in axes:
        axes[WEIGHT_AXIS] = BOLD_WEIGHT
        font.set_variations({WEIGHT_AXIS: BOLD_WEIGHT})
    elif weight == "bold" and not is_bold_cut:
        thickened_em = BOLD_EM
        font.synthetic_bold = (BOLD_EM, BOLD_EM, False)
    return Typeface(font, face.unicodes, face.upem, tuple(axes.items()), thickened_em)
