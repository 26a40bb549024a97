"""The speed classes that are printed on cards: how fast each promises to be written at the least.

It must not measure anything.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from mediacheck.errors import WrongUse

MEGABYTE = 1_000_000
"""The SD Association counts in decimal megabytes."""

MB_PER_S: Mapping[str, int] = MappingProxyType(
    {
        # Names of the classes: SD Association, page "Speed class", read there. Figures: as pages that quote
        # it give them. They are minimum sequential *write* speeds; no class promises a read speed.
        **{f"C{speed}": speed for speed in (2, 4, 6, 10)},
        "U1": 10,
        "U3": 30,
        **{f"V{speed}": speed for speed in (6, 10, 30, 60, 90)},
        # SD Express speed classes: names from the same page, figures from memory.
        **{f"E{speed}": speed for speed in (150, 300, 450, 600)},
    }
)


@dataclass(frozen=True, slots=True)
class SpeedClass:
    """A class as it is printed on a card."""

    name: str
    write_mb_s: int
    """What it is written at, at the least, in 10^6 bytes a second."""


def speed_class(text: str) -> SpeedClass:
    """The class of this name, in whatever letters. WrongUse where there is none."""
    name = text.strip().upper()
    if name not in MB_PER_S:
        raise WrongUse(f"There is no speed class {text!r}: name one of {', '.join(MB_PER_S)}.")
    return SpeedClass(name, MB_PER_S[name])
