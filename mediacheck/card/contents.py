"""What a file system on a medium holds, as its reader found it.

It must not judge, and must not know how a file system works.
"""

from __future__ import annotations

from dataclasses import dataclass

from mediacheck.card.model import Damage, Entry, Volume

LISTING_MAX = 1 << 25
"""What a hostile card can make its listing take up is bounded: the lengths of all paths together, and these
for each entry and each 32 bytes of a folder. That is room for about 140,000 files, in some 200 MB."""
ENTRY_COST, SLOT_COST = 192, 4
TOO_MANY = "the card lists too many files: the rest was not looked at"


@dataclass(frozen=True, slots=True)
class Contents:
    """Everything that was read of one volume.

    Entries stand in on-disk order: the files of a folder as its directory lists them, then the folders in it,
    each with all that it holds, in the directory's order too (common practice, no source). Nothing is left
    out: an entry whose bytes cannot be found is `unusable`.
    """

    volume: Volume
    entries: tuple[Entry, ...]
    folders: tuple[str, ...]
    damage: tuple[Damage, ...]
