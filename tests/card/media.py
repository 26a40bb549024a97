"""Media for tests: bytes in memory, and a device that takes whole sectors only, some of them worn out.

It must not know any file system.
"""

from __future__ import annotations

import errno
from collections.abc import Iterable
from dataclasses import dataclass, field


@dataclass(slots=True)
class Bytes:
    """Bytes in memory as a medium."""

    data: bytes
    sector_bytes: int = 512
    source: str = "memory"
    start_byte: int = 0
    closed: bool = False

    @property
    def size_bytes(self) -> int:
        return len(self.data)

    def read(self, offset: int, length: int) -> bytes:
        assert offset >= 0
        return self.data[offset : offset + max(0, length)]

    def close(self) -> None:
        self.closed = True


@dataclass(slots=True)
class Device(Bytes):
    """A raw device: it refuses what is not whole sectors, and fails on some of them."""

    worn: frozenset[int] = frozenset()
    """Numbers of the sectors that cannot be read."""
    asked: list[tuple[int, int]] = field(default_factory=list)
    """Place and length of each read, in bytes."""

    def read(self, offset: int, length: int) -> bytes:
        self.asked.append((offset, length))
        if offset % self.sector_bytes or length % self.sector_bytes:
            raise OSError(errno.EINVAL, "Invalid argument")
        if any(offset <= sector * self.sector_bytes < offset + length for sector in self.worn):
            raise OSError(errno.EIO, "Input/output error")
        return Bytes.read(self, offset, length)


def image(size_bytes: int, pieces: Iterable[tuple[int, bytes]]) -> bytes:
    """Zeros with these bytes at these places."""
    data = bytearray(size_bytes)
    for place, piece in pieces:
        data[place : place + len(piece)] = piece
    return bytes(data)
