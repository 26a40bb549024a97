"""The table of clusters of a FAT volume (the FAT itself): read, counted, and cut into stretches.

It must not know of files and folders, and must not judge.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from mediacheck.card.fat_boot import FIRST_CLUSTER, Geometry
from mediacheck.card.fat_layout import BOOT_DIRTY, BOOT_TEST_WANTED, FAT12, FAT16, BootSector, FatType
from mediacheck.card.medium import Medium

Clusters = npt.NDArray[np.uint32]
Places = npt.NDArray[np.int64]

BLOCK_BYTES = 3 << 18
"""Three quarters of a MiB: whole entries of every kind (12 bits: three bytes hold two)."""
BLOCK_ENTRIES = 1 << 17
"""As many are looked at together: what is worked out of them takes little memory, and stays near at hand."""
DIFFERENCES_NAMED_MAX = 10_000

ENDS: Final = -1
TO_FREE: Final = -2
TO_BAD: Final = -3
OUTSIDE: Final = -4
"""What comes after a stretch, where it is not another stretch."""


@dataclass(frozen=True, slots=True)
class Table:
    """The FAT, and its stretches: clusters of which each leads to the next one on the medium.

    Arrays are as long as the clusters that are in use need, at most as long as the FAT on the medium.
    """

    type: FatType
    entries: Clusters
    """Of clusters 0, 1, 2 ...: without the bits that are reserved."""
    last: Clusters
    """The entry that ends each stretch, ascending."""
    clusters_end: Clusters
    """The cluster behind each stretch: not `last` + 1 where `last` itself is free or bad."""
    following: Places
    """For each stretch the number of the one that its chain goes on in, or one of the four constants."""
    landing: Clusters
    """The cluster in which the chain goes on there."""
    free: int
    bad: int
    worn: bool = False
    """Whether a part of it could not be read, and was taken from a copy."""

    @property
    def used(self) -> int:
        """How many clusters are marked as taken."""
        return len(self.entries) - FIRST_CLUSTER - self.free - self.bad


@dataclass(frozen=True, slots=True)
class Flags:
    """What the FAT and the boot sector say of how the card was put away."""

    dirty: bool
    errors: bool
    """A system had trouble reading or writing it."""


@dataclass(frozen=True, slots=True)
class Differences:
    """Where another copy of the FAT is unlike the one in use."""

    copy: int
    clusters: tuple[int, ...]
    """The first of them, by number; 0 and 1 are the entries before the first cluster."""
    count: int
    worn: bool
    """Whether a part of it could not be read."""


def read_table(medium: Medium, geometry: Geometry) -> Table:
    """The FAT that is in use, as far as the medium has it.

    Raises OSError where it cannot be read, nor, where the copies are kept alike, any of them.
    """
    copies = [geometry.active_fat, *(_others(geometry) if geometry.mirrored else ())]
    raw, worn = bytearray(), False
    while len(raw) < (length := _used_bytes(geometry)):
        block, copy = _first_read(medium, geometry, copies, len(raw), min(BLOCK_BYTES, length - len(raw)))
        worn |= copy != geometry.active_fat
        if not block:
            break
        raw += block
    return replace(table_of(unpacked(raw, geometry.type)[: geometry.entries], geometry.type), worn=worn)


def table_of(entries: Clusters, kind: FatType) -> Table:
    """Cut entries into stretches and count them. At least two entries are wanted: all ones if need be."""
    if len(entries) < FIRST_CLUSTER:
        entries = np.full(FIRST_CLUSTER, kind.mask, np.uint32)
    last, free, bad = _scan(entries, kind)
    values = entries[last]
    empty = (values == 0) | (values == kind.bad)
    following = _following(entries, values, last, kind)
    return Table(kind, entries, last, last + np.uint32(1) - empty, following, values, free, bad)


def unpacked(raw: bytearray, kind: FatType) -> Clusters:
    """The entries in the bytes of a FAT, without reserved bits; half an entry at the end is left out.

    FAT32 entries stay in the memory of `raw`, which is changed.
    """
    if kind is FAT12:
        return _unpacked_12(np.frombuffer(raw, np.uint8))
    if kind is FAT16:
        return np.frombuffer(raw, "<u2", len(raw) // 2).astype(np.uint32)
    entries = np.frombuffer(raw, "<u4", len(raw) // 4)
    entries &= np.uint32(kind.mask)
    return entries


def flags_of(boot: BootSector, table: Table) -> Flags:
    """The dirty bits of FAT[1] (specification, "FAT Data Structure") and of the boot sector (fsck.fat.h)."""
    noted = int(table.entries[1])
    dirty = bool(boot.nt_flags & BOOT_DIRTY) or noted & table.type.clean != table.type.clean
    errors = bool(boot.nt_flags & BOOT_TEST_WANTED) or noted & table.type.no_errors != table.type.no_errors
    return Flags(dirty, errors)


def compare_copies(medium: Medium, geometry: Geometry) -> tuple[Differences, ...]:
    """Every other copy of the FAT that should be like the one in use, and is not, or cannot be read."""
    if not geometry.mirrored:
        return ()
    compared = (_compare(medium, geometry, copy) for copy in _others(geometry))
    return tuple(found for found in compared if found.count or found.worn)


def _others(geometry: Geometry) -> list[int]:
    return [copy for copy in range(geometry.fats) if copy != geometry.active_fat]


def _used_bytes(geometry: Geometry) -> int:
    """How much of a copy of the FAT is in use."""
    return min(geometry.fat_bytes, -(-geometry.entries * geometry.type.entry_bits // 8))


def _read(medium: Medium, geometry: Geometry, copy: int, place: int, length: int) -> bytes:
    return medium.read(geometry.fat_start_byte + copy * geometry.fat_bytes + place, length)


def _first_read(
    medium: Medium, geometry: Geometry, copies: Sequence[int], place: int, length: int
) -> tuple[bytes, int]:
    """A part of the FAT from the first copy that can be read there, and which copy that was."""
    for copy in copies[:-1]:
        with suppress(OSError):
            return _read(medium, geometry, copy, place, length), copy
    return _read(medium, geometry, copies[-1], place, length), copies[-1]


def _unpacked_12(raw: npt.NDArray[np.uint8]) -> Clusters:
    """Two entries in three bytes (specification, "FAT12": ThisFATEntOffset)."""
    low, middle, high = (np.zeros(-(-len(raw) // 3), np.uint32) for _ in range(3))
    for place, column in enumerate((low, middle, high)):
        found = raw[place::3]
        column[: len(found)] = found
    entries = np.empty(len(low) * 2, np.uint32)
    entries[0::2] = low | (middle & 0x0F) << 8
    entries[1::2] = middle >> 4 | high << 4
    return entries[: len(raw) * 2 // 3]


def _scan(entries: Clusters, kind: FatType) -> tuple[Clusters, int, int]:
    """The last entry of each stretch, and how many clusters are free and bad; in blocks, to save memory.

    A free entry ends a stretch too where the entry before leads to it.
    """
    found, free, bad = [], 0, 0
    for start in range(FIRST_CLUSTER, len(entries), BLOCK_ENTRIES):
        block = entries[start : start + BLOCK_ENTRIES]
        numbers = np.arange(start, start + len(block), dtype=np.uint32)
        leads_on = block == numbers + np.uint32(1)
        leads_on[len(block) - 1] &= start + len(block) < len(entries)
        reached = np.empty_like(leads_on)
        reached[1:], reached[0] = leads_on[:-1], start > FIRST_CLUSTER and entries[start - 1] == start
        is_free = block == 0
        found.append(numbers[~leads_on & (~is_free | reached)])
        free += int(np.count_nonzero(is_free))
        bad += int(np.count_nonzero(block == kind.bad))
    return np.concatenate(found) if found else np.zeros(0, np.uint32), free, bad


def _following(entries: Clusters, values: Clusters, last: Clusters, kind: FatType) -> Places:
    following = np.searchsorted(last, values).astype(np.int64)
    inside = (values >= FIRST_CLUSTER) & (values < len(entries))
    following[inside & (entries[np.where(inside, values, 0)] == 0)] = TO_FREE
    following[~inside] = OUTSIDE
    following[values >= kind.end] = ENDS
    following[values == 0] = TO_FREE
    following[values == kind.bad] = TO_BAD
    return following


def _compare(medium: Medium, geometry: Geometry, copy: int) -> Differences:
    """Block by block, so that two copies of any length take little memory."""
    named: list[int] = []
    count, worn = 0, False
    for place in range(0, _used_bytes(geometry), BLOCK_BYTES):
        length = min(BLOCK_BYTES, _used_bytes(geometry) - place)
        try:
            left = _read(medium, geometry, geometry.active_fat, place, length)
            right = _read(medium, geometry, copy, place, length)
        except OSError:
            worn = True
            continue
        both = min(len(left), len(right))  # what lies past the end of the medium is told elsewhere
        if left[:both] != right[:both]:
            found = _unlike(left[:both], right[:both], geometry.type) + place * 8 // geometry.type.entry_bits
            found = found[found < geometry.entries]
            count += len(found)
            named += found[: DIFFERENCES_NAMED_MAX - len(named)].tolist()
    return Differences(copy, tuple(named), count, worn)


def _unlike(left: bytes, right: bytes, kind: FatType) -> Places:
    """The numbers of the entries that differ in two equally long blocks of a FAT."""
    pair = (unpacked(bytearray(block), kind) for block in (left, right))
    return np.flatnonzero(np.not_equal(*pair)).astype(np.int64)
