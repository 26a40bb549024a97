"""Divides a new FAT volume: how many sectors are reserved, how long the table is, how many clusters there
are, and how large a volume must be.

It must not know what is in the clusters.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from types import MappingProxyType

from mediacheck.card.fat_boot import FIRST_CLUSTER
from mediacheck.card.fat_layout import FAT12, FAT16, FAT32, FatType
from mediacheck.card.fat_slots import SLOT_BYTES
from mediacheck.card.new_volume import DoesNotFit
from mediacheck.names import FileSystem

SECTOR_BYTES = 512
SECTORS_MAX = 2**32 - 1
"""Specification, BPB_TotSec32."""
FATS = 2
"""Specification, BPB_NumFATs: "this field should always contain the value 2"."""
CLUSTER_BYTES_MAX = 32_768
"""Specification, BPB_SecPerClus: larger ones "do not work properly"."""
BORDER_CLUSTERS = 16
"""Specification, "FAT Type Determination": stay so far away from the numbers at which the kind changes, since
many programs are off by a few."""
STEP_SECTORS = 8
"""Volumes of the least size are a multiple of 4,096 bytes."""


@dataclass(frozen=True, slots=True)
class Kind:
    """What volumes of one kind are like."""

    type: FatType
    reserved_sectors: int
    """At least. More are reserved where the clusters are to begin at a round place, as mkfs.fat does. (For
    FAT16 the specification wants 1 and no other number, but says that Microsoft's systems read any.)"""
    clusters_min: int
    clusters_max: int
    usual: tuple[tuple[int, int], ...]
    """Up to how many sectors so many sectors make a cluster; 0: it cannot be of this kind (specification,
    DskTableFAT16 and DskTableFAT32)."""

    @property
    def usual_from(self) -> int:
        """The fewest sectors of a volume for which the tables have a cluster."""
        return self.usual[0][0] + 1


KINDS: Mapping[FileSystem, Kind] = MappingProxyType(
    {
        "FAT16": Kind(
            FAT16,
            1,
            FAT12.clusters_below + BORDER_CLUSTERS,
            FAT16.clusters_below - 1 - BORDER_CLUSTERS,
            (
                *((8_400, 0), (32_680, 2), (262_144, 4), (524_288, 8)),
                *((1_048_576, 16), (2_097_152, 32), (4_194_304, 64)),
            ),
        ),
        "FAT32": Kind(
            FAT32,
            32,
            FAT16.clusters_below + BORDER_CLUSTERS,
            FAT32.clusters_below - 1,
            (
                *((66_600, 0), (532_480, 1), (16_777_216, 8)),
                *((33_554_432, 16), (67_108_864, 32), (SECTORS_MAX, 64)),
            ),
        ),
    }
)


@dataclass(frozen=True, slots=True)
class Division:
    """How a volume is divided."""

    reserved_sectors: int
    fat_sectors: int
    """Of one copy of the table."""
    clusters: int


@dataclass(frozen=True, slots=True)
class Frame:
    """What is known of a volume before its size is."""

    kind: Kind
    cluster_sectors: int
    start_sector: int
    root_slots: int
    """Of a root folder that lies before the clusters; 0 on FAT32."""

    @property
    def cluster_bytes(self) -> int:
        """Of one cluster."""
        return self.cluster_sectors * SECTOR_BYTES

    @property
    def root_sectors(self) -> int:
        """Of the root folder that lies before the clusters."""
        return -(-self.root_slots * SLOT_BYTES // SECTOR_BYTES)

    def divided(self, sectors: int) -> Division:
        """A volume of so many sectors. DoesNotFit: it would be of another kind, or too close to that.

        Where there are too many clusters by a few, a larger part is reserved: a FAT16 volume of exactly 2 GB
        would have none of its kind otherwise.
        """
        if sectors > SECTORS_MAX:
            raise DoesNotFit(f"no FAT volume can be larger than {SECTORS_MAX * SECTOR_BYTES:,} bytes")
        kind, fat_sectors = self.kind, self._fat_sectors(sectors)
        clusters = self._clusters(sectors, fat_sectors)
        if not kind.clusters_min <= clusters <= self._countable:
            raise self._unfit(sectors, clusters)
        data_sector = self._data_sector(fat_sectors)
        if clusters > kind.clusters_max:
            clusters, fat_sectors = kind.clusters_max, self._fat_sectors_for(kind.clusters_max)
            data_sector = self._data_sector(fat_sectors, sectors - (clusters + 1) * self.cluster_sectors + 1)
        reserved = data_sector - FATS * fat_sectors - self.root_sectors
        return Division(reserved, fat_sectors, clusters)

    def least_sectors(self, used: int, free_percent: float, at_least: int = 0) -> int:
        """Of the least volume that has so many clusters in use and this part of its size free.

        A multiple of `STEP_SECTORS`, and `at_least` so many. DoesNotFit: there is none.
        """
        free, wanted = Fraction(str(free_percent)), max(used, self.kind.clusters_min)
        steps = range(0, SECTORS_MAX, STEP_SECTORS)
        enough = bisect_left(steps, wanted, key=self._natural_clusters)
        margin = 100 * self.cluster_sectors - free * self._sectors_per_cluster
        if wanted > self.kind.clusters_max or enough == len(steps) or margin <= 0:
            raise self._too_much(used, free_percent)
        # No table is shorter than its clusters need, and the rest has at least `before` sectors. So there
        # are at most (sectors - before) / sectors_per_cluster clusters: with fewer sectors than this, the
        # part that is free is too small.
        before = self.kind.reserved_sectors + self.root_sectors + used * self._sectors_per_cluster
        bound = ceil(100 * self.cluster_sectors * before / margin)
        first = max(steps[enough], -(-max(bound, at_least) // STEP_SECTORS) * STEP_SECTORS)
        found = self._first_with_free(first, used, free)
        if found is None:
            raise self._too_much(used, free_percent)
        return found

    def _first_with_free(self, sectors: int, used: int, free: Fraction) -> int | None:
        """The first volume from this size on with that part free; None: there is none.

        Larger ones may have less free by a hair, where the table takes one more sector or the clusters begin
        one later. But all that repeats after `period` sectors, with `gain` more to spare: what is missing
        then tells how many periods can be passed over.
        """
        period, gain = self._period(free)
        while sectors <= SECTORS_MAX:
            best = self._spare(sectors, used, free)
            for size in range(sectors, sectors + period, STEP_SECTORS):
                if size > SECTORS_MAX or self._natural_clusters(size) > self._countable:
                    return None
                spare = self._spare(size, used, free)
                if spare >= 0:
                    return size
                best = max(best, spare)
            sectors += period * ceil(-best / gain)
        return None

    def _spare(self, sectors: int, used: int, free: Fraction) -> Fraction:
        """How much more is free than should be, in hundredths of a sector; less than 0: too little is."""
        clusters = min(self._natural_clusters(sectors), self.kind.clusters_max)
        return 100 * (clusters - used) * self.cluster_sectors - free * sectors

    @property
    def _countable(self) -> int:
        """So many clusters can be brought down to the most that there may be: a few are reserved."""
        return self.kind.clusters_max + 2 * BORDER_CLUSTERS

    def _period(self, free: Fraction) -> tuple[int, Fraction]:
        """After how many sectors the rounding is the same again, and how much more there is to spare then."""
        fats = max(self.cluster_sectors, STEP_SECTORS) // FATS
        clusters = fats * SECTOR_BYTES * 8 // self.kind.type.entry_bits
        period = clusters * self.cluster_sectors + fats * FATS
        return period, 100 * clusters * self.cluster_sectors - free * period

    @property
    def _sectors_per_cluster(self) -> Fraction:
        """With its entries in the tables."""
        return self.cluster_sectors + Fraction(FATS * self.kind.type.entry_bits, 8 * SECTOR_BYTES)

    def _natural_clusters(self, sectors: int) -> int:
        """For how many there is room."""
        return self._clusters(sectors, self._fat_sectors(sectors))

    def _clusters(self, sectors: int, fat_sectors: int) -> int:
        return max(0, (sectors - self._data_sector(fat_sectors)) // self.cluster_sectors)

    def _fat_sectors(self, sectors: int) -> int:
        """Of the shortest table that tells of all clusters behind it."""
        most = self._fat_sectors_for(sectors // self.cluster_sectors)
        return bisect_left(
            range(most),
            True,
            key=lambda length: length >= self._fat_sectors_for(self._clusters(sectors, length)),
        )

    def _fat_sectors_for(self, clusters: int) -> int:
        return -(-(clusters + FIRST_CLUSTER) * self.kind.type.entry_bits // (8 * SECTOR_BYTES))

    def _data_sector(self, fat_sectors: int, at_least: int = 0) -> int:
        """Where the clusters begin: at a multiple of their size counted from the start of the medium, since
        cards write and erase in units (and so from the start of a volume that itself begins at one)."""
        before = self.kind.reserved_sectors + FATS * fat_sectors + self.root_sectors
        place, size = self.start_sector + max(before, at_least), self.cluster_sectors
        return -(-place // size) * size - self.start_sector

    def _unfit(self, sectors: int, clusters: int) -> DoesNotFit:
        kind = self.kind
        needed = (
            f"needs at least {kind.clusters_min:,}"
            if clusters < kind.clusters_min
            else f"can have {kind.clusters_max:,} at most"
        )
        return DoesNotFit(
            f"a volume of {sectors * SECTOR_BYTES:,} bytes has {clusters:,} clusters of "
            f"{self.cluster_bytes:,} bytes, and {kind.type.name} {needed}"
        )

    def _too_much(self, used: int, free_percent: float) -> DoesNotFit:
        keeping = f" with {free_percent:g} % of the card free" if free_percent else ""
        return DoesNotFit(
            f"the files and folders take {used:,} clusters of {self.cluster_bytes:,} bytes, and no "
            f"{self.kind.type.name} volume with such clusters has room for them{keeping}: it can have "
            f"{self.kind.clusters_max:,} at most"
        )


def usual_cluster_bytes(file_system: FileSystem, size_bytes: int) -> int | None:
    """What Microsoft's systems give a volume of this size; None where it cannot be of that kind."""
    sectors = size_bytes // SECTOR_BYTES
    usual = next((size for most, size in KINDS[file_system].usual if sectors <= most), 0)
    return usual * SECTOR_BYTES or None


def require_cluster_size(cluster_bytes: int) -> None:
    """DoesNotFit where no FAT volume should have such clusters."""
    if cluster_bytes.bit_count() != 1 or not SECTOR_BYTES <= cluster_bytes <= CLUSTER_BYTES_MAX:
        raise DoesNotFit(
            f"FAT can have clusters of {SECTOR_BYTES} bytes, or twice as much and so on up to "
            f"{CLUSTER_BYTES_MAX:,}, and not of {cluster_bytes:,}"
        )
