"""Pixels of pages, for tests that look at them."""

from __future__ import annotations

from typing import cast

from PIL import Image, ImageOps

from mediacheck.paper.look import MM_PER_INCH
from mediacheck.paper.png import DPI

Colour = tuple[int, int, int]


def mm(px: float) -> float:
    """Millimetres on paper of so many pixels of a PNG page."""
    return px * MM_PER_INCH / DPI


def px(mm: float) -> int:
    """Pixels of a PNG page to so many millimetres."""
    return round(mm / MM_PER_INCH * DPI)


def at(image: Image.Image, x: int, y: int) -> Colour:
    """Red, green and blue of a pixel of an RGB image."""
    return cast(Colour, image.getpixel((x, y)))


def alike(one: Colour, other: Colour, by: int = 12) -> bool:
    return all(abs(a - b) <= by for a, b in zip(one, other, strict=True))


def inked(image: Image.Image, box: tuple[int, int, int, int] | None = None) -> int:
    """How many pixels of a region are darker than half."""
    part = image.convert("L").crop(box) if box else image.convert("L")
    return sum(part.histogram()[:128])


def same(one: Image.Image, other: Image.Image) -> bool:
    return one.size == other.size and one.tobytes() == other.tobytes()


def extent(page: Image.Image) -> tuple[int, int, int, int]:
    """The smallest box around all that is not white."""
    box = ImageOps.invert(page.convert("L")).getbbox()
    assert box is not None
    return box
