"""Which way up a new picture is, and that nothing in it is squeezed: a viewer sees what the sender saw.

Pictures are drawn and looked at by Pillow, and turned here as a viewer would turn them. What a mark means is
taken from Apple's QuickTime File Format (`surgery`) and from Pillow's reading of EXIF.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageOps

from mediacheck.repair.model import Fit, Wishes
from tests.media.surgery import turned
from tests.repair.bench import fixed
from tests.repair.films import MARKS, PLAIN, X264, player, run
from tests.repair.seen_by_others import ORIENTATION, decoded

WIDE, HIGH = (320, 180), (180, 320)
CORNERS = {"red": (200, 30, 30), "green": (30, 170, 30), "blue": (30, 30, 200), "yellow": (200, 190, 30)}
"""Top left, top right, bottom left, bottom right."""
GREY, WHITE = (60, 60, 60), (235, 235, 235)


def corners(size: tuple[int, int]) -> Image.Image:
    """A picture that shows which way up it is, and whether it is a mirror image."""
    small = Image.new("RGB", (2, 2))
    for number, colour in enumerate(CORNERS.values()):
        small.putpixel((number % 2, number // 2), colour)
    return small.resize(size, Image.Resampling.NEAREST)


def seen(picture: Image.Image) -> list[str]:
    """The colours of the four corners."""
    across, down = picture.size
    places = [(across * x // 4, down * y // 4) for y in (1, 3) for x in (1, 3)]
    pixels = np.array([picture.convert("RGB").getpixel(place) for place in places], float)
    names = list(CORNERS)
    return [
        names[int(np.abs(np.array(list(CORNERS.values())) - pixel).sum(axis=1).argmin())] for pixel in pixels
    ]


def film(picture: Image.Image, path: Path, filters: str = "null", mark: int = 0) -> None:
    """A second of a picture, marked to be turned so many degrees clockwise."""
    still = path.with_name("still.png")
    picture.save(still)
    source = ("-loop", "1", "-r", "25", "-t", "1", "-i", still)
    matrix = ("-vf", f"scale=out_color_matrix=bt709,{filters}", *X264, *PLAIN, *MARKS)
    run(*source, *matrix, "-movflags", "+faststart", path)
    still.unlink()
    if mark:
        path.write_bytes(turned(mark)(path.read_bytes()))


def first_picture(path: Path, ffmpeg: str) -> Image.Image:
    """As it is stored: no mark is followed."""
    out = ("-frames:v", "1", "-f", "image2pipe", "-c:v", "png", "-")
    return Image.open(io.BytesIO(decoded(path, ffmpeg, *out).stdout))


def mended(
    folder: Path, ffmpeg: str, fit: Fit = "contain", **sections: Mapping[str, Any]
) -> tuple[str, Image.Image]:
    """What became of the one file of a folder: the change, and what it looks like."""
    found = fixed(folder, folder.with_name("ready"), player(**sections), Wishes(fit=fit))
    (result,) = found.results
    path = folder.with_name("ready") / result.item.path
    if path.suffix == ".jpg":
        return result.item.change, Image.open(path)
    return result.item.change, first_picture(path, ffmpeg)


@pytest.fixture
def masters(tmp_path: Path) -> Path:
    """An empty folder."""
    (tmp_path / "masters").mkdir()
    return tmp_path / "masters"


@pytest.mark.parametrize("mark", [90, 180, 270])
def test_a_mark_is_followed(masters: Path, ffmpeg: str, mark: int) -> None:
    stored = corners(WIDE).rotate(mark, expand=True)  # counter-clockwise; the mark turns it back
    film(stored, masters / "seeds.mp4", mark=mark)
    change, new = mended(masters, ffmpeg)
    assert (change, new.size, seen(new)) == ("picture", WIDE, list(CORNERS))


@pytest.mark.parametrize("panel", [90, 270])
@pytest.mark.parametrize("mark", [0, 90, 180, 270])
def test_a_viewer_before_a_turned_panel_sees_it_upright(
    masters: Path, ffmpeg: str, panel: int, mark: int
) -> None:
    stored = corners(HIGH).rotate(mark, expand=True)
    film(stored, masters / "seeds.mp4", mark=mark)
    _, new = mended(masters, ffmpeg, screen={"turned_degrees": panel})
    assert new.size == WIDE
    assert seen(new.rotate(-panel, expand=True)) == list(CORNERS)  # clockwise, as the panel hangs


@pytest.mark.parametrize("orientation", range(1, 9))
def test_stills_are_turned_as_their_camera_says(masters: Path, ffmpeg: str, orientation: int) -> None:
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    corners(WIDE if orientation < 5 else HIGH).save(masters / "seeds.jpg", exif=exif, quality=95)
    with Image.open(masters / "seeds.jpg") as master:
        wanted = seen(ImageOps.exif_transpose(master))
    change, new = mended(masters, ffmpeg)
    assert (change, new.size) == ("still" if orientation > 1 else "copy", WIDE)
    assert seen(new) == wanted
    assert new.getexif().get(ORIENTATION, 1) == 1


@pytest.mark.parametrize("panel", [90, 270])
def test_stills_for_a_turned_panel_are_upright_before_it(masters: Path, ffmpeg: str, panel: int) -> None:
    corners((360, 640)).save(masters / "seeds.jpg", quality=95)
    _, new = mended(masters, ffmpeg, screen={"turned_degrees": panel})
    assert new.size == WIDE
    assert seen(new.rotate(-panel, expand=True)) == list(CORNERS)


def square(size: tuple[int, int], side: int) -> Image.Image:
    """A white square in the middle of grey."""
    picture = Image.new("RGB", size, GREY)
    left, top = (size[0] - side) // 2, (size[1] - side) // 2
    picture.paste(WHITE, (left, top, left + side, top + side))
    return picture


def sides(picture: Image.Image) -> tuple[int, int]:
    """Width and height of what is white."""
    white = np.asarray(picture.convert("L")) > 150
    return int(white.any(axis=0).sum()), int(white.any(axis=1).sum())


@pytest.mark.parametrize(
    ("stored", "aspect", "mark"),
    [((240, 180), "4/3", 0), ((180, 240), "3/4", 90), ((180, 240), "3/4", 270), ((160, 180), "2", 180)],
)
def test_pixels_that_are_not_square_become_so(
    masters: Path, ffmpeg: str, stored: tuple[int, int], aspect: str, mark: int
) -> None:
    """A square of 90 pixels in a picture of 320x180 that was squeezed."""
    squeezed = square(WIDE, 90).rotate(mark, expand=True).resize(stored)
    film(squeezed, masters / "seeds.mp4", filters=f"setsar={aspect}", mark=mark)
    _, new = mended(masters, ffmpeg)
    assert new.size == WIDE
    assert sides(new) == pytest.approx((90, 90), abs=2)


@pytest.mark.parametrize(
    ("fit", "wanted", "bars"), [("contain", (60, 60), 40), ("cover", (80, 80), 0), ("stretch", (80, 60), 0)]
)
def test_a_picture_of_another_shape_is_fitted_as_was_wished(
    masters: Path, ffmpeg: str, fit: Fit, wanted: tuple[int, int], bars: int
) -> None:
    film(square((240, 180), 60), masters / "seeds.mp4")
    _, new = mended(masters, ffmpeg, fit)
    assert new.size == WIDE
    assert sides(new) == pytest.approx(wanted, abs=2)
    row = np.asarray(new.convert("L"))[10]
    assert int((row < 30).argmin()) == pytest.approx(bars, abs=2)
    assert int((row[::-1] < 30).argmin()) == pytest.approx(bars, abs=2)
