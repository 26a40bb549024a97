"""Where the parts of a FAT volume lie, by its boot sector, and what is wrong with that sector.

It must not read the table of clusters or a folder.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

from mediacheck.card.damages import Damages
from mediacheck.card.fat_layout import (
    ACTIVE_COPY,
    BOOT_BYTES,
    BOOT_DIRTY,
    BOOT_TEST_WANTED,
    FAT12,
    FAT16,
    FAT32,
    MEDIA,
    NO_MIRROR,
    SECTOR_BYTES,
    SECTORS_PER_CLUSTER,
    SIGNATURE,
    BootSector,
    FatType,
)
from mediacheck.card.fat_slots import SLOT_BYTES
from mediacheck.card.medium import Medium, Window, read_or_nothing
from mediacheck.errors import CardError

USUAL_BACKUP_SECTOR = 6
"""Specification, BPB_BkBootSec: no other value is recommended, so that it is found when sector 0 is lost."""
FIRST_CLUSTER = 2

FIELD_WORDS = {
    "maker": "the name of the program that formatted it",
    "sector_bytes": "the size of a sector",
    "sectors_per_cluster": "the size of a cluster",
    "reserved_sectors": "the place of the table of clusters",
    "fats": "the number of tables of clusters",
    "media": "the kind of medium",
    "sectors_16": "the size of the file system",
    "sectors_32": "the size of the file system",
    "fat_sectors_16": "the length of the table of clusters",
    "fat32": "the fields that only FAT32 has",
    "serial": "the serial number",
    "label": "the label",
    "signature": "the signature",
}
"""The fields whose difference matters most, in words; any other is "the code that starts a computer"."""


@dataclass(frozen=True, slots=True)
class Geometry:
    """Where the parts lie, in bytes from the start of the volume. Nothing in it is negative or zero but
    `root_cluster` (FAT12 and FAT16), `root_start_byte` and `root_bytes` (FAT32)."""

    type: FatType
    sector_bytes: int
    cluster_bytes: int
    clusters: int
    """How many can be in use: as many as the volume has, and the FAT can tell of."""
    size_bytes: int
    fat_start_byte: int
    fat_bytes: int
    fats: int
    active_fat: int
    mirrored: bool
    """Whether all copies of the FAT are kept alike."""
    root_start_byte: int
    root_bytes: int
    root_cluster: int
    data_start_byte: int

    @property
    def entries(self) -> int:
        """Entries of the FAT that are in use: those of the clusters, and two before them."""
        return self.clusters + FIRST_CLUSTER


def held_bytes(medium: Medium) -> int:
    """How many bytes can really be read: a window may claim more than its medium has."""
    if isinstance(medium, Window):
        return max(0, min(medium.size_bytes, held_bytes(medium.whole) - medium.offset))
    return medium.size_bytes


def type_of(clusters: int) -> FatType:
    """The kind by the number of clusters alone (specification, "FAT Type Determination")."""
    return next((kind for kind in (FAT12, FAT16) if clusters < kind.clusters_below), FAT32)


def clusters_of(boot: BootSector) -> int:
    """CountofClusters of the specification; below 1 where there is no room. For a sector that is possible."""
    return (boot.sectors - _data_start_sector(boot)) // boot.sectors_per_cluster


def is_fat(first_sector: bytes) -> bool:
    """Whether these first 512 bytes of a volume are the boot sector of a FAT file system."""
    if len(first_sector) < BOOT_BYTES or first_sector[3:11] in (b"NTFS    ", b"EXFAT   "):
        return False
    boot = BootSector.parse(first_sector)
    begun = _jumps(boot) or boot.signature == SIGNATURE
    return begun and boot.media in MEDIA and why_impossible(boot) is None


def read_boot(medium: Medium, damages: Damages) -> BootSector:
    """The boot sector, or its backup where it is lost. CardError: neither can be used."""
    first = read_or_nothing(medium, 0, BOOT_BYTES)
    boot = BootSector.parse(first) if len(first) == BOOT_BYTES else None
    reason = why_impossible(boot) if boot else "it cannot be read"
    if boot and not reason:
        return boot
    backup = _lone_backup(medium)
    if backup is None:
        raise CardError(f"the boot sector is broken, and nothing can be found without it: {reason}")
    damages.tell(f"the boot sector is broken ({reason}): only its backup copy tells where the files are")
    return backup


def why_impossible(boot: BootSector) -> str | None:
    """Why no file can be found by this boot sector; None where it can be tried."""
    if boot.sector_bytes not in SECTOR_BYTES:
        return f"it says that a sector holds {boot.sector_bytes:,} bytes"
    if boot.sectors_per_cluster not in SECTORS_PER_CLUSTER:
        return f"it says that a cluster holds {boot.sectors_per_cluster} sectors"
    if not (boot.reserved_sectors and boot.fats and boot.fat_sectors):
        return "it leaves no room for itself or for the table of clusters"
    if clusters_of(boot) < 1:
        return "it leaves no room for files"
    return None


def geometry_of(boot: BootSector) -> Geometry:
    """Where the parts lie, by a boot sector that is possible."""
    kind = FAT32 if boot.fat32 else min(type_of(clusters_of(boot)), FAT16, key=lambda kind: kind.entry_bits)
    fat_bytes = boot.fat_sectors * boot.sector_bytes
    told = fat_bytes * 8 // kind.entry_bits - FIRST_CLUSTER
    flags = boot.fat32.flags if boot.fat32 else 0
    mirrored = not flags & NO_MIRROR
    fat_start_byte = boot.reserved_sectors * boot.sector_bytes
    return Geometry(
        kind,
        boot.sector_bytes,
        boot.sectors_per_cluster * boot.sector_bytes,
        max(1, min(clusters_of(boot), told, kind.clusters_below - 1)),
        boot.sectors * boot.sector_bytes,
        fat_start_byte,
        fat_bytes,
        boot.fats,
        0 if mirrored else min(flags & ACTIVE_COPY, boot.fats - 1),
        mirrored,
        fat_start_byte + boot.fats * fat_bytes,
        0 if boot.fat32 else boot.root_slots * SLOT_BYTES,
        boot.fat32.root_cluster if boot.fat32 else 0,
        _data_start_sector(boot) * boot.sector_bytes,
    )


def check_boot(boot: BootSector, geometry: Geometry, damages: Damages) -> None:
    """Tell what is wrong with a boot sector by itself."""
    if boot.signature != SIGNATURE:
        damages.tell("the boot sector lacks its last two bytes, 55 AA: players may not recognise the card")
    if not _jumps(boot):
        damages.tell("the boot sector does not begin as one must: players may not recognise the card")
    if boot.media not in MEDIA:
        damages.tell(f"the boot sector names a kind of medium that does not exist ({boot.media:02X}h)")
    _check_type(boot, geometry, damages)
    if boot.fat32:
        _check_fat32(boot, damages)
    elif not boot.root_slots:
        damages.tell("the boot sector leaves no room for the root folder")


def check_backup(boot: BootSector, geometry: Geometry, medium: Medium, damages: Damages) -> None:
    """FAT32: hold the boot sector against its backup.

    The dirty bits may differ: systems set them in the first copy only (common practice, no source).
    """
    sector = boot.fat32.backup_sector if boot.fat32 else 0
    if not 0 < sector < boot.reserved_sectors:  # 0 and FFFFh: none is kept (dosfstools, boot.c)
        return
    found = read_or_nothing(medium, sector * geometry.sector_bytes, BOOT_BYTES)
    if len(found) < BOOT_BYTES:
        damages.tell("the backup copy of the boot sector cannot be read", only_writing=True)
        return
    backup = BootSector.parse(found)
    if backup.signature != SIGNATURE and not any(found[:BOOT_BYTES]):
        damages.tell("the backup copy of the boot sector is empty", only_writing=True)
        return
    differing = _differing(boot, backup)
    if differing:
        damages.tell(f"the boot sector and its backup copy differ: {', '.join(differing)}", only_writing=True)


def _check_type(boot: BootSector, geometry: Geometry, damages: Damages) -> None:
    clusters, kind = clusters_of(boot), geometry.type
    if type_of(clusters) != kind:
        damages.tell(
            f"the card is laid out as {kind.name}, but has {clusters:,} clusters, which makes it "
            f"{type_of(clusters).name}: some players find nothing on it"
        )
    if geometry.clusters < min(clusters, kind.clusters_below - 1):
        damages.tell(
            f"the table of clusters is too short: it tells of {geometry.clusters:,} clusters, but the file "
            f"system has {clusters:,}"
        )


def _check_fat32(boot: BootSector, damages: Damages) -> None:
    if boot.fat32 and boot.fat32.version:
        damages.tell("the boot sector asks for a version of FAT32 that does not exist")
    if boot.fat32 and boot.fat32.flags & NO_MIRROR and boot.fat32.flags & ACTIVE_COPY >= boot.fats:
        damages.tell("the boot sector says that a table of clusters is in use which does not exist")
    if boot.root_slots:
        damages.tell(
            "the boot sector sets room aside for a root folder as FAT12 and FAT16 have it, not FAT32"
        )


def _data_start_sector(boot: BootSector) -> int:
    root_sectors = -(-boot.root_slots * SLOT_BYTES // boot.sector_bytes)
    return boot.reserved_sectors + boot.fats * boot.fat_sectors + root_sectors


def _jumps(boot: BootSector) -> bool:
    """Specification, BS_jmpBoot: EB ?? 90 or E9 ?? ??."""
    return boot.jump[0] == 0xE9 or (boot.jump[0] == 0xEB and boot.jump[2] == 0x90)


def _lone_backup(medium: Medium) -> BootSector | None:
    """A backup that is found without the boot sector, because it says itself that it belongs there."""
    for sector_bytes in SECTOR_BYTES:
        found = read_or_nothing(medium, USUAL_BACKUP_SECTOR * sector_bytes, BOOT_BYTES)
        if is_fat(found):
            backup = BootSector.parse(found)
            if (
                backup.fat32
                and backup.fat32.backup_sector * backup.sector_bytes == USUAL_BACKUP_SECTOR * sector_bytes
            ):
                return backup
    return None


def _differing(boot: BootSector, backup: BootSector) -> list[str]:
    dirty = BOOT_DIRTY | BOOT_TEST_WANTED
    left, right = (replace(one, nt_flags=one.nt_flags & ~dirty) for one in (boot, backup))
    names = [
        field.name for field in fields(BootSector) if getattr(left, field.name) != getattr(right, field.name)
    ]
    return list(dict.fromkeys(FIELD_WORDS.get(name, "the code that starts a computer") for name in names))
