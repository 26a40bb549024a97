"""exFAT as it lies on the medium: the boot region and the checksums, parsed from bytes and composed to bytes.

It must not read a medium and must not judge: values out of their range are parsed and composed as they are.
Names and numbers follow the "exFAT file system specification", revision 1.00 (MicrosoftDocs/win32), whose
sections are named in brackets. Directory entries are in `exfat_entries`.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

JUMP_BOOT = b"\xeb\x76\x90"
"""[3.1.1]"""
FILE_SYSTEM_NAME = b"EXFAT   "
"""[3.1.2]"""
BOOT_SIGNATURE = 0xAA55
"""[3.1.20]"""
EXTENDED_BOOT_SIGNATURE = 0xAA550000
"""[3.2.2]; in the last four bytes of each extended boot sector."""
BOOT_CODE_FILL = b"\xf4"
"""[3.1.19]: the halt instruction, where there is no code to start a computer with."""

BOOT_BYTES = 512
"""[3.1, Table 4]: what of a boot sector has a meaning."""
BOOT_REGION_SECTORS = 12
"""[2, Table 3]: boot sector, 8 extended ones, OEM parameters, reserved, checksum; all again as the backup."""
EXTENDED_BOOT_SECTORS = range(1, 9)
CHECKSUM_SECTOR = 11
FAT_OFFSET_MIN = 24
"""[3.1.6] in sectors: what the two boot regions take."""

VOLUME_BYTES_MIN = 1 << 20
"""[3.1.5]"""
CLUSTER_COUNT_MAX = 2**32 - 11
"""[3.1.9]"""
SECTOR_SHIFTS = range(9, 13)
"""[3.1.14]: 512 to 4,096 bytes."""
CLUSTER_SHIFT_MAX = 25
"""[3.1.15] as the power of the cluster's bytes: 32 MiB."""
REVISION = 0x0100
"""[3.1.12]: 1.00; only the major number must be 1."""
PERCENT_UNKNOWN = 0xFF
"""[3.1.18]"""

ACTIVE_FAT, VOLUME_DIRTY, MEDIA_FAILURE = 1, 2, 4
"""[3.1.13] bits of VolumeFlags."""
STALE_BYTES = frozenset((106, 107, 112))
"""[3.4, Figure 1]: VolumeFlags and PercentInUse change without a new checksum."""

FAT_MEDIA = 0xFFFFFFF8
"""[4.1.1] FatEntry[0]: F8h and three times FFh."""
FAT_BAD = 0xFFFFFFF7
"""[4.1.3] a cluster that must not be used."""
FAT_END = 0xFFFFFFFF
"""[4.1.2, 4.1.3] FatEntry[1], and the last cluster of each chain."""
FIRST_CLUSTER = 2
"""[5.1]"""

_NOT_ZERO = re.compile(rb"[^\0]+")
_BOOT = struct.Struct("<3s 8s 53s Q Q 6I H H 5B 7s 390s H")
"""[3.1, Table 4]"""


@dataclass(frozen=True, slots=True)
class BootSector:
    """The main boot sector or its backup [3.1]. Offsets and lengths are in sectors, as in the standard."""

    volume_length: int
    fat_offset: int
    fat_length: int
    cluster_heap_offset: int
    cluster_count: int
    first_cluster_of_root_directory: int
    volume_serial_number: int
    bytes_per_sector_shift: int
    sectors_per_cluster_shift: int
    partition_offset: int = 0
    file_system_revision: int = REVISION
    volume_flags: int = 0
    number_of_fats: int = 1
    drive_select: int = 0x80
    percent_in_use: int = PERCENT_UNKNOWN
    jump_boot: bytes = JUMP_BOOT
    file_system_name: bytes = FILE_SYSTEM_NAME
    must_be_zero: bytes = bytes(53)
    reserved: bytes = bytes(7)
    boot_code: bytes = BOOT_CODE_FILL * 390
    boot_signature: int = BOOT_SIGNATURE

    @classmethod
    def parse(cls, sector: bytes) -> BootSector:
        """From the first 512 bytes of a sector; what is missing at its end counts as zeros."""
        jump, name, zero, offset, length, *middle = _BOOT.unpack(sector[:BOOT_BYTES].ljust(BOOT_BYTES, b"\0"))
        fat, fat_length, heap, count, root, serial, revision, flags, *rest = middle
        sector_shift, cluster_shift, fats, drive, percent, reserved, code, signature = rest
        return cls(
            *(length, fat, fat_length, heap, count, root, serial, sector_shift, cluster_shift),
            *(offset, revision, flags, fats, drive, percent, jump, name, zero, reserved, code, signature),
        )

    def compose(self) -> bytes:
        """The 512 bytes that the standard describes; a longer sector has undefined bytes behind them."""
        return _BOOT.pack(
            *(self.jump_boot, self.file_system_name, self.must_be_zero),
            *(self.partition_offset, self.volume_length, self.fat_offset, self.fat_length),
            *(self.cluster_heap_offset, self.cluster_count, self.first_cluster_of_root_directory),
            *(self.volume_serial_number, self.file_system_revision, self.volume_flags),
            *(self.bytes_per_sector_shift, self.sectors_per_cluster_shift, self.number_of_fats),
            *(self.drive_select, self.percent_in_use, self.reserved, self.boot_code, self.boot_signature),
        )

    @property
    def sector_bytes(self) -> int:
        """[3.1.14]"""
        return 1 << self.bytes_per_sector_shift

    @property
    def cluster_bytes(self) -> int:
        """[3.1.15]"""
        return 1 << self.bytes_per_sector_shift + self.sectors_per_cluster_shift

    @property
    def active_fat(self) -> int:
        """[3.1.13.1] 0, or 1 where there are two and the second is in use."""
        return self.volume_flags & ACTIVE_FAT if self.number_of_fats > 1 else 0

    @property
    def fat_start_byte(self) -> int:
        """Where the FAT that is in use begins, counted from the start of the volume."""
        return (self.fat_offset + self.active_fat * self.fat_length) << self.bytes_per_sector_shift

    @property
    def heap_start_byte(self) -> int:
        """Where cluster 2 begins, counted from the start of the volume."""
        return self.cluster_heap_offset << self.bytes_per_sector_shift

    @property
    def serial(self) -> str:
        """[3.1.11] as systems show it: "1234-ABCD"."""
        return f"{self.volume_serial_number >> 16:04X}-{self.volume_serial_number & 0xFFFF:04X}"


