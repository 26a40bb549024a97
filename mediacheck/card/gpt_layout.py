"""How a GPT lies on a medium: a header in sector 1, its entries behind it, and both again at the end.

It must not read a medium. Sources: Linux, block/partitions/efi.h (layout, signature, revision); UEFI
specification, 5.3 (as quoted in public sources); exFAT specification 1.00, 10.2 (basic data).
"""

from __future__ import annotations

import struct
import uuid
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from mediacheck.card.mbr_layout import PROTECTIVE, Mbr, MbrEntry

SIGNATURE = b"EFI PART"
REVISION = 0x00010000
HEADER_BYTES = 92
ENTRY_BYTES = 128
ENTRIES = 128
"""UEFI specification, 5.3: at least 16,384 bytes are kept for the entries."""
ENTRIES_BYTES_MAX = 1 << 20
"""Our own bound: 8,192 partitions. No card has more, and a false header may claim any number."""

BASIC_DATA = uuid.UUID("EBD0A0A2-B9E5-4433-87C0-68B6B72699C7")
TYPE_NAMES: Mapping[uuid.UUID, str] = MappingProxyType(
    {
        BASIC_DATA: "FAT, exFAT or NTFS",
        # From memory: UEFI specification, table 5-7; Microsoft, PARTITION_INFORMATION_GPT; Apple and Linux
        uuid.UUID("C12A7328-F81F-11D2-BA4B-00A0C93EC93B"): "start-up files (EFI)",
        uuid.UUID("E3C9E316-0B5C-4DB8-817D-F92DF00215AE"): "kept by Windows",
        uuid.UUID("48465300-0000-11AA-AA11-00306543ECAC"): "HFS+",
        uuid.UUID("7C3457EF-0000-11AA-AA11-00306543ECAC"): "APFS",
        uuid.UUID("0FC63DAF-8483-4772-8E79-3D69D8477DE4"): "Linux",
    }
)

_HEADER = struct.Struct("<8sIIIIQQQQ16sQIII")
_ENTRY = struct.Struct("<16s16sQQQ72s")
_CHECKSUM = slice(16, 20)
_UNUSED = uuid.UUID(int=0)


@dataclass(frozen=True, slots=True)
class GptHeader:
    """One of the two headers. Sectors are counted from the start of the medium."""

    own_sector: int
    other_sector: int
    first_usable_sector: int
    last_usable_sector: int
    entries_sector: int
    entries_checksum: int
    disk: uuid.UUID
    entries: int = ENTRIES
    entry_bytes: int = ENTRY_BYTES
    header_bytes: int = HEADER_BYTES
    revision: int = REVISION

    @classmethod
    def parse(cls, sector: bytes) -> GptHeader | None:
        """From its sector; None where no header stands there. Its checksum is not looked at."""
        if len(sector) < HEADER_BYTES or not sector.startswith(SIGNATURE):
            return None
        (_, revision, header_bytes, _, _, own, other, first, last, disk, at, count, each, checksum) = (
            _HEADER.unpack_from(sector)
        )
        return cls(
            own_sector=own,
            other_sector=other,
            first_usable_sector=first,
            last_usable_sector=last,
            entries_sector=at,
            entries_checksum=checksum,
            disk=uuid.UUID(bytes_le=disk),
            entries=count,
            entry_bytes=each,
            header_bytes=header_bytes,
            revision=revision,
        )

    def compose(self) -> bytes:
        """Its bytes, with their checksum."""
        head = self._packed(0).ljust(self.header_bytes, b"\0")
        return self._packed(zlib.crc32(head)).ljust(self.header_bytes, b"\0")

    @property
    def entries_bytes(self) -> int:
        """How many bytes its entries take."""
        return self.entries * self.entry_bytes

    @property
    def sensible(self) -> bool:
        """Whether its sizes are ones that a GPT can have: entries of 128 bytes times a power of two (UEFI
        specification, 5.3.2), and not more of them than our own bound."""
        power = self.entry_bytes & (self.entry_bytes - 1) == 0
        return power and self.entry_bytes >= ENTRY_BYTES and 0 < self.entries_bytes <= ENTRIES_BYTES_MAX

    def _packed(self, checksum: int) -> bytes:
        return _HEADER.pack(
            *(SIGNATURE, self.revision, self.header_bytes, checksum, 0, self.own_sector, self.other_sector),
            *(self.first_usable_sector, self.last_usable_sector, self.disk.bytes_le, self.entries_sector),
            *(self.entries, self.entry_bytes, self.entries_checksum),
        )


