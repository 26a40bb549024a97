"""What the stills of the cards have taught.

It must not judge them: which of them may teach was decided before.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import get_args

from mediacheck.learn.evidence import Found, Sighting, as_it_is, choice, greatest
from mediacheck.learn.model import Value
from mediacheck.names import StillFormat


def still_values(stills: Sequence[Sighting], cards: int) -> Iterator[Value]:
    """Formats and greatest sizes. `stills` holds at least one."""
    read = [(each, each.file.media.still) for each in stills if each.file.media is not None]
    there = [(each, still) for each, still in read if still is not None]
    founds: list[Found] = [
        *choice("formats", [(each, still.format) for each, still in there], get_args(StillFormat)),
        *greatest("width_max", [(each, still.width) for each, still in there], as_it_is, str),
        *greatest("height_max", [(each, still.height) for each, still in there], as_it_is, str),
    ]
    yield from (found.at(("stills",), cards) for found in founds)
