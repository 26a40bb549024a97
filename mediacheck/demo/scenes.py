"""What the invented chain of garden centres shows: the words, the thing and the colours of each clip.

It must not draw: these are recipes only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from mediacheck.demo.sketch import Colour

Pattern = Literal["drops", "seeds"]
CHAIN = "Loam & Lantern"


@dataclass(frozen=True, slots=True)
class Product:
    """What one face is about. `pattern` rains down behind everything, `visitor` crosses the picture."""

    name: str
    pattern: Pattern
    visitor: str
    """A motif."""


@dataclass(frozen=True, slots=True)
class Scene:
    """One moving picture: a title, then a line about it, beside a motif before a disc."""

    product: Product
    title: tuple[str, ...]
    """Line by line."""
    line: tuple[str, ...]
    motif: str
    ground: Colour
    pattern_colour: Colour
    disc: Colour
    ink: Colour


WATERING = Product("Drizzle watering set", "drops", "small_drop")
MEADOW = Product("Windowsill meadow seeds", "seeds", "bee")


def _lines(text: str) -> tuple[str, ...]:
    return tuple(text.split("|"))


def _water(title: str, line: str, motif: str, ground: Colour, pattern: Colour, disc: Colour) -> Scene:
    return Scene(WATERING, _lines(title), _lines(line), motif, ground, pattern, disc, "#ffffff")


def _meadow(
    title: str, line: str, motif: str, ground: Colour, pattern: Colour, disc: Colour, ink: Colour
) -> Scene:
    return Scene(MEADOW, _lines(title), _lines(line), motif, ground, pattern, disc, ink)


SCENES_WATER = {
    "drizzle": _water(
        "Drizzle", "The watering|set for thirsty|balconies", "watering_can", "#0d6f8a", "#1c819c", "#bfe9ee"
    ),
    "ten-pots": _water(
        "Ten pots,|one tap", "Snap the|hose on,|then sit down", "plant_pot", "#1d5c9e", "#2d6db0", "#cfe3f7"
    ),
    "rain-on-request": _water(
        "Rain on|request",
        "Four minutes|every evening|at seven",
        "rain_cloud",
        "#285f80",
        "#377092",
        "#8cc4dd",
    ),
    "never-forgets": _water(
        "Never|forgets", "The timer|waters while|you are away", "timer", "#0f766e", "#208880", "#bfeae2"
    ),
    "happy-tomatoes": _water(
        "Happy|tomatoes", "Wet roots,|dry leaves", "tomato", "#16697a", "#277b8c", "#d8f1dc"
    ),
    "off-to-the-lake": _water(
        "Off to|the lake?", "Drizzle stays|at home|and waters", "sun", "#1b7fb5", "#2f90c4", "#dff3fb"
    ),
    "spring": _water("Frühling!", "Everything|wakes up|thirsty", "tulips", "#1f7a8c", "#308b9d", "#fbe9d7"),
    "aisle-four": _water(
        "Aisle 4", "Ask us: we like|to talk about|water", "lantern", "#174f72", "#276183", "#cfe9f5"
    ),
    "good-evening": _water(
        "Good|evening", "Seven o'clock:|Drizzle is|at work", "moon", "#2b4a86", "#3a5a97", "#5b7fc0"
    ),
    "one-drop": _water(
        "One drop|at a time", "The new|summer set|is here", "big_drop", "#10808f", "#2391a0", "#e4f7f4"
    ),
}
SCENES_MEADOW = {
    "meadow": _meadow(
        "Windowsill|meadow",
        "Forty flowers|in one packet",
        "seed_packet",
        "#d95f3f",
        "#e07255",
        "#ffe3c2",
        "#fffaf0",
    ),
    "scatter": _meadow(
        "Scatter.|Water. Wait.",
        "Three steps,|two of them|are easy",
        "window_box",
        "#fbe3b8",
        "#f4d49c",
        "#fff4dc",
        "#5a2f2a",
    ),
    "poppies": _meadow(
        "Poppies|by June",
        "Sow in March,|look twice|in May",
        "poppy",
        "#f2b33d",
        "#f5bf58",
        "#fff0cc",
        "#5a2f2a",
    ),
    "bees": _meadow(
        "Bees|welcome", "They find the|third floor too", "bee", "#d9577a", "#e06b8b", "#ffe0e6", "#fffaf0"
    ),
}
