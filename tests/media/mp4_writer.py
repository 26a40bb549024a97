"""Writes the boxes of small MP4 files by hand, as ISO/IEC 14496-12 lays them out.

It must not use the walkers under test. Layout: Apple's QuickTime File Format pages; clause numbers of
ISO/IEC 14496-12 from memory.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass

IDENTITY = (1, 0, 0, 1)
ONE = 0x10000
FTYP = b"isom\x00\x00\x02\x00isomiso2avc1mp41"


def box(kind: bytes, *content: bytes) -> bytes:
    """A box with its 32-bit size in front (4.2)."""
    inside = b"".join(content)
    return struct.pack(">I4s", 8 + len(inside), kind) + inside


def wide_box(kind: bytes, *content: bytes) -> bytes:
    """A box whose size is 1: the real one follows the kind, in 64 bits."""
    inside = b"".join(content)
    return struct.pack(">I4sQ", 1, kind, 16 + len(inside)) + inside


def last_box(kind: bytes, *content: bytes) -> bytes:
    """A box whose size is 0: it goes on to the end of what it is in."""
    return struct.pack(">I4s", 0, kind) + b"".join(content)


def full_box(kind: bytes, *content: bytes, version: int = 0) -> bytes:
    """A box that starts with a version and flags."""
    return box(kind, bytes([version, 0, 0, 0]), *content)


def rows(*values: Sequence[int]) -> bytes:
    """A row count and 32-bit numbers, row by row, as the sample tables have them."""
    return struct.pack(">I", len(values)) + b"".join(struct.pack(f">{len(row)}i", *row) for row in values)


@dataclass(frozen=True)
class Track:
    """One picture track; `durations` and `offsets` in ticks, one per sample."""

    sizes: Sequence[int] = (100, 50, 60)
    durations: Sequence[int] = (40, 40, 40)
    offsets: Sequence[int] | None = None
    keys: Sequence[int] | None = (1,)
    matrix: tuple[int, int, int, int] = IDENTITY
    timescale: int = 1000
    version: int = 0
    entry: bytes = b"avc1"
    inside_entry: bytes = b""
    chunk_at: int = 48
    handler: bytes = b"vide"

    def write(self) -> bytes:
        """The trak box."""
        media = box(b"minf", box(b"stbl", *self._tables()))
        return box(b"trak", self._header(), box(b"mdia", self._media_header(), self._handler(), media))

    def _header(self) -> bytes:
        a, b, c, d = (ONE * value for value in self.matrix)
        times = struct.pack(">QQIIQ" if self.version else ">IIIII", 0, 0, 1, 0, sum(self.durations))
        matrix = struct.pack(">9i", a, b, 0, c, d, 0, 0, 0, 0x40000000)
        size = struct.pack(">II", 320 << 16, 180 << 16)
        return full_box(b"tkhd", times, bytes(8), bytes(8), matrix, size, version=self.version)

    def _media_header(self) -> bytes:
        form = ">QQIQ" if self.version else ">IIII"
        times = struct.pack(form, 0, 0, self.timescale, sum(self.durations))
        return full_box(b"mdhd", times, bytes(4), version=self.version)

    def _handler(self) -> bytes:
        return full_box(b"hdlr", bytes(4), self.handler, bytes(12), b"\x00")

    def _tables(self) -> list[bytes]:
        entry = box(self.entry, bytes(6), b"\x00\x01", bytes(70), self.inside_entry)
        tables = [
            full_box(b"stsd", struct.pack(">I", 1), entry),
            full_box(b"stts", rows(*((1, duration) for duration in self.durations))),
            full_box(b"stsc", rows((1, len(self.sizes), 1))),
            full_box(b"stsz", struct.pack(">I", 0), rows(*((size,) for size in self.sizes))),
            full_box(b"stco", rows((self.chunk_at,))),
        ]
        if self.offsets is not None:
            tables.append(full_box(b"ctts", rows(*((1, offset) for offset in self.offsets))))
        if self.keys is not None:
            tables.append(full_box(b"stss", rows(*((key,) for key in self.keys))))
        return tables


def moov(*tracks: Track, more: bytes = b"") -> bytes:
    """The index: a movie header and the tracks."""
    header = struct.pack(">IIII", 0, 0, 1000, 120) + bytes(80)
    return box(b"moov", full_box(b"mvhd", header), *(track.write() for track in tracks), more)


def ftyp(brand: bytes = b"isom") -> bytes:
    return box(b"ftyp", brand + FTYP[4:])
