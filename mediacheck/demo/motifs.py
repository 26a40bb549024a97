"""The things in the demo's pictures: a watering can, a poppy, a bee and their friends.

It must not know where they stand: each is drawn on a square whose side is 1.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from mediacheck.demo.sketch import Colour, Point, Sketch, arc, drop, oval, petal, turned

LEAF, STEM, DEEP_LEAF = "#5fae57", "#3f8f4f", "#2f7545"
INK, BLUSH, CREAM, WATER = "#3a2a2a", "#f2a08c", "#fff6e3", "#55b9dd"
Motif = Callable[[Sketch], None]


def face(pen: Sketch, at: Point, size: float, ink: Colour = INK) -> None:
    """Two eyes and a smile, `size` wide."""
    x, y = at
    for side in (-1, 1):
        pen.disc((x + side * size * 0.3, y), size * 0.075, ink)
        pen.shape(oval((x + side * size * 0.47, y + size * 0.17), (size * 0.1, size * 0.065)), BLUSH)
    pen.line(arc((x, y + size * 0.06), (size * 0.17, size * 0.15), 15, 165), size * 0.06, ink)


def watering_can(pen: Sketch) -> None:
    """A yellow can that pours."""
    pen.line(arc((0.72, 0.53), (0.19, 0.15), -90, 90), 0.045, "#d98a1f")
    pen.line(arc((0.57, 0.36), (0.17, 0.2), 180, 360), 0.04, "#d98a1f")
    pen.shape([(0.42, 0.68), (0.42, 0.56), (0.21, 0.3), (0.15, 0.35)], "#e39a2d")
    pen.shape([(0.07, 0.36), (0.25, 0.2), (0.275, 0.235), (0.1, 0.4)], "#d98a1f")
    pen.shape([(0.4, 0.36), (0.74, 0.36), (0.79, 0.8), (0.35, 0.8)], "#ffc145")
    pen.shape(oval((0.57, 0.36), (0.17, 0.04)), "#c97a15")
    pen.shape(oval((0.57, 0.8), (0.22, 0.04)), "#ffc145")
    pen.shape([(0.352, 0.72), (0.788, 0.72), (0.79, 0.77), (0.35, 0.77)], "#f4ae2f")
    face(pen, (0.57, 0.54), 0.2)
    for at, size in (((0.07, 0.5), 0.1), ((0.15, 0.62), 0.08), ((0.04, 0.7), 0.075), ((0.16, 0.8), 0.1)):
        pen.shape(drop(at, size), WATER)


def plant_pot(pen: Sketch) -> None:
    """A seedling in a pot."""
    pen.line([(0.5, 0.56), (0.5, 0.22)], 0.035, STEM)
    for turn, length, foot, colour in (
        (-58, 0.36, 0.42, LEAF), (58, 0.36, 0.42, DEEP_LEAF),
        (-38, 0.26, 0.27, DEEP_LEAF), (38, 0.26, 0.27, LEAF), (0, 0.2, 0.25, LEAF),
    ):  # fmt: skip
        pen.shape(petal((0.5, foot), length, length * 0.5, turn), colour)
    pen.shape([(0.27, 0.6), (0.73, 0.6), (0.66, 0.93), (0.34, 0.93)], "#d9694a")
    pen.shape([(0.23, 0.53), (0.77, 0.53), (0.75, 0.63), (0.25, 0.63)], "#e98262")
    face(pen, (0.5, 0.74), 0.2)


def rain_cloud(pen: Sketch) -> None:
    """A cloud in a good mood."""
    for at, radius in (((0.3, 0.46), 0.17), ((0.5, 0.36), 0.22), ((0.71, 0.45), 0.18), ((0.5, 0.5), 0.17)):
        pen.disc(at, radius, "#ffffff")
    pen.shape([(0.28, 0.45), (0.72, 0.45), (0.72, 0.63), (0.28, 0.63)], "#ffffff")
    face(pen, (0.5, 0.44), 0.24)
    for x, y, size in ((0.27, 0.76, 0.13), (0.44, 0.84, 0.15), (0.6, 0.75, 0.13), (0.76, 0.85, 0.14)):
        pen.shape(drop((x, y), size), "#3f9fca")


def timer(pen: Sketch) -> None:
    """A clock with a tap's patience."""
    for side in (-1, 1):
        pen.line([(0.5 + side * 0.17, 0.75), (0.5 + side * 0.25, 0.92)], 0.05, "#d98a1f")
        pen.shape(oval((0.5 + side * 0.22, 0.19), (0.14, 0.1), side * 38), "#ffc145")
    pen.disc((0.5, 0.52), 0.36, "#e39a2d")
    pen.disc((0.5, 0.52), 0.3, CREAM)
    for x, y in ((0.5, 0.27), (0.5, 0.77), (0.25, 0.52), (0.75, 0.52)):
        pen.disc((x, y), 0.02, INK)
    pen.line([(0.5, 0.52), (0.5, 0.34)], 0.032, INK)
    pen.line([(0.5, 0.52), (0.37, 0.45)], 0.032, INK)
    pen.disc((0.5, 0.52), 0.03, "#d9694a")
    face(pen, (0.5, 0.6), 0.2)


