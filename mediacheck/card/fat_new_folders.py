"""The folders of a new FAT volume: their order on the disk, how long they are, and what stands in them.

It must not decide where anything lies.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from mediacheck.card.fat_entries import DOT, DOT_DOT
from mediacheck.card.fat_names import long_name_slots
from mediacheck.card.fat_new_names import short_names
from mediacheck.card.fat_slots import (
    ARCHIVE,
    DIRECTORY,
    DIRECTORY_SLOTS_MAX,
    VOLUME_LABEL,
    ShortEntry,
    words,
)
from mediacheck.card.limits import GREATEST_FILE_BYTES, directory_entries, is_short_name
from mediacheck.card.new_volume import DoesNotFit, NewFolder, Walked, walk

ROOT_SLOTS = 1
"""For the label: room is kept for it whether there is one or not, so that every card can be given one."""
OWN_SLOTS = 2
"""`.` and `..` of every other folder."""


@dataclass(frozen=True, slots=True)
class Folder(Walked):
    """A folder in the order of the disk, and how many slots its list takes."""

    slots: int


@dataclass(frozen=True, slots=True)
class Heads:
    """The first cluster of everything that a folder tells of; 0 where there is none."""

    own: int
    parent: int
    """0 for the root, on FAT32 too (specification, "FAT Directory Structure")."""
    files: Sequence[int]
    folders: Sequence[int]


def in_disk_order(root: NewFolder, root_slots_max: int = DIRECTORY_SLOTS_MAX) -> tuple[Folder, ...]:
    """The root, and each folder before those in it. DoesNotFit: FAT cannot hold a file, or what a folder
    lists."""
    folders = tuple(Folder(one.path, one.new, one.parent, one.inner, _slots(one)) for one in walk(root))
    for folder in folders:
        _require_limits(folder, DIRECTORY_SLOTS_MAX if folder.path else root_slots_max)
    return folders


def folder_slots(folder: Folder, heads: Heads, label: bytes | None) -> bytes:
    """What stands in a folder: the label of 11 bytes in the root, or `.` and `..`, the files, the folders."""
    new, pieces = folder.new, []
    if folder.path:
        pieces.append(_entry(DOT, DIRECTORY, new.modified, heads.own))
        pieces.append(_entry(DOT_DOT, DIRECTORY, new.modified, heads.parent))
    elif label:
        pieces.append(_entry(label, VOLUME_LABEL, new.modified, 0))
    names = folder.names
    short = dict(zip(names, short_names(names), strict=True))
    for file, head in zip(new.files, heads.files, strict=True):
        pieces.append(_long(file.name, short[file.name]))
        pieces.append(_entry(short[file.name], ARCHIVE, file.modified, head, file.size_bytes))
    for inner, head in zip(new.folders, heads.folders, strict=True):
        pieces.append(_long(inner.name, short[inner.name]))
        pieces.append(_entry(short[inner.name], DIRECTORY, inner.modified, head))
    return b"".join(pieces)


def _slots(folder: Walked) -> int:
    return sum(map(directory_entries, folder.names)) + (OWN_SLOTS if folder.path else ROOT_SLOTS)


def _require_limits(folder: Folder, slots_max: int) -> None:
    if folder.slots > slots_max:
        raise DoesNotFit(
            f"{folder.shown} has {len(folder.names):,} files and folders, whose names take {folder.slots:,} "
            f"entries, and FAT allows {slots_max:,} there"
        )
    most = GREATEST_FILE_BYTES["FAT32"]
    for path, file in folder.files:
        if file.size_bytes > most:
            raise DoesNotFit(f"{path} is {file.size_bytes:,} bytes long, and FAT holds {most:,} in one file")


def _long(name: str, short: bytes) -> bytes:
    """The slots before the short entry: none where that says the same, as it does in capitals."""
    return b"" if is_short_name(name) else long_name_slots(name, short)


def _entry(short: bytes, attributes: int, when: datetime, head: int, size_bytes: int = 0) -> bytes:
    date, time, hundredths = words(when)
    return ShortEntry(
        short,
        attributes,
        created_hundredths=hundredths,
        created_time=time,
        created_date=date,
        accessed_date=date,
        cluster_high=head >> 16,
        written_time=time,
        written_date=date,
        cluster_low=head & 0xFFFF,
        size_bytes=size_bytes,
    ).compose()
