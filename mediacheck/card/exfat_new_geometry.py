"""Divides a new exFAT volume: where the FAT and the clusters begin, how many clusters there are, how large it
must be.

It must not know what is in the clusters. Names and numbers follow the "exFAT file system specification",
revision 1.00, sections in brackets.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction

from mediacheck.card.exfat_fat import ENTRY_BYTES
from mediacheck.card.exfat_layout import (
    CLUSTER_COUNT_MAX,
    CLUSTER_SHIFT_MAX,
    FAT_OFFSET_MIN,
    FIRST_CLUSTER,
    SECTOR_SHIFTS,
    VOLUME_BYTES_MIN,
)
from mediacheck.card.new_volume import DoesNotFit

SECTOR_SHIFT = SECTOR_SHIFTS[0]
SECTOR_BYTES = 1 << SECTOR_SHIFT
STEP_BYTES = 4096
"""Volumes of the least size are a multiple of this."""
_MIB, _GIB = 1 << 20, 1 << 30
USUAL_CLUSTERS = (
    (256 * _MIB, 4096),
    (32 * _GIB, 32_768),
    (CLUSTER_COUNT_MAX * 131_072, 131_072),
)
"""Up to which size of a volume which clusters: Microsoft, KB 140365, "Default cluster size for exFAT"
(second-hand: its table repeated on a page of questions and answers). Larger volumes cannot have them [3.1.9].
"""


@dataclass(frozen=True, slots=True)
class Geometry:
    """How a volume is divided, in sectors from its start."""

    sectors: int
    cluster_sectors: int
    fat_sectors: int
    heap_sector: int
    """Where cluster 2 begins."""
    cluster_count: int

    @property
    def cluster_bytes(self) -> int:
        """Of one cluster."""
        return self.cluster_sectors * SECTOR_BYTES

    def byte_of(self, cluster: int) -> int:
        """Where a cluster begins, from the start of the volume."""
        return self.heap_sector * SECTOR_BYTES + (cluster - FIRST_CLUSTER) * self.cluster_bytes


def usual_cluster_bytes(size_bytes: int) -> int | None:
    """What Windows gives a volume of this size; None where exFAT cannot have it."""
    if size_bytes < VOLUME_BYTES_MIN:
        return None
    return next((cluster for most, cluster in USUAL_CLUSTERS if size_bytes <= most), None)


def require_cluster_size(cluster_bytes: int) -> None:
    """DoesNotFit where no exFAT volume can have such clusters [3.1.15]."""
    if cluster_bytes.bit_count() != 1 or not SECTOR_BYTES <= cluster_bytes <= 1 << CLUSTER_SHIFT_MAX:
        raise DoesNotFit(
            f"exFAT can have clusters of 512 bytes, or twice as much and so on up to "
            f"{1 << CLUSTER_SHIFT_MAX:,}, and not of {cluster_bytes:,}"
        )


def divided(size_bytes: int, cluster_bytes: int, start_byte: int) -> Geometry:
    """The volume of this size: right behind the boot regions the FAT, then as many clusters as there is room
    for.

    The clusters begin at a multiple of their size, counted from the start of the medium, since cards write
    and erase in units; where the volume itself begins at such a multiple, also counted from its own start.
    Raises DoesNotFit.
    """
    if size_bytes < VOLUME_BYTES_MIN:
        raise DoesNotFit(
            f"exFAT needs at least {VOLUME_BYTES_MIN:,} bytes, and the volume has {size_bytes:,}"
        )
    sectors, cluster_sectors = size_bytes // SECTOR_BYTES, cluster_bytes // SECTOR_BYTES
    places = range(_aligned(FAT_OFFSET_MIN, cluster_sectors, start_byte), sectors, cluster_sectors)

    def has_room_for_fat(heap: int) -> bool:
        return heap >= FAT_OFFSET_MIN + _fat_sectors((sectors - heap) // cluster_sectors)

    found = bisect_left(places, True, key=has_room_for_fat)
    count = (sectors - places[found]) // cluster_sectors if found < len(places) else 0
    if not count:
        raise DoesNotFit(f"a volume of {size_bytes:,} bytes has no room for a cluster of {cluster_bytes:,}")
    if count > CLUSTER_COUNT_MAX:
        raise DoesNotFit(
            f"a volume of {size_bytes:,} bytes has {count:,} clusters of {cluster_bytes:,} bytes, and exFAT "
            f"can have {CLUSTER_COUNT_MAX:,} at most"
        )
    return Geometry(sectors, cluster_sectors, _fat_sectors(count), places[found], count)


def bitmap_bytes(cluster_count: int) -> int:
    """[7.1.5] one bit for each cluster."""
    return -(-cluster_count // 8)


def clusters_for(length_bytes: int, cluster_bytes: int) -> int:
    """How many clusters so many bytes need."""
    return -(-length_bytes // cluster_bytes)


def least_volume_bytes(held: int, cluster_bytes: int, start_byte: int, free_percent: float) -> int:
    """The least volume in which this part of the clusters is free, with so many held beside the bitmap.

    The bitmap grows with the volume, so that a larger volume may have a smaller part free by a hair: then the
    next larger one is looked at. Raises DoesNotFit.
    """
    count = 1
    while True:
        count = _least_count(held, cluster_bytes, free_percent, count)
        sectors = _sectors_with(count, cluster_bytes // SECTOR_BYTES, start_byte)
        size = max(VOLUME_BYTES_MIN, _up(sectors * SECTOR_BYTES, STEP_BYTES))
        there = divided(size, cluster_bytes, start_byte).cluster_count
        if _least_count(held, cluster_bytes, free_percent, there) == there:
            return size
        count = there + 1


def _least_count(held: int, cluster_bytes: int, free_percent: float, at_least: int) -> int:
    """The least number of clusters, from `at_least` on, of which that part is free.

    For a bitmap of so many clusters it is plain; the bitmap is made larger until it covers what that gives.
    """
    taken = 1 - Fraction(str(free_percent)) / 100
    if taken <= 0:
        raise DoesNotFit(f"no exFAT volume can be {free_percent:g} % free: its own tables take room")
    covered = 8 * cluster_bytes
    bitmap = clusters_for(at_least, covered)
    while True:
        count = max(at_least, -(-(held + bitmap) * taken.denominator // taken.numerator))
        needed = clusters_for(count, covered)
        if needed == bitmap or count > CLUSTER_COUNT_MAX:
            break
        bitmap = needed
    if count <= CLUSTER_COUNT_MAX:
        return count
    raise DoesNotFit(
        f"the files need more than the {CLUSTER_COUNT_MAX:,} clusters of {cluster_bytes:,} bytes that exFAT "
        "can have at most"
    )


def _sectors_with(count: int, cluster_sectors: int, start_byte: int) -> int:
    """Of the least volume with so many clusters."""
    heap = _aligned(FAT_OFFSET_MIN + _fat_sectors(count), cluster_sectors, start_byte)
    return heap + count * cluster_sectors


def _fat_sectors(cluster_count: int) -> int:
    """[3.1.7]"""
    return -(-(cluster_count + FIRST_CLUSTER) * ENTRY_BYTES // SECTOR_BYTES)


def _aligned(sector: int, cluster_sectors: int, start_byte: int) -> int:
    """The next sector from there on that is a multiple of a cluster on the medium."""
    start = start_byte // SECTOR_BYTES
    return _up(start + sector, cluster_sectors) - start


def _up(number: int, step: int) -> int:
    return -(-number // step) * step