def header_fits_checksum(sector: bytes) -> bool:
    """Whether the header in this sector has the CRC32 that it claims, over the length that it claims."""
    length = int.from_bytes(sector[12:16], "little")
    if not HEADER_BYTES <= length <= len(sector):
        return False
    head = bytearray(sector[:length])
    claimed = int.from_bytes(head[_CHECKSUM], "little")
    head[_CHECKSUM] = bytes(4)
    return zlib.crc32(head) == claimed


@dataclass(frozen=True, slots=True)
class GptEntry:
    """One partition; both sectors belong to it."""

    kind: uuid.UUID
    own: uuid.UUID
    first_sector: int
    last_sector: int
    attributes: int = 0
    name: str = ""
    """At most 36 UTF-16 units."""

    @classmethod
    def parse(cls, data: bytes) -> GptEntry:
        """From its first 128 bytes."""
        kind, own, first, last, attributes, name = _ENTRY.unpack_from(data)
        text = name.decode("utf-16-le", "replace").partition("\0")[0]
        return cls(uuid.UUID(bytes_le=kind), uuid.UUID(bytes_le=own), first, last, attributes, text)

    def compose(self) -> bytes:
        """Its 128 bytes."""
        name = self.name.encode("utf-16-le")[:72]
        kind, own = self.kind.bytes_le, self.own.bytes_le
        return _ENTRY.pack(kind, own, self.first_sector, self.last_sector, self.attributes, name)

    @property
    def used(self) -> bool:
        """Whether it names a partition."""
        return self.kind != _UNUSED

    @property
    def sectors(self) -> int:
        """How many sectors it has; 0 or less where its end lies before its start."""
        return self.last_sector - self.first_sector + 1

    @property
    def type_name(self) -> str:
        """What its type says in plain words."""
        return TYPE_NAMES.get(self.kind, "of a kind that is not known here")


def parse_entries(data: bytes, entry_bytes: int) -> tuple[GptEntry, ...]:
    """All entries, the unused ones too: their places are the numbers of the partitions, from 1."""
    whole = len(data) - len(data) % entry_bytes
    return tuple(GptEntry.parse(data[at : at + ENTRY_BYTES]) for at in range(0, whole, entry_bytes))


def gpt_pieces(
    sectors: int, sector_bytes: int, entries: Sequence[GptEntry], disk: uuid.UUID
) -> tuple[tuple[int, bytes], ...]:
    """A whole GPT for a medium of so many sectors: the bytes to write, each with the place of its first.

    The protective MBR, the header with its entries, and both again at the end of the medium.
    """
    packed = b"".join(entry.compose() for entry in entries).ljust(ENTRIES * ENTRY_BYTES, b"\0")
    taken = -(-len(packed) // sector_bytes)
    first = GptHeader(1, sectors - 1, 2 + taken, sectors - 2 - taken, 2, zlib.crc32(packed), disk)
    again = replace(first, own_sector=sectors - 1, other_sector=1, entries_sector=sectors - 1 - taken)
    return (
        (0, protective_mbr(sectors).compose()),
        (sector_bytes, first.compose()),
        (2 * sector_bytes, packed),
        (again.entries_sector * sector_bytes, packed),
        (again.own_sector * sector_bytes, again.compose()),
    )


def protective_mbr(sectors: int) -> Mbr:
    """The MBR that keeps old programs off a GPT: one partition over the whole medium (UEFI, 5.2.3)."""
    return Mbr.of(MbrEntry.of(PROTECTIVE, 1, min(sectors - 1, 0xFFFFFFFF)))
