"""What a card is, once it has been opened and listed: a volume, entries and the damage seen.

It must not judge: whether a thing is wrong for a player is for the rules.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO, Literal

from mediacheck.card.within import Within
from mediacheck.names import CardKind, FileSystem, PartitionTable

Attribute = Literal["read-only", "hidden", "system", "archive"]
"""What FAT and exFAT note of a file beside its name."""


@dataclass(frozen=True, slots=True)
class Damage:
    """One thing that is broken on the medium; `path` is the file that it hits, if one is known.

    `what` is a clause that a person understands: "LOOP2.MP4 shares clusters with LOOP1.MP4: one of them is
    destroyed". No capital at its start unless a name stands there, no full stop.
    """

    what: str
    path: str | None = None
    only_writing: bool = False
    """Whether files still read as if the card were whole: a count, a backup or a mark of free space is hit,
    which matters when a computer writes to the card or repairs it."""


@dataclass(frozen=True, slots=True)
class Volume:
    """The file system that holds the entries. A value of None was not found out."""

    file_system: FileSystem | None = None
    partition_table: PartitionTable | None = None
    label: str | None = None
    serial: str | None = None
    capacity_bytes: int | None = None
    cluster_bytes: int | None = None
    used_bytes: int | None = None
    free_bytes: int | None = None
    medium_bytes: int | None = None
    """Size of the medium or image below the file system."""
    claimed_bytes: int | None = None
    """Where the file system says that it ends, counted from the start of the medium."""
    part_end_bytes: int | None = None
    """Where the part of the medium that holds it ends, counted likewise; None where it has no part."""
    dirty: bool | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One file on the card. `path` is relative to the card's root, with `/`, always printable."""

    path: str
    size_bytes: int
    position: int
    """Place in the listing, from 0; on-disk order where the card tells it."""
    location: Path | Within
    """Where the system finds the file, or where its bytes lie on a medium. For reading only."""
    unusable: str | None = None
    """Why the entry is not a file that can be read (a link that leads outside, a device), or None."""
    valid_name: bool = True
    """False when the bytes of the name are not valid Unicode; `path` then shows them escaped."""
    short_name: str | None = None
    """FAT: the name of eight and three characters, which old players show and sort by."""
    attributes: frozenset[Attribute] = frozenset()
    created: datetime | None = None
    """Times as the card has them, without a zone where it tells none."""
    modified: datetime | None = None

    @property
    def name(self) -> str:
        """The last part of the path."""
        return self.path.rpartition("/")[2]

    @property
    def folder(self) -> str:
        """The path of the folder that holds it; empty for the root."""
        return self.path.rpartition("/")[0]

    def open(self) -> BinaryIO:
        """Open the file for reading, seekable. Raises OSError."""
        return self.location.open("rb")


@dataclass(frozen=True, slots=True)
class Card:
    """A card as it was found. Entries stand in on-disk order where `order_known`, else in name order."""

    source: str
    kind: CardKind
    entries: tuple[Entry, ...]
    folders: tuple[str, ...] = ()
    volume: Volume | None = None
    """None when only a folder was handed over: the file system below it is not the card's own."""
    order_known: bool = False
    damage: tuple[Damage, ...] | None = None
    """None when the medium itself was not looked at."""
    unlisted: str | None = None
    """Why its files could not be listed ("it is not formatted"), a clause; None where they were. A card that
    is unlisted has no entries, and nothing is known of what is on it."""
    raw_reason: str | None = None
    """Why the medium itself was not looked at, or not whole, and what to run instead: a clause; None where it
    was, and for a plain folder."""
    notes: tuple[str, ...] = ()
    """What a person should know and is no fault: "the card has 2 parts; only part 1 was read". Clauses."""
