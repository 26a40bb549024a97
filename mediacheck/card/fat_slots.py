"""The layout of a FAT directory on the medium: short and long entries and times, parsed and composed.

It must not read a medium, and must not judge what the fields hold.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
The offsets of creation time, creation date and access date are from libyal's libfsfat documentation.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, fields
from datetime import datetime
from typing import ClassVar, Final, Self

import numpy as np
import numpy.typing as npt

Words = npt.NDArray[np.unsignedinteger]

SLOT_BYTES = 32
DIRECTORY_SLOTS_MAX = 65_536
"""Specification, "FAT Directory Structure": at most 2,097,152 bytes."""
READ_ONLY, HIDDEN, SYSTEM, VOLUME_LABEL, DIRECTORY, ARCHIVE = 0x01, 0x02, 0x04, 0x08, 0x10, 0x20
LONG_NAME, LONG_NAME_MASK = 0x0F, 0x3F
END_MARK, DELETED, STANDS_FOR_E5 = 0x00, 0xE5, 0x05
"""What the first byte of a name may say (specification, DIR_Name)."""
LOWER_BASE, LOWER_EXTENSION = 0x08, 0x10
"""DIR_NTRes: the name, or its extension, is meant in lower case (read back from what mtools writes)."""
LAST_LONG = 0x40
LONG_UNITS, LONG_SLOTS_MAX, LONG_NAME_MAX = 13, 20, 255


@dataclass(frozen=True, slots=True)
class ShortEntry:
    """A directory entry with its name of eight and three characters."""

    name: bytes
    attributes: int
    nt_case: int = 0
    created_hundredths: int = 0
    """0 to 199 hundredths of a second above `created_time`: dosfstools and libfsfat; the specification speaks
    of tenths, which do not fit its own range."""
    created_time: int = 0
    created_date: int = 0
    accessed_date: int = 0
    cluster_high: int = 0
    written_time: int = 0
    written_date: int = 0
    cluster_low: int = 0
    size_bytes: int = 0

    LAYOUT: ClassVar = struct.Struct("<11sBBBHHHHHHHI")

    @classmethod
    def parse(cls, slot: bytes) -> Self:
        """From 32 bytes."""
        return cls(*cls.LAYOUT.unpack(slot))

    def compose(self) -> bytes:
        """32 bytes."""
        return self.LAYOUT.pack(*_values(self))


@dataclass(frozen=True, slots=True)
class LongEntry:
    """A piece of a long name: 13 units of UTF-16."""

    order: int
    units_1: bytes
    attributes: int
    kind: int
    checksum: int
    units_2: bytes
    cluster: int
    units_3: bytes

    LAYOUT: ClassVar = struct.Struct("<B10sBBB12sH4s")

    @classmethod
    def parse(cls, slot: bytes) -> Self:
        """From 32 bytes."""
        return cls(*cls.LAYOUT.unpack(slot))

    def compose(self) -> bytes:
        """32 bytes."""
        return self.LAYOUT.pack(*_values(self))

    @classmethod
    def holding(cls, order: int, checksum: int, units: bytes) -> Self:
        """The piece of that order (with `LAST_LONG` where it is the last) with these 26 bytes of UTF-16."""
        return cls(order, units[:10], LONG_NAME, 0, checksum, units[10:22], 0, units[22:])


SHORT_SLOTS: Final = np.dtype(
    {
        "names": [
            *("name", "attributes", "nt_case", "created_hundredths", "created"),
            *("cluster_high", "written", "cluster_low", "size"),
        ],
        "formats": [("u1", 11), "u1", "u1", "u1", "<u4", "<u2", "<u4", "<u2", "<u4"],
        "offsets": [0, 11, 12, 13, 14, 20, 22, 26, 28],
        "itemsize": SLOT_BYTES,
    }
)
"""A whole directory as `ShortEntry` sees it; `created` and `written` are the time in the low word, the date
in the high one."""
LONG_SLOTS: Final = np.dtype(
    {
        "names": ["order", "units_1", "attributes", "checksum", "units_2", "units_3"],
        "formats": ["u1", ("<u2", 5), "u1", "u1", ("<u2", 6), ("<u2", 2)],
        "offsets": [0, 1, 11, 13, 14, 28],
        "itemsize": SLOT_BYTES,
    }
)
"""A whole directory as `LongEntry` sees it."""


def long_name_checksum(name: bytes) -> int:
    """Over the 11 bytes of the short name (specification, "Generating and Checking Long Name Checksums")."""
    total = 0
    for byte in name:
        total = ((total & 1) << 7) + (total >> 1) + byte & 0xFF
    return total


def moments(when: Words, hundredths: Words) -> list[datetime | None]:
    """Times of many entries: the date word is the high one, the time word the low one.

    None where there is none (0), or no such day or time. Hundredths from 200 on count as 0.
    """
    date, time = when.astype(np.int64) >> 16, when.astype(np.int64) & 0xFFFF
    month, hour, minute, second = date >> 5 & 15, time >> 11, time >> 5 & 63, (time & 31) * 2
    first = ((date >> 9) * 12 + month + (1980 - 1970) * 12 - 1).astype("M8[M]")
    day = first.astype("M8[D]") + ((date & 31) - 1)
    found = day.astype("M8[us]") + ((hour * 60 + minute) * 60 + second) * 1_000_000
    found += np.where(hundredths < 200, hundredths, 0).astype(np.int64) * 10_000
    wrong = (month < 1) | (month > 12) | (day.astype("M8[M]") != first)
    found[wrong | (hour > 23) | (minute > 59) | (second > 59)] = np.datetime64("NaT")
    dates: list[datetime | None] = found.tolist()
    return dates


def words(when: datetime) -> tuple[int, int, int]:
    """Date word, time word and hundredths. ValueError outside 1980 to 2107."""
    if not 1980 <= when.year <= 2107:
        raise ValueError(f"FAT has no year {when.year}")
    date = (when.year - 1980) << 9 | when.month << 5 | when.day
    time = when.hour << 11 | when.minute << 5 | when.second // 2
    return date, time, when.second % 2 * 100 + when.microsecond // 10_000


def _values(structure: ShortEntry | LongEntry) -> tuple[int | bytes, ...]:
    return tuple(getattr(structure, field.name) for field in fields(structure))
