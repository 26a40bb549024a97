"""Finds the boot sector of an exFAT volume and says what is wrong with it, by its checksum and its backup.

It must not read beyond the two boot regions. Sections in brackets are those of the "exFAT file system
specification", revision 1.00.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType

from mediacheck.card.damages import Damages
from mediacheck.card.exfat_layout import (
    BOOT_BYTES,
    BOOT_REGION_SECTORS,
    BOOT_SIGNATURE,
    CHECKSUM_SECTOR,
    CLUSTER_COUNT_MAX,
    CLUSTER_SHIFT_MAX,
    FAT_OFFSET_MIN,
    FILE_SYSTEM_NAME,
    FIRST_CLUSTER,
    JUMP_BOOT,
    MEDIA_FAILURE,
    REVISION,
    SECTOR_SHIFTS,
    VOLUME_BYTES_MIN,
    VOLUME_DIRTY,
    BootSector,
    boot_checksum,
)
from mediacheck.card.medium import Medium, read_or_nothing
from mediacheck.errors import CardError

NOTHING_TO_GO_BY = "the exFAT boot sector and its backup are both damaged: no file on the card can be found"
WORN = "a computer has noted on the card that reading or writing failed: it may be worn out"
"""[3.1.13.3]"""

_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "jump_boot": "first bytes",
        "file_system_name": "name of the file system",
        "must_be_zero": "bytes that must be zero",
        "boot_signature": "signature",
        "file_system_revision": "version",
        "bytes_per_sector_shift": "size of a sector",
        "sectors_per_cluster_shift": "size of a cluster",
        "number_of_fats": "number of FATs",
        "volume_length": "size of the volume",
        "fat_offset": "place of the FAT",
        "fat_length": "length of the FAT",
        "cluster_heap_offset": "place of the clusters",
        "cluster_count": "number of clusters",
        "first_cluster_of_root_directory": "place of the root folder",
        "volume_serial_number": "serial number",
        "partition_offset": "place of the partition",
    }
)
"""The fields that matter, in words. Boot code and OEM parameters may differ from the backup [3]."""

_VITAL = frozenset(
    (
        *("bytes_per_sector_shift", "sectors_per_cluster_shift", "cluster_heap_offset", "cluster_count"),
        "first_cluster_of_root_directory",
    )
)
"""Fields without which no folder can be found."""


@dataclass(frozen=True, slots=True)
class Boot:
    """The boot sector that was chosen."""

    sector: BootSector
    is_backup: bool = False

    @property
    def dirty(self) -> bool | None:
        """Whether writing was not finished; a backup does not know [3.1]."""
        return None if self.is_backup else bool(self.sector.volume_flags & VOLUME_DIRTY)


@dataclass(frozen=True, slots=True)
class _Region:
    """A boot region as it was read."""

    sector: BootSector
    wrong: tuple[str, ...]
    """Fields that are out of their range."""
    checksum_holds: bool

    @property
    def sound(self) -> bool:
        return self.checksum_holds and not self.wrong

    @property
    def usable(self) -> bool:
        return not _VITAL.intersection(self.wrong)

    @property
    def fault(self) -> str:
        words = ", ".join(_WORDS[name] for name in self.wrong)
        return f"wrong: {words}" if words else "its checksum does not match"


def is_exfat(first_sector: bytes) -> bool:
    """Whether a volume says that it is exFAT, by the name in its first sector [3.1.2]."""
    return first_sector[3:11] == FILE_SYSTEM_NAME


def has_exfat(medium: Medium) -> bool:
    """The same, or that its backup says so, where the first sector is destroyed or cannot be read."""
    return is_exfat(read_or_nothing(medium, 0, BOOT_BYTES)) or _backup(medium, None) is not None


def read_boot(medium: Medium, damages: Damages) -> Boot:
    """The boot sector to go by, and what is wrong with it.

    The backup takes the place of a damaged main region only if it is sound itself. Raises CardError where
    neither is of use, and OSError where there is no backup and the first sector cannot be read.
    """
    main, unread = _main_or_error(medium)
    backup = _backup(medium, main.sector if main else None)
    if unread and not backup:
        raise unread
    if main is not None and main.sound:
        _tell_backup(main, backup, damages)
    else:
        _tell_main(main, backup, damages)
    chosen = _chosen(main, backup)
    if chosen is main and chosen.sector.volume_flags & MEDIA_FAILURE:
        damages.tell(WORN)
    return Boot(chosen.sector, is_backup=chosen is not main)


def _main_or_error(medium: Medium) -> tuple[_Region | None, OSError | None]:
    try:
        return _main(medium), None
    except OSError as error:
        return None, error


def _chosen(main: _Region | None, backup: _Region | None) -> _Region:
    by_worth = (
        *(region for region in (main, backup) if region and region.sound),
        *(region for region in (main, backup) if region and region.usable),
    )
    if not by_worth:
        raise CardError(NOTHING_TO_GO_BY)
    return by_worth[0]


def _tell_main(main: _Region | None, backup: _Region | None, damages: Damages) -> None:
    fault = main.fault if main else "it cannot be read, or does not say exFAT"
    if backup and backup.sound:
        damages.tell(
            f"the boot sector is damaged ({fault}); its backup is whole, but players do not look there"
        )
    else:
        damages.tell(f"the boot sector is damaged ({fault}), and so is its backup")


def _tell_backup(main: _Region, backup: _Region | None, damages: Damages) -> None:
    if backup is None or not backup.sound:
        fault = backup.fault if backup else "it cannot be read, or does not say exFAT"
        damages.tell(f"the backup of the boot sector is damaged ({fault})", only_writing=True)
    elif differing := _differing(main.sector, backup.sector):
        damages.tell(f"the boot sector and its backup do not agree ({differing})", only_writing=True)


def _differing(main: BootSector, backup: BootSector) -> str:
    names = (field.name for field in fields(BootSector) if field.name in _WORDS)
    return ", ".join(_WORDS[name] for name in names if getattr(main, name) != getattr(backup, name))


def _main(medium: Medium) -> _Region | None:
    """The main region, if it says that it is exFAT; of 512 bytes a sector where its size is out of range."""
    first = medium.read(0, BOOT_BYTES)
    if not is_exfat(first):
        return None
    shift = BootSector.parse(first).bytes_per_sector_shift
    return _region(medium, 0, shift if shift in SECTOR_SHIFTS else SECTOR_SHIFTS[0])


def _backup(medium: Medium, main: BootSector | None) -> _Region | None:
    """The backup region where it can be: its place depends on the size of a sector. The soundest one."""
    told = [main.bytes_per_sector_shift] if main and main.bytes_per_sector_shift in SECTOR_SHIFTS else []
    found = []
    for shift in dict.fromkeys((*told, *SECTOR_SHIFTS)):
        start = BOOT_REGION_SECTORS << shift
        first = read_or_nothing(medium, start, BOOT_BYTES)
        if is_exfat(first) and BootSector.parse(first).bytes_per_sector_shift == shift:
            found.append(_region(medium, start, shift))
    return max(found, key=lambda region: (region.sound, region.usable), default=None)


def _region(medium: Medium, start: int, shift: int) -> _Region:
    size = 1 << shift
    data = read_or_nothing(medium, start, BOOT_REGION_SECTORS * size) or medium.read(start, BOOT_BYTES)
    told, stored = data[: CHECKSUM_SECTOR * size], data[CHECKSUM_SECTOR * size :]
    holds = stored == boot_checksum(told).to_bytes(4, "little") * (size // 4)
    sector = BootSector.parse(data)
    return _Region(sector, wrong_fields(sector), holds)


def wrong_fields(boot: BootSector) -> tuple[str, ...]:
    """The names of the fields that are out of their range [3.1.1 to 3.1.20].

    A volume may have fewer clusters than would fit: the standard wants the greatest number [3.1.9], but
    nothing is lost.
    """
    if boot.bytes_per_sector_shift not in SECTOR_SHIFTS:
        return ("bytes_per_sector_shift",)
    fats_end = boot.fat_offset + boot.fat_length * boot.number_of_fats
    clusters_end = boot.cluster_heap_offset + (boot.cluster_count << boot.sectors_per_cluster_shift)
    right = {
        "jump_boot": boot.jump_boot == JUMP_BOOT,
        "file_system_name": boot.file_system_name == FILE_SYSTEM_NAME,
        "must_be_zero": not any(boot.must_be_zero),
        "boot_signature": boot.boot_signature == BOOT_SIGNATURE,
        "file_system_revision": boot.file_system_revision >> 8 == REVISION >> 8,
        "sectors_per_cluster_shift": boot.cluster_bytes <= 1 << CLUSTER_SHIFT_MAX,
        "number_of_fats": boot.number_of_fats in (1, 2),
        "volume_length": boot.volume_length >= VOLUME_BYTES_MIN >> boot.bytes_per_sector_shift,
        "fat_offset": boot.fat_offset >= FAT_OFFSET_MIN,
        "fat_length": boot.fat_length * boot.sector_bytes >= (boot.cluster_count + FIRST_CLUSTER) * 4,
        "cluster_heap_offset": boot.cluster_heap_offset >= max(fats_end, FAT_OFFSET_MIN),
        "cluster_count": 1 <= boot.cluster_count <= CLUSTER_COUNT_MAX and clusters_end <= boot.volume_length,
        "first_cluster_of_root_directory": FIRST_CLUSTER
        <= boot.first_cluster_of_root_directory
        < boot.cluster_count + FIRST_CLUSTER,
    }
    return tuple(name for name, holds in right.items() if not holds)