def tomato(pen: Sketch) -> None:
    """A tomato without worries."""
    pen.shape(oval((0.5, 0.56), (0.37, 0.34)), "#d8412f")
    pen.shape(oval((0.46, 0.52), (0.31, 0.29)), "#e8543d")
    pen.shape(oval((0.3, 0.42), (0.05, 0.08), 35), "#f4927e")
    for turn in (-110, -62, 0, 62, 110):
        pen.shape(petal((0.5, 0.27), 0.2, 0.085, turn), DEEP_LEAF)
    pen.line([(0.5, 0.27), (0.54, 0.13)], 0.035, STEM)
    face(pen, (0.5, 0.58), 0.26)


def sun(pen: Sketch) -> None:
    """A sun that needs somebody else to water."""
    for turn in range(0, 360, 30):
        pen.shape(petal(_around((0.5, 0.5), 0.3, turn), 0.17, 0.09, turn), "#f4ae2f")
    pen.disc((0.5, 0.5), 0.28, "#ffc94f")
    for side in (-1, 1):
        pen.shape(oval((0.5 + side * 0.105, 0.46), (0.088, 0.07)), INK)
    pen.line([(0.31, 0.43), (0.69, 0.43)], 0.022, INK)
    pen.line(arc((0.5, 0.57), (0.1, 0.08), 15, 165), 0.024, INK)


def tulips(pen: Sketch) -> None:
    """Three tulips."""
    for x, top, colour, shade in (
        (0.26, 0.42, "#f4ae2f", "#e09515"), (0.74, 0.42, "#e8678a", "#d14b72"),
        (0.5, 0.28, "#e8543d", "#cf3b28"),
    ):  # fmt: skip
        pen.line([(x, top + 0.1), (x, 0.95)], 0.03, STEM)
        pen.shape(petal((x, 0.95), 0.4, 0.1, 16 if x > 0.4 else -16), LEAF)
        for turn in (-24, 24):
            pen.shape(petal((x, top + 0.14), 0.28, 0.16, turn), shade)
        pen.shape(petal((x, top + 0.15), 0.3, 0.19), colour)
    face(pen, (0.5, 0.3), 0.12)


def lantern(pen: Sketch) -> None:
    """The sign of the shops: a lantern with a seedling for a flame."""
    pen.line(arc((0.5, 0.19), (0.12, 0.12), 180, 360), 0.035, "#7a4a2b")
    pen.shape([(0.27, 0.33), (0.42, 0.18), (0.58, 0.18), (0.73, 0.33)], "#7a4a2b")
    pen.shape([(0.28, 0.32), (0.72, 0.32), (0.68, 0.82), (0.32, 0.82)], "#ffd978")
    pen.shape([(0.24, 0.8), (0.76, 0.8), (0.72, 0.9), (0.28, 0.9)], "#7a4a2b")
    pen.shape(oval((0.5, 0.8), (0.15, 0.06)), "#5c3a25")
    pen.line([(0.5, 0.78), (0.5, 0.52)], 0.03, STEM)
    for turn, colour in ((-48, LEAF), (48, DEEP_LEAF)):
        pen.shape(petal((0.5, 0.6), 0.21, 0.11, turn), colour)
    for x in (0.29, 0.71):
        pen.line([(x, 0.32), (0.5 + (x - 0.5) * 0.85, 0.82)], 0.035, "#7a4a2b")
    pen.line([(0.28, 0.33), (0.72, 0.33)], 0.04, "#7a4a2b")


