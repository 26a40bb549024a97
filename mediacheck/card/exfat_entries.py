"""The directory entries of exFAT, 32 bytes each: parsed from bytes and composed to bytes.

It must not read a medium and must not judge: values out of their range are parsed and composed as they are.
Names and numbers follow the "exFAT file system specification", revision 1.00, sections in brackets.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, replace
from datetime import datetime
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from mediacheck.card.exfat_layout import entry_set_checksum
from mediacheck.card.exfat_times import NO_TIME, Stamp, moments_of
from mediacheck.card.model import Attribute

ENTRY_BYTES = 32
END_OF_DIRECTORY = 0x00
IN_USE, SECONDARY, BENIGN = 0x80, 0x40, 0x20
"""[6.2.1, Table 15] bits of EntryType."""
INVALID = 0x80
"""[6.2.1]: the one value that never stands for anything."""

BITMAP, UPCASE_TABLE, LABEL, FILE = 0x81, 0x82, 0x83, 0x85
"""[7.1 to 7.4] critical primary."""
VOLUME_GUID, TEXFAT_PADDING = 0xA0, 0xA1
"""[7.5, 7.10] benign primary."""
STREAM, NAME = 0xC0, 0xC1
"""[7.6, 7.7] critical secondary."""
VENDOR_EXTENSION, VENDOR_ALLOCATION = 0xE0, 0xE1
"""[7.8, 7.9] benign secondary."""

ALLOCATION_POSSIBLE, NO_FAT_CHAIN = 1, 2
"""[6.3.4, 6.4.2] bits of the general flags."""

NAME_MAX, NAME_UNITS_PER_ENTRY, LABEL_MAX = 255, 15, 11
"""[7.6.3, 7.7.3, 7.3.2] in units of UTF-16."""
DIRECTORY_BYTES_MAX = 256 << 20
"""[9.5]"""

READ_ONLY, HIDDEN, SYSTEM, DIRECTORY, ARCHIVE = 0x01, 0x02, 0x04, 0x10, 0x20
"""[7.4.4, Table 28]"""
ATTRIBUTES: tuple[tuple[int, Attribute], ...] = (
    (READ_ONLY, "read-only"),
    (HIDDEN, "hidden"),
    (SYSTEM, "system"),
    (ARCHIVE, "archive"),
)

_FILE = struct.Struct("<B B H H H I I I B B B B B 7s")
_TIMES = np.dtype(
    {
        "names": ("made", "changed", "made_10ms", "changed_10ms", "made_utc", "changed_utc"),
        "formats": ("<u4", "<u4", "u1", "u1", "u1", "u1"),
        "offsets": (8, 12, 20, 21, 22, 23),
        "itemsize": ENTRY_BYTES,
    }
)
_STREAM = struct.Struct("<B B B B H H Q I I Q")
_NAME = struct.Struct("<B B 30s")
_BITMAP = struct.Struct("<B B 18s I Q")
_UPCASE = struct.Struct("<B 3s I 12s I Q")
_LABEL = struct.Struct("<B B 22s 8s")
_GUID = struct.Struct("<B B H H 16s 10s")
_ALLOCATION = struct.Struct("<20x I Q")
"""[6.2, Table 14] where each entry that can have clusters tells of them."""


@dataclass(frozen=True, slots=True)
class FileEntry:
    """[7.4, Table 27] the first entry of a file's or folder's set."""

    secondary_count: int = 0
    set_checksum: int = 0
    file_attributes: int = 0
    created: Stamp = NO_TIME
    modified: Stamp = NO_TIME
    accessed: Stamp = NO_TIME
    """It has no 10 ms steps."""

    @classmethod
    def parse(cls, entry: bytes) -> FileEntry:
        """From the first 32 bytes."""
        _, count, checksum, attributes, _, *times, _ = _FILE.unpack_from(entry)
        created, modified, accessed, created_10ms, modified_10ms, created_utc, modified_utc, accessed_utc = (
            times
        )
        return cls(
            *(count, checksum, attributes, Stamp(created, created_10ms, created_utc)),
            *(Stamp(modified, modified_10ms, modified_utc), Stamp(accessed, 0, accessed_utc)),
        )

    def compose(self) -> bytes:
        """32 bytes."""
        made, changed, seen = self.created, self.modified, self.accessed
        return _FILE.pack(
            *(FILE, self.secondary_count, self.set_checksum, self.file_attributes, 0),
            *(made.timestamp, changed.timestamp, seen.timestamp),
            *(made.increment_10ms, changed.increment_10ms),
            *(made.utc_offset, changed.utc_offset, seen.utc_offset, bytes(7)),
        )


def parse_times(
    entries: npt.NDArray[np.uint8],
) -> tuple[list[datetime | None], list[datetime | None]]:
    """When files were created and when their content was last changed, from the first entries of their sets,
    one in a row of 32 bytes."""
    times = np.ascontiguousarray(entries).view(_TIMES)[:, 0]
    made, changed = (
        moments_of(times[name], times[f"{name}_10ms"], times[f"{name}_utc"]) for name in ("made", "changed")
    )
    return made, changed


class StreamEntry(NamedTuple):
    """[7.6, Table 33] the second entry of a set: where the bytes lie, and how long the name is."""

    name_length: int = 0
    name_hash: int = 0
    valid_data_length: int = 0
    first_cluster: int = 0
    data_length: int = 0
    flags: int = ALLOCATION_POSSIBLE

    @classmethod
    def parse(cls, entry: bytes) -> StreamEntry:
        """From the first 32 bytes."""
        _, flags, _, name_length, name_hash, _, valid, _, cluster, length = _STREAM.unpack_from(entry)
        return cls(name_length, name_hash, valid, cluster, length, flags)

    def compose(self) -> bytes:
        """32 bytes."""
        return _STREAM.pack(
            *(STREAM, self.flags, 0, self.name_length, self.name_hash, 0),
            *(self.valid_data_length, 0, self.first_cluster, self.data_length),
        )

    @property
    def no_fat_chain(self) -> bool:
        """[6.4.2.2] whether the clusters follow each other, and the FAT knows nothing of them."""
        return bool(self.flags & NO_FAT_CHAIN)


_STREAM_ROW = np.dtype(
    {
        "names": StreamEntry._fields,
        "formats": ("u1", "<u2", "<u8", "<u4", "<u8", "u1"),
        "offsets": (3, 4, 8, 20, 24, 1),
        "itemsize": ENTRY_BYTES,
    }
)


StreamRows = npt.NDArray[np.void]
"""Many stream entries, a row for each, with columns named as the fields of `StreamEntry`."""


def parse_stream_rows(rows: npt.NDArray[np.uint8]) -> StreamRows:
    """`StreamEntry.parse` of many entries, one in a row of 32 bytes."""
    return np.ascontiguousarray(rows).view(_STREAM_ROW)[:, 0]


@dataclass(frozen=True, slots=True)
class BitmapEntry:
    """[7.1, Table 20] where the allocation bitmap lies. `flags` is 0 for the first one, 1 for the second."""

    first_cluster: int
    data_length: int
    flags: int = 0

    @classmethod
    def parse(cls, entry: bytes) -> BitmapEntry:
        """From the first 32 bytes."""
        _, flags, _, cluster, length = _BITMAP.unpack_from(entry)
        return cls(cluster, length, flags)

    def compose(self) -> bytes:
        """32 bytes."""
        return _BITMAP.pack(BITMAP, self.flags, b"", self.first_cluster, self.data_length)


@dataclass(frozen=True, slots=True)
class UpcaseEntry:
    """[7.2, Table 23] where the up-case table lies."""

    table_checksum: int
    first_cluster: int
    data_length: int

    @classmethod
    def parse(cls, entry: bytes) -> UpcaseEntry:
        """From the first 32 bytes."""
        _, _, checksum, _, cluster, length = _UPCASE.unpack_from(entry)
        return cls(checksum, cluster, length)

    def compose(self) -> bytes:
        """32 bytes."""
        return _UPCASE.pack(UPCASE_TABLE, b"", self.table_checksum, b"", self.first_cluster, self.data_length)


def parse_label(entry: bytes) -> str:
    """[7.3, Table 26] the name of the volume; a count over 11 is taken as 11."""
    _, count, text, _ = _LABEL.unpack_from(entry)
    return str(text[: 2 * min(count, LABEL_MAX)], "utf-16-le", "surrogatepass")


def compose_label(label: str) -> bytes:
    """[7.3, Table 26] the entry for a name of at most 11 units of UTF-16."""
    text = label.encode("utf-16-le", "surrogatepass")
    return _LABEL.pack(LABEL, len(text) // 2, text, b"")


def compose_guid(guid: bytes) -> bytes:
    """[7.5, Table 32] the entry for a volume's GUID of 16 bytes."""
    entry = _GUID.pack(VOLUME_GUID, 0, 0, 0, guid, b"")
    return _GUID.pack(VOLUME_GUID, 0, entry_set_checksum(entry), 0, guid, b"")


def parse_allocation(entry: bytes) -> tuple[int, int]:
    """[6.2, Table 14] first cluster and length in bytes of any entry whose flags say that it has clusters."""
    cluster, length = _ALLOCATION.unpack_from(entry)
    return cluster, length


def name_entries(name: bytes) -> bytes:
    """[7.7, Table 34] the entries for a name in UTF-16LE, unused places filled with zeros."""
    step = 2 * NAME_UNITS_PER_ENTRY
    return b"".join(_NAME.pack(NAME, 0, name[place : place + step]) for place in range(0, len(name), step))


def compose_entry_set(file: FileEntry, stream: StreamEntry, name: str, more: bytes = b"") -> bytes:
    """[7.4, 7.6, 7.7] all entries of a file or folder, counts and checksum filled in.

    `stream` has the hash of the up-cased name; `more` are benign secondary entries behind the name.
    """
    text = name.encode("utf-16-le", "surrogatepass")
    rest = stream._replace(name_length=len(text) // 2).compose() + name_entries(text) + more
    counted = replace(file, secondary_count=len(rest) // ENTRY_BYTES)
    checksum = entry_set_checksum(counted.compose() + rest)
    return replace(counted, set_checksum=checksum).compose() + rest