def compose_boot_region(boot: BootSector, oem_parameters: bytes = b"") -> bytes:
    """The twelve sectors of a boot region with their checksum; the same bytes serve as the backup.

    `oem_parameters` are the ten structures of 48 bytes of [3.3], none by default.
    """
    size = boot.sector_bytes
    extended = bytes(size - 4) + EXTENDED_BOOT_SIGNATURE.to_bytes(4, "little")
    sectors = [boot.compose(), *(extended for _ in EXTENDED_BOOT_SECTORS), oem_parameters, b""]
    region = b"".join(sector.ljust(size, b"\0") for sector in sectors)
    return region + boot_checksum(region).to_bytes(4, "little") * (size // 4)


def boot_checksum(region: bytes) -> int:
    """[3.4, Figure 1] of the first eleven sectors of a boot region."""
    return _rotating_sum(region, 32, STALE_BYTES)


def table_checksum(table: bytes) -> int:
    """[7.2.2, Figure 3] of the up-case table as it is stored."""
    return _rotating_sum(table, 32)


def entry_set_checksum(entries: bytes) -> int:
    """[6.3.3, Figure 2] of all entries of a set; its own two bytes are left out."""
    return _rotating_sum(entries, 16, frozenset((2, 3)))


def name_hash(capitals: bytes) -> int:
    """[7.6.4, Figure 4] of a name in UTF-16LE after up-casing."""
    return _rotating_sum(capitals, 16)


def _rotating_sum(data: bytes, bits: int, skipped: Collection[int] = ()) -> int:
    """Most of a boot region is zero, and zeros only turn the sum: a stretch of them is one step."""
    for place in sorted(skipped, reverse=True):
        data = data[:place] + data[place + 1 :]
    high, mask, total, done = 1 << bits - 1, (1 << bits) - 1, 0, 0
    for found in _NOT_ZERO.finditer(data):
        total = _turned(total, found.start() - done, bits)
        for byte in found[0]:
            total = (high if total & 1 else 0) + (total >> 1) + byte & mask
        done = found.end()
    return _turned(total, len(data) - done, bits)


def _turned(total: int, steps: int, bits: int) -> int:
    steps %= bits
    return (total >> steps | total << bits - steps) & (1 << bits) - 1


def rotating_sums(pieces: Sequence[bytes], skipped: Collection[int] = ()) -> npt.NDArray[np.uint16]:
    """`entry_set_checksum` (with places 2 and 3 skipped) or `name_hash` of many pieces at once."""
    lengths = np.fromiter(map(len, pieces), np.int64, len(pieces))
    order = np.argsort(-lengths, kind="stable")
    starts = (np.cumsum(lengths) - lengths)[order]
    falling = -lengths[order]
    data = np.frombuffer(b"".join(pieces), np.uint8)
    sums = np.zeros(len(pieces), np.uint16)
    for place in range(int(lengths.max(initial=0))):
        if place not in skipped:
            count = int(np.searchsorted(falling, -place))  # pieces that are longer than this
            some = sums[:count]
            some[:] = (some >> 1 | some << 15) + data[starts[:count] + place]
    found = np.empty_like(sums)
    found[order] = sums
    return found
