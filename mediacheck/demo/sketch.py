"""A pen for flat pictures: shapes on a unit square, drawn large and scaled down so that edges are smooth.

It must not know what it draws.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from PIL import Image, ImageDraw

Point = tuple[float, float]
Colour = str
"""As "#rrggbb"."""

FINER = 3
"""How many pixels of the large drawing make one of the picture, in each direction."""
STEPS = 120
"""Corners of what looks round."""


class Sketch:
    """A transparent picture. Places and lengths are in parts of its shorter side, from its top left."""

    def __init__(self, width_px: int, height_px: int, ground: Colour | None = None) -> None:
        self._unit = min(width_px, height_px) * FINER
        mode_ground = (0, 0, 0, 0) if ground is None else ground
        self._image = Image.new("RGBA", (width_px * FINER, height_px * FINER), mode_ground)
        self._pen = ImageDraw.Draw(self._image)

    def shape(self, points: Iterable[Point], colour: Colour) -> None:
        """Fill the outline through these points."""
        self._pen.polygon([(x * self._unit, y * self._unit) for x, y in points], fill=colour)

    def disc(self, at: Point, radius: float, colour: Colour) -> None:
        """Fill a circle."""
        self.shape(oval(at, (radius, radius)), colour)

    def line(self, points: Sequence[Point], width: float, colour: Colour) -> None:
        """Draw a straight line or a soft curve with round ends."""
        self.shape(ribbon(points, width), colour)
        for end in (points[0], points[-1]):
            self.disc(end, width / 2, colour)

    def finished(self) -> Image.Image:
        """The picture in its own size."""
        # Averaging colours as they are would darken every edge: transparent pixels are black.
        return self._image.convert("RGBa").reduce(FINER).convert("RGBA")


def oval(at: Point, radii: Point, turn: float = 0.0) -> list[Point]:
    """The outline of an ellipse, turned clockwise by `turn` degrees."""
    return turned([(at[0] + radii[0] * c, at[1] + radii[1] * s) for c, s in _directions()], at, turn)


def petal(foot: Point, length: float, width: float, turn: float = 0.0) -> list[Point]:
    """The outline of a petal or leaf that grows from `foot`: upwards, or turned clockwise by degrees."""
    x, y = foot
    half = [(width / 2 * math.sin(math.pi * i / STEPS) ** 0.8, length * i / STEPS) for i in range(STEPS + 1)]
    right = [(x + dx, y - dy) for dx, dy in half]
    left = [(x - dx, y - dy) for dx, dy in reversed(half)]
    return turned(right + left, foot, turn)


def drop(at: Point, size: float) -> list[Point]:
    """The outline of a falling drop, `size` high, around its middle."""
    angles = [2 * math.pi * i / STEPS for i in range(STEPS)]
    widths = [0.42 * size * math.sin(a) * math.sin(a / 2) ** 1.3 for a in angles]
    return [(at[0] + w, at[1] - size / 2 * math.cos(a)) for w, a in zip(widths, angles, strict=True)]


def arc(at: Point, radii: Point, begin: float, end: float) -> list[Point]:
    """Points along an ellipse between two angles in degrees: 0 is at the right, 90 at the bottom."""
    angles = (math.radians(begin + (end - begin) * i / STEPS) for i in range(STEPS + 1))
    return [(at[0] + radii[0] * math.cos(a), at[1] + radii[1] * math.sin(a)) for a in angles]


def ribbon(points: Sequence[Point], width: float) -> list[Point]:
    """The outline of a soft curve with this width: pairs of points beside it, there and back."""
    left, right = list[Point](), list[Point]()
    for place, (x, y) in enumerate(points):
        before, after = points[max(0, place - 1)], points[min(len(points) - 1, place + 1)]
        along = (after[0] - before[0], after[1] - before[1])
        half = width / 2 / (math.hypot(*along) or 1)
        left.append((x + along[1] * half, y - along[0] * half))
        right.append((x - along[1] * half, y + along[0] * half))
    return left + right[::-1]


def turned(points: Iterable[Point], around: Point, degrees: float) -> list[Point]:
    """The points turned clockwise."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    moved = ((x - around[0], y - around[1]) for x, y in points)
    return [(around[0] + x * cos - y * sin, around[1] + x * sin + y * cos) for x, y in moved]


def _directions() -> list[Point]:
    return [(math.cos(2 * math.pi * i / STEPS), math.sin(2 * math.pi * i / STEPS)) for i in range(STEPS)]
