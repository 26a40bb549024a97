"""The facts of stills that a comparison looks at, in the order of the rules about them.

It must not compare: each fact only says how it is read, worded and weighed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from mediacheck.compare.fact import Fact, Value, plain
from mediacheck.loop import File
from mediacheck.media.facts import StillFacts


def _still(read: Callable[[StillFacts], Any]) -> Callable[[File], Value]:
    return lambda file: read(file.media.still) if file.media and file.media.still else None


def _size(size: tuple[int, int]) -> str:
    return f"{size[0]} x {size[1]}"


STILL_FACTS: tuple[Fact, ...] = (
    Fact(
        "the still's format",
        "still",
        "still-format",
        _still(lambda still: still.format),
        "it is a {} picture inside",
        "a player that cannot open that skips it or shows black",
        "Save this picture again in the format of the one on the good card.",
    ),
    Fact(
        "how the still builds up",
        "still",
        "still-progressive",
        _still(lambda still: still.progressive),
        "it is stored {}",
        "simple players show nothing, or a blurred picture",
        "Save this picture again as a baseline JPEG.",
        words=lambda steps: "in progressive steps" if steps else "plainly from top to bottom",
        gentler=plain(False),
    ),
    Fact(
        "the still's colours",
        "still",
        "still-colour",
        _still(lambda still: (still.colour, still.bit_depth)),
        "its colours are stored as {}",
        "the player may show nothing, or wrong colours",
        "Save this picture again with 8 bits of RGB.",
        words=lambda colour: f"{colour[0]} with {colour[1]} bits",
        gentler=plain(("RGB", 8)),
    ),
    Fact(
        "the still's turn mark",
        "still",
        "still-orientation",
        _still(lambda still: still.orientation),
        "it is {}",
        "players that ignore the mark show it lying on its side",
        "Turn the picture itself, and save it without the mark.",
        words=lambda value: "marked upright" if value == 1 else f"marked to be turned (EXIF {value})",
        gentler=plain(1),
    ),
    Fact(
        "the size of the still",
        "still",
        "still-resolution",
        _still(lambda still: (still.width, still.height)),
        "it is {} pixels",
        "the player may skip it, or show it with black bars or cut off",
        "Save this picture again in the size of the one on the good card.",
        words=_size,
    ),
    Fact(
        "how many pictures the still holds",
        "still",
        None,
        _still(lambda still: still.frames),
        "it holds {}",
        "the player may show only the first",
        "Save the picture that is wanted as a file of its own.",
        words=lambda count: f"{count} picture{'' if count == 1 else 's'}",
        gentler=plain(1),
    ),
)