def big_drop(pen: Sketch) -> None:
    """One drop."""
    pen.shape(drop((0.5, 0.5), 0.9), "#3f9fca")
    pen.shape(drop((0.47, 0.54), 0.72), "#6cc5e4")
    pen.shape(oval((0.33, 0.62), (0.035, 0.09), 15), "#d3f1f9")
    face(pen, (0.5, 0.64), 0.26)


def flower(pen: Sketch, at: Point, radius: float, petals: int, colour: Colour, heart: Colour) -> None:
    """A flower seen from above."""
    for i in range(petals):
        pen.shape(petal(at, radius, radius * 4.2 / petals, 360 * i / petals), colour)
    pen.disc(at, radius * 0.36, heart)


def seed_packet(pen: Sketch) -> None:
    """A packet of seeds, open at the top."""
    for x, y, radius, colour in ((0.36, 0.22, 0.12, "#e8543d"), (0.63, 0.18, 0.13, "#5b6fc9")):
        pen.line([(x, y), (0.5 + (x - 0.5) * 0.5, 0.42)], 0.025, STEM)
        flower(pen, (x, y), radius, 8, colour, "#ffc94f")
    pen.line([(0.5, 0.16), (0.5, 0.4)], 0.025, STEM)
    flower(pen, (0.5, 0.12), 0.115, 9, "#ffffff", "#ffc94f")
    pen.shape([(0.24, 0.36), (0.76, 0.36), (0.76, 0.95), (0.24, 0.95)], CREAM)
    teeth = [(0.24 + 0.52 * i / 12, 0.36 if i % 2 else 0.33) for i in range(13)]
    pen.shape([*teeth, (0.76, 0.42), (0.24, 0.42)], "#d9694a")
    pen.shape([(0.24, 0.86), (0.76, 0.86), (0.76, 0.95), (0.24, 0.95)], "#d9694a")
    flower(pen, (0.5, 0.64), 0.185, 10, "#f4ae2f", "#7a4a2b")
    pen.disc((0.5, 0.64), 0.095, "#7a4a2b")
    face(pen, (0.5, 0.625), 0.11, CREAM)


def window_box(pen: Sketch) -> None:
    """A window box into which seeds fall."""
    for x, y, turn in (
        (0.3, 0.12, 20), (0.52, 0.06, -30), (0.7, 0.16, 45), (0.42, 0.26, -15),
        (0.6, 0.32, 30), (0.25, 0.36, -40), (0.76, 0.38, 10), (0.5, 0.46, 60),
    ):  # fmt: skip
        pen.shape(petal((x, y + 0.06), 0.11, 0.06, turn), "#7a4a2b")
    pen.shape(oval((0.5, 0.62), (0.39, 0.07)), "#5c3a25")
    pen.shape([(0.08, 0.62), (0.92, 0.62), (0.86, 0.92), (0.14, 0.92)], "#4d8f86")
    pen.shape([(0.05, 0.59), (0.95, 0.59), (0.94, 0.68), (0.06, 0.68)], "#62aaa0")
    face(pen, (0.5, 0.77), 0.22)
    for x in (0.24, 0.76):
        flower(pen, (x, 0.8), 0.06, 6, CREAM, "#ffc94f")


