"""About how large a new file becomes, and how long it takes to make: for plans, and never for proofs.

It must not be relied on: pictures differ by a factor of ten in what they take.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from itertools import pairwise

from mediacheck.loop import File
from mediacheck.repair.model import Change, PictureRecipe, Recipe

BITS_PER_PIXEL = 0.1
"""What an ordinary picture takes at the quality that is aimed at (measured: 0.03 to 0.3)."""
PIXELS_PER_S = 45e6
"""Pixels that a core encodes in a second, with the proof after it (measured: H.264, 1920x1080)."""
SLOWER = {"libx265": 3.0, "libvpx-vp9": 5.0, "libsvtav1": 1.5, "libx264": 1.0}
"""Times as long as H.264; encoders that are not named take half as long (measured, roughly)."""
COPIED_BYTES_PER_S = 100e6
STARTED_S = 0.5
"""For each program that is started."""


def expected_bytes(file: File, recipe: Recipe | None) -> int:
    """Size of the new file."""
    size, picture = file.entry.size_bytes, recipe.picture if recipe else None
    if recipe is None or picture is None or picture.copied:
        return size
    if recipe.change == "still":
        return round((picture.width or 0) * (picture.height or 0) * 0.3)
    bits = _pixels(recipe, picture) * BITS_PER_PIXEL
    most = next((float(b[:-1]) * 1000 for a, b in _pairs(picture.also) if a == "-maxrate:v"), None)
    seconds = recipe.seconds or 0.0
    bits = bits if most is None else min(bits, most * seconds)
    sound = 192_000 * seconds if recipe.sound else 0.0
    return min(round((bits + sound) / 8), recipe.size_max_bytes or 1 << 62)


def expected_s(file: File, change: Change, recipe: Recipe | None) -> float:
    """Time that the making takes on this machine."""
    copied = file.entry.size_bytes / COPIED_BYTES_PER_S
    picture = recipe.picture if recipe else None
    if recipe is None or picture is None or picture.copied or change == "still":
        sound = (recipe.seconds or 0.0) / 50 if recipe and recipe.sound and not recipe.sound.copied else 0.0
        return copied + (STARTED_S if recipe else 0.0) + sound
    encoder = next((b for a, b in _pairs(picture.also) if a == "-c:v"), "libx264")
    passes = 2 if picture.two_passes else 1
    speed = PIXELS_PER_S * (os.cpu_count() or 1) / SLOWER.get(encoder, 0.5)
    return STARTED_S + passes * _pixels(recipe, picture) / speed


def _pixels(recipe: Recipe, picture: PictureRecipe) -> float:
    rate = float(picture.frames_per_s or 1)
    return (picture.width or 0) * (picture.height or 0) * rate * (recipe.seconds or 0.0)


def _pairs(words: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    return pairwise(words)
