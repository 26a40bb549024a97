"""EXIF orientations (tag 0112h), as the EXIF standard (CIPA DC-008, from memory) and Pillow have them.

Worked with a picture three pixels wide and two high, whose bright pixel stands at the top left.
"""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image, ImageOps

from mediacheck.media.facts import MediaFacts
from mediacheck.media.stills import ORIENTATION_TAG, read

BRIGHT_AT = {
    1: (0, 0, "3x2"),
    2: (0, 2, "3x2"),
    3: (1, 2, "3x2"),
    4: (1, 0, "3x2"),
    5: (0, 0, "2x3"),
    6: (0, 1, "2x3"),
    7: (2, 1, "2x3"),
    8: (2, 0, "2x3"),
}
"""Orientation to row and column of the bright pixel in the picture as shown, and that picture's size."""


def marked(orientation: int) -> bytes:
    picture = Image.new("L", (3, 2))
    picture.putpixel((0, 0), 255)
    exif = Image.Exif()
    exif[ORIENTATION_TAG] = orientation
    file = io.BytesIO()
    picture.save(file, "PNG", exif=exif)
    return file.getvalue()


@pytest.mark.parametrize("orientation", BRIGHT_AT)
def test_where_each_orientation_puts_the_bright_pixel(orientation: int) -> None:
    """What the values mean, so that the words for them can be relied on (6 is clockwise 90 degrees)."""
    with Image.open(io.BytesIO(marked(orientation))) as stored:
        shown = ImageOps.exif_transpose(stored)
    pixels = {(x, y): shown.getpixel((x, y)) for x in range(shown.width) for y in range(shown.height)}
    (bright,) = [(y, x) for (x, y), value in pixels.items() if value == 255]
    assert (*bright, f"{shown.width}x{shown.height}") == BRIGHT_AT[orientation]


@pytest.mark.parametrize("orientation", BRIGHT_AT)
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WebP"])
def test_the_orientation_is_read_and_the_stored_size_kept(
    orientation: int, kind: str, tmp_path: Path
) -> None:
    """Width and height are those of the stored picture: simple players do not turn it."""
    exif = Image.Exif()
    exif[ORIENTATION_TAG] = orientation
    Image.new("RGB", (30, 20)).save(tmp_path / "still", kind, exif=exif)
    facts = read(tmp_path / "still")
    assert isinstance(facts, MediaFacts)
    assert facts.still is not None
    assert (facts.still.orientation, facts.still.width, facts.still.height) == (orientation, 30, 20)


@pytest.mark.parametrize("value", [0, 9, 255, None])
def test_a_value_outside_1_to_8_or_none_means_upright(value: int | None, tmp_path: Path) -> None:
    exif = Image.Exif()
    if value is not None:
        exif[ORIENTATION_TAG] = value
    Image.new("RGB", (30, 20)).save(tmp_path / "still", "JPEG", exif=exif)
    facts = read(tmp_path / "still")
    assert isinstance(facts, MediaFacts)
    assert facts.still is not None
    assert facts.still.orientation == 1
