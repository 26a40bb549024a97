"""Draws the parts of a clip that move over each other: ground, hill, disc, motif, visitor and title.

It must not move them: how they move is for `clips`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from types import MappingProxyType
from typing import Literal

import pymupdf_fonts
from PIL import Image, ImageDraw, ImageFont

from mediacheck.demo.motifs import MOTIFS
from mediacheck.demo.scenes import CHAIN, Scene
from mediacheck.demo.sketch import Colour, Sketch, drop, oval, petal

GRASS, SOIL, SOIL_INK = "#6cae4f", "#4b3226", "#fff1d6"
REFERENCE_PX = 1080
"""Lengths below are in pixels of a picture whose shorter side is this long."""
MARGIN, TITLE, LINE, BRAND = 100, 240, 150, 50
LEADING, ASCENT = 1.02, 0.94
"""Distance of baselines, and room above the first one, in parts of the size of the letters."""
Layer = Literal["disc", "motif", "visitor", "hill", "title", "line"]
"""The line takes the place of the title after half of the time; the visitor crosses the picture."""


@dataclass(frozen=True, slots=True)
class Canvas:
    """The picture as a viewer sees it, upright. Sides are even: 4:2:0 colour needs that."""

    width_px: int
    height_px: int

    @property
    def unit(self) -> float:
        """Pixels of this canvas per pixel of the reference."""
        return min(self.width_px, self.height_px) / REFERENCE_PX

    @property
    def is_upright(self) -> bool:
        """Whether it is higher than wide."""
        return self.height_px > self.width_px


@dataclass(frozen=True, slots=True)
class Part:
    """One picture and where its top left corner belongs."""

    image: Image.Image
    x: int
    y: int


@dataclass(frozen=True, slots=True)
class Artwork:
    """All parts of a scene. The ground is higher than the canvas, so that it can roll."""

    ground: Part
    layers: Mapping[Layer, Part]
    """What lies on the ground, the lowest first."""


def artwork(scene: Scene, canvas: Canvas, travel_px: int) -> Artwork:
    """Draw a scene. The ground repeats after `travel_px` (even), and is higher than the canvas by that."""
    layers: dict[Layer, Part] = {
        "disc": _disc(scene, canvas),
        "motif": _motif(scene.motif, scene, canvas, 660),
        "visitor": _motif(scene.product.visitor, scene, canvas, 160),
        "hill": _hill(scene, canvas),
        "title": _words(scene.title, "bold", TITLE, scene, canvas),
        "line": _words(scene.line, "regular", LINE, scene, canvas),
    }
    return Artwork(Part(_ground(scene, canvas, travel_px), 0, 0), MappingProxyType(layers))


def _ground(scene: Scene, canvas: Canvas, travel_px: int) -> Image.Image:
    """Rows of drops or seeds; every second row stands between the others."""
    tile = _tile(scene, canvas, travel_px)
    ground = Image.new("RGB", (canvas.width_px, canvas.height_px + travel_px))
    for top in range(0, ground.height, travel_px):
        ground.paste(tile, (0, top))
    return ground


def _tile(scene: Scene, canvas: Canvas, travel_px: int) -> Image.Image:
    pen = Sketch(canvas.width_px, travel_px, scene.ground)
    side = min(canvas.width_px, travel_px)
    rows = max(2, 2 * round(travel_px / (240 * canvas.unit)))
    columns = round(canvas.width_px / (240 * canvas.unit))
    shape = drop if scene.product.pattern == "drops" else _seed
    for row in range(rows):
        for column in range(-1, columns + 1):
            x = (column + 0.5 + row % 2 / 2) * canvas.width_px / columns
            y = (row + 0.5) * travel_px / rows
            pen.shape(shape((x / side, y / side), 70 * canvas.unit / side), scene.pattern_colour)
    return pen.finished().convert("RGB")


def _seed(at: tuple[float, float], size: float) -> list[tuple[float, float]]:
    return petal((at[0] - size / 4, at[1] + size / 3), size, size * 0.5, 35)


def _hero_place(canvas: Canvas) -> tuple[float, float]:
    """The middle of the disc, in pixels of the reference."""
    return (540, 1120) if canvas.is_upright else (1440, 470)


def _disc(scene: Scene, canvas: Canvas) -> Part:
    def draw(pen: Sketch) -> None:
        pen.disc((0.5, 0.5), 0.5, scene.disc)

    return _square(draw, scene.ground, canvas, _hero_place(canvas), 800)


def _motif(name: str, scene: Scene, canvas: Canvas, size: int) -> Part:
    return _square(MOTIFS[name], scene.ground, canvas, _hero_place(canvas), size)


def _square(
    draw: Callable[[Sketch], None], ground: Colour, canvas: Canvas, middle: tuple[float, float], size: int
) -> Part:
    side = _even(size * canvas.unit)
    pen = Sketch(side, side)
    draw(pen)
    x, y = (_even(place * canvas.unit - side / 2) for place in middle)
    return Part(_matted(pen.finished(), ground), x, y)


def _hill(scene: Scene, canvas: Canvas) -> Part:
    """The soil at the bottom, with the chain's name on it."""
    unit, width = canvas.unit, canvas.width_px
    height = _even((250 if canvas.is_upright else 200) * unit)
    pen = Sketch(width, height)
    across, blade = width / height, 26 * unit / height
    for place in range(round(width / (30 * unit)) + 1):
        x, lean = place * 30 * unit / height, (-14, 9, -4, 16, 2)[place % 5]
        pen.shape(petal((x, 0.42), 3.2 * blade, blade, lean), GRASS)
    pen.shape(oval((across / 2, 0.68), (across * 0.8, 0.4)), GRASS)
    pen.shape(oval((across / 2, 0.86), (across * 0.9, 0.44)), SOIL)
    image = pen.finished()
    _sign(image, scene, canvas)
    return Part(_matted(image, scene.ground), 0, canvas.height_px - height)


