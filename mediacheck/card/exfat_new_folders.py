"""The folders of a new exFAT volume: their order on the disk, how long they are, and the entries in them.

It must not decide where anything lies. Sections in brackets are those of the "exFAT file system
specification", revision 1.00.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC
from typing import NamedTuple

from mediacheck.card.exfat_entries import (
    ALLOCATION_POSSIBLE,
    ARCHIVE,
    DIRECTORY,
    DIRECTORY_BYTES_MAX,
    ENTRY_BYTES,
    NO_FAT_CHAIN,
    FileEntry,
    StreamEntry,
    name_entries,
)
from mediacheck.card.exfat_layout import rotating_sums
from mediacheck.card.exfat_names import CHECKSUM_PLACES
from mediacheck.card.exfat_new_geometry import clusters_for
from mediacheck.card.exfat_times import Stamp
from mediacheck.card.exfat_upcase import recommended
from mediacheck.card.limits import directory_entries
from mediacheck.card.new_volume import DoesNotFit, NewFile, NewFolder, Walked, walk

ROOT_ENTRIES = 3
"""Label, allocation bitmap and up-case table [7.1 to 7.3]."""
SETS_AT_ONCE = 1024
"""Together 608 KiB at most: a set has up to 19 entries."""


@dataclass(frozen=True, slots=True)
class Folder(Walked):
    """A folder in the order of the disk, and how many clusters its list takes."""

    clusters: int


class Item(NamedTuple):
    """What a folder says of one file or folder in it."""

    new: NewFile | NewFolder
    first_cluster: int
    size_bytes: int
    """Of a folder: of all its clusters [7.6.7]."""


def in_disk_order(root: NewFolder, cluster_bytes: int) -> tuple[Folder, ...]:
    """The root, and each folder before those in it. DoesNotFit where exFAT cannot list what is in one."""
    return tuple(
        Folder(one.path, one.new, one.parent, one.inner, _clusters(one, cluster_bytes)) for one in walk(root)
    )


def _clusters(folder: Walked, cluster_bytes: int) -> int:
    """At least one, as formatting programs and systems give it, also where there is nothing in it."""
    names = folder.names
    entries = sum(directory_entries(name, "exFAT") for name in names) + (0 if folder.path else ROOT_ENTRIES)
    length = entries * ENTRY_BYTES
    if length > DIRECTORY_BYTES_MAX:
        raise DoesNotFit(
            f"{folder.shown} has {len(names):,} files and folders, whose names take {length:,} bytes, and "
            f"exFAT allows {DIRECTORY_BYTES_MAX:,} in a folder"
        )
    return max(1, clusters_for(length, cluster_bytes))


def entry_sets(items: Sequence[Item]) -> Iterator[bytes]:
    """The entries of a folder [7.4, 7.6, 7.7], many sets at once."""
    for first in range(0, len(items), SETS_AT_ONCE):
        some = items[first : first + SETS_AT_ONCE]
        names = [item.new.name.encode("utf-16-le", "surrogatepass") for item in some]
        hashes = rotating_sums([*map(recommended().upper_bytes, names)]).tolist()
        sets = [*map(_entry_set, some, names, hashes)]
        sums = rotating_sums(sets, CHECKSUM_PLACES).tolist()
        yield b"".join(_sealed(one, total) for one, total in zip(sets, sums, strict=True))


def _entry_set(item: Item, name: bytes, hashed: int) -> bytes:
    """All entries of one file or folder but for the checksum.

    What has clusters has them in one piece and says so: a player then needs no FAT to find them, and Windows,
    Linux and cameras write fresh files in the same way (from memory). What is empty has no first cluster and
    must not say so [6.3.4.2].
    """
    new, first, size = item
    stamp = Stamp.of(new.modified.replace(tzinfo=UTC))  # the same bytes wherever the card is built
    flags = ALLOCATION_POSSIBLE | NO_FAT_CHAIN if size else ALLOCATION_POSSIBLE
    rest = StreamEntry(len(name) // 2, hashed, size, first, size, flags).compose() + name_entries(name)
    file = FileEntry(
        secondary_count=len(rest) // ENTRY_BYTES,
        file_attributes=DIRECTORY if isinstance(new, NewFolder) else ARCHIVE,
        created=stamp,
        modified=stamp,
        accessed=stamp,
    )
    return file.compose() + rest


def _sealed(entries: bytes, checksum: int) -> bytes:
    return entries[:2] + checksum.to_bytes(2, "little") + entries[4:]
