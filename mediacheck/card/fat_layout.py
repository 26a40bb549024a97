"""The layout of a FAT volume on the medium: boot sector, FSInfo and table, parsed and composed.

It must not read a medium, and must not judge what the fields hold.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, fields
from typing import Any, ClassVar, Final, Self

from mediacheck.names import FileSystem

BOOT_BYTES = 512
"""The fields end with the signature at 510, whatever the sector size (specification, BPB)."""
SIGNATURE = 0xAA55
SECTOR_BYTES = (512, 1024, 2048, 4096)
SECTORS_PER_CLUSTER = (1, 2, 4, 8, 16, 32, 64, 128)
MEDIA = frozenset((0xF0, *range(0xF8, 0x100)))
"""Specification, BPB_Media."""
EXTENDED_SIGNATURE, SHORT_SIGNATURE = 0x29, 0x28
"""BS_BootSig: serial, label and type follow; 28h: the serial only (28h: common practice, no source)."""
NO_NAME = b"NO NAME    "
ACTIVE_COPY, NO_MIRROR = 0x000F, 0x0080
"""BPB_ExtFlags: which copy of the FAT is in use, where the copies are not kept alike."""
BOOT_DIRTY, BOOT_TEST_WANTED = 0x01, 0x02
"""Reserved1, which Windows NT uses: dosfstools, fsck.fat.h."""

LEAD, STRUCTURE, TRAIL = 0x41615252, 0x61417272, 0xAA550000
UNKNOWN = 0xFFFFFFFF
"""FSInfo: a count that is not kept."""


@dataclass(frozen=True, slots=True)
class FatType:
    """How one of the three kinds writes the entries of its table (specification, "FAT Data Structure")."""

    name: FileSystem
    entry_bits: int
    mask: int
    """The bits of an entry that count."""
    bad: int
    end: int
    """The lowest of the values that end a chain."""
    clean: int
    """Bit of FAT[1]: put away in order. 0 where there is none."""
    no_errors: int
    """Bit of FAT[1]: no trouble reading or writing. 0 where there is none."""
    clusters_below: int
    """The kind has fewer clusters than this ("FAT Type Determination", strictly less)."""


FAT12: Final = FatType("FAT12", 12, 0xFFF, 0xFF7, 0xFF8, 0, 0, 4_085)
FAT16: Final = FatType("FAT16", 16, 0xFFFF, 0xFFF7, 0xFFF8, 0x8000, 0x4000, 65_525)
FAT32: Final = FatType("FAT32", 32, 0x0FFFFFFF, 0x0FFFFFF7, 0x0FFFFFF8, 0x08000000, 0x04000000, 0x0FFFFFF6)
"""The last number keeps the highest cluster below the mark for a bad one (dosfstools, MAX_CLUST_32)."""


@dataclass(frozen=True, slots=True)
class Fat32Fields:
    """The fields that only FAT32 has, at offset 36."""

    fat_sectors: int
    flags: int
    version: int
    root_cluster: int
    info_sector: int
    backup_sector: int
    reserved: bytes = bytes(12)

    LAYOUT: ClassVar = struct.Struct("<IHHIHH12s")


@dataclass(frozen=True, slots=True)
class BootSector:
    """The boot sector, field by field in the order of the disk (specification, BPB and BS tables)."""

    jump: bytes
    maker: bytes
    sector_bytes: int
    sectors_per_cluster: int
    reserved_sectors: int
    fats: int
    root_slots: int
    sectors_16: int
    media: int
    fat_sectors_16: int
    sectors_per_track: int
    heads: int
    hidden_sectors: int
    sectors_32: int
    fat32: Fat32Fields | None
    drive: int
    nt_flags: int
    extended_signature: int
    serial: int
    label: bytes
    type_text: bytes
    """Never used to tell the kind (specification, "FAT Type Determination")."""
    boot_code: bytes
    signature: int = SIGNATURE

    COMMON: ClassVar = struct.Struct("<3s8sHBHBHHBHHHII")
    EXTENDED: ClassVar = struct.Struct("<BBBI11s8s")

    @classmethod
    def parse(cls, sector: bytes) -> Self:
        """From at least 512 bytes. Where BPB_FATSz16 is 0, the fields of FAT32 follow."""
        common = cls.COMMON.unpack_from(sector)
        place, fat32 = cls.COMMON.size, None
        if common[9] == 0:
            fat32 = Fat32Fields(*Fat32Fields.LAYOUT.unpack_from(sector, place))
            place += Fat32Fields.LAYOUT.size
        extended = cls.EXTENDED.unpack_from(sector, place)
        code = sector[place + cls.EXTENDED.size : BOOT_BYTES - 2]
        signature = int.from_bytes(sector[BOOT_BYTES - 2 : BOOT_BYTES], "little")
        values: tuple[Any, ...] = (*common, fat32, *extended, code, signature)
        return cls(*values)

    def compose(self) -> bytes:
        """512 bytes. The boot code is filled up with zeros. ValueError: it is too long."""
        common = (getattr(self, field.name) for field in fields(self)[:14])
        extended = (getattr(self, field.name) for field in fields(self)[15:21])
        fat32 = Fat32Fields.LAYOUT.pack(*_values(self.fat32)) if self.fat32 else b""
        head = self.COMMON.pack(*common) + fat32 + self.EXTENDED.pack(*extended) + self.boot_code
        if len(head) > BOOT_BYTES - 2:
            raise ValueError("the boot code is too long for its sector")
        return head.ljust(BOOT_BYTES - 2, b"\0") + self.signature.to_bytes(2, "little")

    @property
    def fat_sectors(self) -> int:
        """Length of one copy of the FAT."""
        return self.fat32.fat_sectors if self.fat32 else self.fat_sectors_16

    @property
    def sectors(self) -> int:
        """Length of the volume."""
        return self.sectors_16 or self.sectors_32

    @property
    def nt_flags_offset(self) -> int:
        """Where the byte with the dirty bit lies: 37, or 65 on FAT32."""
        return self.COMMON.size + (Fat32Fields.LAYOUT.size if self.fat32 else 0) + 1


@dataclass(frozen=True, slots=True)
class FsInfo:
    """FAT32: the sector that keeps the number of free clusters (specification, FSInfo)."""

    lead: int = LEAD
    reserved_1: bytes = bytes(480)
    structure: int = STRUCTURE
    free_clusters: int = UNKNOWN
    next_free: int = UNKNOWN
    reserved_2: bytes = bytes(12)
    trail: int = TRAIL

    LAYOUT: ClassVar = struct.Struct("<I480sIII12sI")

    @classmethod
    def parse(cls, sector: bytes) -> Self:
        """From at least 512 bytes."""
        return cls(*cls.LAYOUT.unpack_from(sector))

    def compose(self) -> bytes:
        """512 bytes."""
        return self.LAYOUT.pack(*_values(self))

    @property
    def signed(self) -> bool:
        """Whether the three signatures are there."""
        return (self.lead, self.structure, self.trail) == (LEAD, STRUCTURE, TRAIL)


def _values(structure: Fat32Fields | FsInfo) -> tuple[int | bytes, ...]:
    return tuple(getattr(structure, field.name) for field in fields(structure))