def _sign(image: Image.Image, scene: Scene, canvas: Canvas) -> None:
    """The lantern and the name of the chain; on a wide picture the product's name at the right."""
    unit, side = canvas.unit, round(96 * canvas.unit)
    pen = Sketch(side, side)
    pen.disc((0.5, 0.5), 0.5, SOIL_INK)
    MOTIFS["lantern"](pen)
    left, baseline = round(MARGIN * unit), image.height - round(34 * unit)
    image.alpha_composite(pen.finished(), (left, image.height - round(26 * unit) - side))
    words, font = ImageDraw.Draw(image), _font("bold", round(BRAND * unit))
    words.text((left + side + 16 * unit, baseline - 14 * unit), CHAIN, SOIL_INK, font, anchor="ls")
    right = canvas.width_px - MARGIN * unit
    if not canvas.is_upright:
        font = _font("regular", round(BRAND * 0.8 * unit))
        words.text((right, baseline - 14 * unit), scene.product.name, SOIL_INK, font, anchor="rs")


def _words(lines: tuple[str, ...], weight: str, most: int, scene: Scene, canvas: Canvas) -> Part:
    """Lines of text as large as the room lets them be, `most` pixels of the reference at most."""
    unit = canvas.unit
    room_px = (REFERENCE_PX - 2 * MARGIN if canvas.is_upright else 900) * unit
    size = _largest(lines, weight, round(most * unit), room_px)
    step = round(size * LEADING)
    image = Image.new("RGBA", (_even(room_px + 20 * unit), _even(step * len(lines) + size * 0.25)))
    pen = ImageDraw.Draw(image)
    for row, text in enumerate(lines):
        pen.text((0, round(size * ASCENT) + row * step), text, scene.ink, _font(weight, size), anchor="ls")
    top = 330 * unit if canvas.is_upright else 430 * unit
    return Part(_matted(image, scene.ground), _even(MARGIN * unit), _even(top - image.height / 2))


def _largest(lines: tuple[str, ...], weight: str, most_px: int, room_px: float) -> int:
    """The size at which the longest line fits into the room, `most_px` at most."""
    widest = max(_font(weight, most_px).getlength(line) for line in lines)
    return int(min(most_px, most_px * room_px / widest))


@cache
def _font(weight: str, size_px: int) -> ImageFont.FreeTypeFont:
    data: bytes = pymupdf_fonts.myfont("figbo" if weight == "bold" else "figo")
    return ImageFont.truetype(BytesIO(data), max(1, size_px))


def _matted(image: Image.Image, ground: Colour) -> Image.Image:
    """The ground's colour below what is transparent: 4:2:0 mixes the colours of neighbours at an edge."""
    alpha = image.getchannel("A")
    matte = Image.new("RGBA", image.size, ground)
    matte.paste(image.convert("RGB"), mask=alpha.point(lambda value: 255 if value else 0))
    matte.putalpha(alpha)
    return matte


def _even(pixels: float) -> int:
    return 2 * round(pixels / 2)