def poppy(pen: Sketch) -> None:
    """A poppy."""
    pen.line([(0.5, 0.5), (0.5, 0.97)], 0.032, STEM)
    for turn in (-52, 48):
        pen.shape(petal((0.5, 0.92), 0.34, 0.12, turn), LEAF)
    for x, y, radii, turn, colour in (
        (0.3, 0.4, (0.2, 0.22), 20, "#cf3b28"), (0.7, 0.4, (0.2, 0.22), -20, "#cf3b28"),
        (0.5, 0.31, (0.27, 0.22), 0, "#dd4833"), (0.5, 0.52, (0.3, 0.19), 0, "#ee6149"),
    ):  # fmt: skip
        pen.shape(oval((x, y), radii, turn), colour)
    pen.disc((0.5, 0.44), 0.13, INK)
    face(pen, (0.5, 0.425), 0.15, CREAM)


def bee(pen: Sketch) -> None:
    """A bee that flies to the right."""
    for turn in (-35, 8):
        pen.shape(petal((0.47, 0.42), 0.36, 0.2, turn), "#e6f4f7")
    pen.shape([(0.2, 0.5), (0.1, 0.55), (0.2, 0.6)], INK)
    pen.shape(oval((0.48, 0.55), (0.31, 0.2)), "#ffc145")
    for x, height in ((0.3, 0.158), (0.43, 0.195)):
        pen.shape([(x, 0.55 - height), (x + 0.07, 0.55 - height * 1.05), (x + 0.07, 0.55 + height * 1.05),
                   (x, 0.55 + height)], INK)  # fmt: skip
    face(pen, (0.66, 0.53), 0.15)
    for x in (0.66, 0.74):
        pen.line([(x, 0.4), (x + 0.04, 0.29)], 0.016, INK)
        pen.disc((x + 0.04, 0.28), 0.02, INK)


def moon(pen: Sketch) -> None:
    """A moon with a nightcap."""
    for x, y, size in ((0.13, 0.3, 0.05), (0.86, 0.46, 0.065), (0.17, 0.78, 0.04), (0.8, 0.85, 0.045)):
        for turn in range(0, 360, 90):
            pen.shape(petal((x, y), size, size * 0.7, turn), CREAM)
    pen.disc((0.5, 0.56), 0.31, "#ffe3a0")
    for x, y, radius in ((0.33, 0.68, 0.05), (0.66, 0.74, 0.035), (0.69, 0.5, 0.028)):
        pen.disc((x, y), radius, "#f6d283")
    pen.shape([(0.27, 0.36), (0.5, 0.04), (0.66, 0.1), (0.74, 0.36)], "#7a63c2")
    pen.shape([(0.5, 0.04), (0.66, 0.1), (0.9, 0.22), (0.74, 0.22)], "#6450a8")
    pen.disc((0.89, 0.24), 0.055, CREAM)
    pen.line([(0.25, 0.37), (0.75, 0.37)], 0.075, CREAM)
    for side in (-1, 1):
        pen.line(arc((0.5 + side * 0.1, 0.56), (0.05, 0.03), 10, 170), 0.018, INK)
        pen.shape(oval((0.5 + side * 0.17, 0.62), (0.035, 0.022)), BLUSH)
    pen.line(arc((0.5, 0.62), (0.045, 0.035), 15, 165), 0.018, INK)


def one_seed(pen: Sketch) -> None:
    """A seed that falls."""
    pen.shape(petal((0.5, 0.85), 0.7, 0.42), "#7a4a2b")
    pen.shape(petal((0.45, 0.75), 0.45, 0.12), "#9a6a45")


def small_drop(pen: Sketch) -> None:
    """A drop that falls."""
    pen.shape(drop((0.5, 0.5), 0.9), "#74cbe8")
    pen.shape(oval((0.37, 0.62), (0.04, 0.1), 15), "#ffffff")


def _around(middle: Point, distance: float, degrees: float) -> Point:
    """The point at this distance above the middle, turned clockwise around it."""
    return turned([(middle[0], middle[1] - distance)], middle, degrees)[0]


MOTIFS: Mapping[str, Motif] = MappingProxyType(
    {
        motif.__name__: motif
        for motif in (
            watering_can, plant_pot, rain_cloud, timer, tomato, sun, tulips, lantern, big_drop,
            seed_packet, window_box, poppy, bee, moon, one_seed, small_drop,
        )
    }
)  # fmt: skip
