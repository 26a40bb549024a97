"""How an MBR lies on a medium: four entries of 16 bytes in its first sector, each naming one partition.

It must not read a medium. Sources: Microsoft, "Disk partition types"; exFAT specification 1.00, section 10;
pages that quote the SD file system specification (second-hand); what is from memory says so.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

MBR_BYTES = 512
"""Whatever the sector size: the signature ends there."""
ENTRIES = 4
SIGNATURE = b"\x55\xaa"

EMPTY = 0x00
EXTENDED = frozenset((0x05, 0x0F, 0x85))
"""Partitions that hold logical ones: 05h (Microsoft); 0Fh with LBA and 85h of Linux (from memory)."""
PROTECTIVE = 0xEE
"""Linux, block/partitions/efi.h: EFI_PMBR_OSTYPE_EFI_GPT."""

ACTIVE = 0x80
STATES = frozenset((0x00, ACTIVE))

TYPE_NAMES: Mapping[int, str] = MappingProxyType(
    {
        # Microsoft, "Disk partition types"; exFAT specification, 10.2
        0x01: "FAT12",
        0x04: "FAT16 up to 32 MB",
        0x05: "extended",
        0x07: "exFAT or NTFS",
        0x0B: "FAT32",
        # From memory
        0x06: "FAT16",
        0x0C: "FAT32",
        0x0E: "FAT16",
        0x0F: "extended",
        0x17: "hidden exFAT or NTFS",
        0x1B: "hidden FAT32",
        0x1C: "hidden FAT32",
        0x82: "Linux swap space",
        0x83: "Linux",
        0x85: "extended",
        0xAF: "HFS or HFS+",
        0xEF: "start-up files (EFI)",
        # Linux, block/partitions/efi.h
        0xEE: "stands for a GPT",
    }
)

_ENTRY = struct.Struct("<B3sB3sII")
_HEAD = struct.Struct("<440sIH")
_CHS_END = b"\xfe\xff\xff"
"""Cylinder 1023, head 254, sector 63: "beyond what cylinders, heads and sectors can count" (from memory)."""
_HEADS, _SECTORS_PER_TRACK, _CYLINDERS = 255, 63, 1024


@dataclass(frozen=True, slots=True)
class MbrEntry:
    """One of the four places of an MBR. Sectors are counted in the sector size of the medium."""

    type_byte: int = EMPTY
    first_sector: int = 0
    sectors: int = 0
    state: int = 0
    first_chs: bytes = bytes(3)
    last_chs: bytes = bytes(3)

    @classmethod
    def of(cls, type_byte: int, first_sector: int, sectors: int, active: bool = False) -> MbrEntry:
        """An entry for these sectors, with the cylinder-head-sector numbers that old readers want."""
        state = ACTIVE if active else 0
        first, last = _chs(first_sector), _chs(first_sector + sectors - 1)
        return cls(type_byte, first_sector, sectors, state, first, last)

    @classmethod
    def parse(cls, data: bytes) -> MbrEntry:
        """From its 16 bytes."""
        state, first_chs, type_byte, last_chs, first_sector, sectors = _ENTRY.unpack(data)
        return cls(type_byte, first_sector, sectors, state, first_chs, last_chs)

    def compose(self) -> bytes:
        """Its 16 bytes."""
        return _ENTRY.pack(
            self.state, self.first_chs, self.type_byte, self.last_chs, self.first_sector, self.sectors
        )

    @property
    def used(self) -> bool:
        """Whether it names a partition."""
        return self.type_byte != EMPTY

    @property
    def type_name(self) -> str:
        """What its type says in plain words."""
        return TYPE_NAMES.get(self.type_byte, f"type {self.type_byte:02X}")


@dataclass(frozen=True, slots=True)
class Mbr:
    """The first 512 bytes of a medium with an MBR, or of an extended partition (an EBR)."""

    entries: tuple[MbrEntry, MbrEntry, MbrEntry, MbrEntry]
    disk_signature: int = 0
    """Windows: a number that tells disks apart, at 440 (from memory)."""
    boot_code: bytes = bytes(440)
    reserved: int = 0

    @classmethod
    def of(cls, *entries: MbrEntry, disk_signature: int = 0) -> Mbr:
        """With up to four entries, and no program to start from."""
        one, two, three, four = (*entries, *[MbrEntry()] * (ENTRIES - len(entries)))
        return cls((one, two, three, four), disk_signature)

    @classmethod
    def parse(cls, sector: bytes) -> Mbr | None:
        """From a sector; None where it is too short or does not end as an MBR does (55 AA at 510)."""
        if len(sector) < MBR_BYTES or sector[510:512] != SIGNATURE:
            return None
        boot_code, disk_signature, reserved = _HEAD.unpack_from(sector)
        one, two, three, four = (MbrEntry.parse(sector[at : at + 16]) for at in range(446, 510, 16))
        return cls((one, two, three, four), disk_signature, boot_code, reserved)

    def compose(self) -> bytes:
        """Its 512 bytes."""
        head = _HEAD.pack(self.boot_code, self.disk_signature, self.reserved)
        return head + b"".join(entry.compose() for entry in self.entries) + SIGNATURE

    @property
    def valid(self) -> bool:
        """Whether each entry is marked as active or as not active: other values mean that this is no MBR
        (as Linux, block/partitions/msdos.c, takes it)."""
        return all(entry.state in STATES for entry in self.entries)


def _chs(sector: int) -> bytes:
    """A place as cylinder, head and sector, as disks with 255 heads and 63 sectors count (from memory)."""
    cylinder, rest = divmod(sector, _HEADS * _SECTORS_PER_TRACK)
    head, within = divmod(rest, _SECTORS_PER_TRACK)
    if cylinder >= _CYLINDERS:
        return _CHS_END
    return bytes((head, within + 1 | cylinder >> 2 & 0xC0, cylinder & 0xFF))
