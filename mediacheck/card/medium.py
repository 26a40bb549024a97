"""The bytes of a card: an image file or a raw device, read at any place and never written.

It must not know what the bytes mean.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

USUAL_SECTOR_BYTES = 512


class Medium(Protocol):
    """Bytes that can be read at any place. Used by one thread."""

    @property
    def size_bytes(self) -> int:
        """How many bytes there are."""

    @property
    def start_byte(self) -> int:
        """Where its first byte lies on the whole medium; 0 unless it is a window."""

    @property
    def source(self) -> str:
        """What `open_medium` takes to open the whole medium again."""

    @property
    def sector_bytes(self) -> int:
        """The sector size that the device tells; 512 for an image, which tells none."""

    def read(self, offset: int, length: int) -> bytes:
        """So many bytes from there; fewer, or none, where the medium ends. Raises OSError."""

    def close(self) -> None:
        """Let go of it. Windows of it cannot be read any more."""


def open_medium(source: str) -> Medium:
    """Open an image file or a raw device for reading. Raises OSError."""
    return FileMedium(source)


class FileMedium:
    """An image file, or a device that reads like a file."""

    sector_bytes = USUAL_SECTOR_BYTES
    start_byte = 0

    def __init__(self, source: str) -> None:
        self.source = source
        self._file = Path(source).open("rb", buffering=0)  # noqa: SIM115  # closed by `close`
        self.size_bytes = self._file.seek(0, io.SEEK_END)

    def read(self, offset: int, length: int) -> bytes:
        """So many bytes from there; fewer, or none, where the medium ends. Raises OSError."""
        self._file.seek(offset)
        found = self._file.read(max(0, min(length, self.size_bytes - offset)))
        return found or b""

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of a medium, read as a medium of its own: a partition. It may claim more than there is."""

    whole: Medium
    offset: int
    size_bytes: int

    @property
    def start_byte(self) -> int:
        """Where its first byte lies on the whole medium."""
        return self.whole.start_byte + self.offset

    @property
    def source(self) -> str:
        """What `open_medium` takes to open the whole medium again."""
        return self.whole.source

    @property
    def sector_bytes(self) -> int:
        """As of the whole medium."""
        return self.whole.sector_bytes

    def read(self, offset: int, length: int) -> bytes:
        """So many bytes from there; fewer, or none, where the window or the medium ends. Raises OSError."""
        return self.whole.read(self.offset + offset, max(0, min(length, self.size_bytes - offset)))

    def close(self) -> None:
        """The medium below stays open: it has other windows."""
