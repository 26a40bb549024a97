"""Which file system, partition table, cluster and size a new card gets.

It must not lay anything out: it asks the writers what fits.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mediacheck.card.limits import SD_CLASSES
from mediacheck.card.new_volume import DoesNotFit, NewFolder
from mediacheck.card.new_volumes import WRITABLE, least_size_bytes, usual_cluster_bytes
from mediacheck.errors import WrongUse
from mediacheck.names import FileSystem, PartitionTable
from mediacheck.profile import CardLimits
from mediacheck.rules.wording import either

PART_START_BYTE = 4 << 20
"""Cards erase in units of up to 4 MiB, so that a part begins with one (SD Physical Layer Specification,
allocation unit; from memory)."""
SECTOR_BYTES = 512
MBR_BYTES_MAX = (2**32 - 1) * SECTOR_BYTES
"""Of a part: its length in sectors is 32 bits (see `card.mbr_layout`)."""
CLUSTERS: dict[FileSystem, range] = {"FAT16": range(9, 16), "FAT32": range(9, 16), "exFAT": range(12, 18)}
"""Cluster sizes that are tried where the card takes the least size, as powers of two: 512 bytes to 32 KiB,
and 4 to 128 KiB, which formatting programs choose."""


@dataclass(frozen=True, slots=True)
class Shape:
    """What the image is to be."""

    file_system: FileSystem
    table: PartitionTable
    image_bytes: int
    start_byte: int
    """Where the volume begins."""
    cluster_bytes: int

    @property
    def volume_bytes(self) -> int:
        """From its start to the end of the image."""
        return self.image_bytes - self.start_byte


def shape_for(root: NewFolder, limits: CardLimits, size_bytes: int | None) -> Shape:
    """The shape that this player takes and this content fits into; the least size where none is given.

    WrongUse: the player wants a card that cannot be written here. DoesNotFit: with the numbers.
    """
    shape = _first_that_fits(root, limits, size_bytes, size_bytes or 0)
    if size_bytes is None:
        return _first_that_fits(root, limits, None, shape.image_bytes)
    return shape


def _first_that_fits(root: NewFolder, limits: CardLimits, size_bytes: int | None, about_bytes: int) -> Shape:
    table = _table(limits)
    start = PART_START_BYTE if table == "MBR" else 0
    refused: list[DoesNotFit] = []
    for kind in _file_systems(limits, about_bytes):
        try:
            if size_bytes is None:
                return _least(kind, table, start, root, limits)
            return _given(kind, table, start, root, limits, size_bytes)
        except DoesNotFit as error:
            refused.append(error)
    raise refused[0]


def _table(limits: CardLimits) -> PartitionTable:
    allowed = limits.partition_tables or ("MBR",)
    table = next((table for table in ("MBR", "none") if table in allowed), None)
    if table is None:
        raise WrongUse(
            f"This player wants a card with {either(allowed)}; a card can be built with an MBR or without a "
            "partition table."
        )
    return "MBR" if table == "MBR" else "none"


def _file_systems(limits: CardLimits, about_bytes: int) -> list[FileSystem]:
    """Those that the player reads and that can be written, the one that cards of about this size are sold
    with first; FAT16 last, and only where the profile names it."""
    allowed = limits.file_systems or ("FAT32", "exFAT")
    found = [kind for kind in WRITABLE if kind in allowed]
    if not found:
        raise WrongUse(
            f"This player reads {either(allowed)} only; a card can be built as {either(WRITABLE)}."
        )
    large = about_bytes > SD_CLASSES[1].capacity_bytes_max
    return sorted(found, key=lambda kind: kind == "FAT16" or (kind == "FAT32") == large)


def _given(
    kind: FileSystem, table: PartitionTable, start: int, root: NewFolder, limits: CardLimits, size_bytes: int
) -> Shape:
    image = size_bytes // SECTOR_BYTES * SECTOR_BYTES
    if table == "MBR" and image - start > MBR_BYTES_MAX:
        raise DoesNotFit(
            f"an MBR can tell of a part of {MBR_BYTES_MAX:,} bytes at most, and the card has {size_bytes:,}"
        )
    usual = usual_cluster_bytes(kind, image - start) if image > start else None
    if usual is None:
        raise DoesNotFit(f"a card of {size_bytes:,} bytes cannot be {kind}")
    cluster = _at_most(usual, limits)
    free = limits.free_percent_min or 0.0
    least = least_size_bytes(kind, root, cluster, start, free)
    if least > image - start:
        keeping = f" and {free:g} % of the card free" if free else ""
        raise DoesNotFit(
            f"the files{keeping} need a card of at least {start + least:,} bytes as {kind}, and this one has "
            f"{size_bytes:,}"
        )
    return Shape(kind, table, image, start, cluster)


def _least(kind: FileSystem, table: PartitionTable, start: int, root: NewFolder, limits: CardLimits) -> Shape:
    refused: DoesNotFit | None = None
    for cluster in _clusters(kind, limits):
        try:
            size = least_size_bytes(kind, root, cluster, start, limits.free_percent_min or 0.0)
        except DoesNotFit as error:
            refused = error
            continue
        usual = usual_cluster_bytes(kind, size)
        if usual is not None and _at_most(usual, limits) <= cluster:
            return Shape(kind, table, start + size, start, cluster)
    raise refused or DoesNotFit(
        f"no card can hold these files as {kind} with clusters that this player takes"
    )


def _clusters(kind: FileSystem, limits: CardLimits) -> Iterator[int]:
    most = limits.cluster_bytes_max
    sizes: Sequence[int] = [1 << power for power in CLUSTERS[kind]]
    yield from (size for size in sizes if most is None or size <= most)


def _at_most(usual: int, limits: CardLimits) -> int:
    """The usual cluster, or the largest power of two that the player takes."""
    most = limits.cluster_bytes_max
    return usual if most is None else min(usual, 1 << most.bit_length() - 1)
