"""The bytes of a card: an image file or a raw device, read at any place and never written.

It must not know what the bytes mean.
"""

from __future__ import annotations

import io
import os
from collections import OrderedDict
from dataclasses import dataclass
from typing import Protocol

from mediacheck.card.device import USUAL_SECTOR_BYTES, geometry, is_device, windows_device

BLOCK_BYTES = 1 << 16
BLOCKS_KEPT = 64


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
    if is_device(source):
        return Aligned(FileMedium(source, device=True))
    return FileMedium(source)


def read_or_nothing(medium: Medium, offset: int, length: int) -> bytes:
    """As `medium.read`, with nothing where it cannot be read: what stands there is found to be missing."""
    try:
        return medium.read(offset, length)
    except OSError:
        return b""


class FileMedium:
    """An image file, or a device, read just as asked."""

    start_byte = 0

    def __init__(self, source: str, device: bool = False) -> None:
        self.source = source
        self.sector_bytes = USUAL_SECTOR_BYTES
        # For reading only. Not by a `Path`, which puts a backslash behind the name of a Windows device.
        name = windows_device(source) or source
        self._file = open(name, "rb", buffering=0)  # noqa: PTH123, SIM115  # closed by `close`
        try:
            self._measure(device)
        except BaseException:
            self._file.close()
            raise

    def read(self, offset: int, length: int) -> bytes:
        """So many bytes from there; fewer, or none, where the medium ends. Raises OSError."""
        left = min(length, self.size_bytes - offset)
        pieces = []
        while left > 0 and (piece := self._read_once(offset, left)):
            pieces.append(piece)
            offset, left = offset + len(piece), left - len(piece)
        return pieces[0] if len(pieces) == 1 else b"".join(pieces)

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()

    def _measure(self, device: bool) -> None:
        if device:
            found = geometry(self._file)
            self.size_bytes, self.sector_bytes = found.size_bytes, found.sector_bytes
        else:
            self.size_bytes = self._file.seek(0, io.SEEK_END)

    def _read_once(self, offset: int, length: int) -> bytes:
        if hasattr(os, "pread"):
            found: bytes = os.pread(self._file.fileno(), length, offset)
            return found
        self._file.seek(offset)
        return self._file.read(length) or b""


class Aligned:
    """A medium that is read in whole sectors only: Windows and macOS refuse anything else of a raw device.

    What was read lately is kept in blocks. A block with a sector that cannot be read costs no more than that
    sector: only a read that needs it raises OSError.
    """

    start_byte = 0

    def __init__(self, whole: Medium) -> None:
        self._whole = whole
        self.source, self.size_bytes, self.sector_bytes = whole.source, whole.size_bytes, whole.sector_bytes
        self._blocks: OrderedDict[int, bytes] = OrderedDict()

    def read(self, offset: int, length: int) -> bytes:
        """So many bytes from there; fewer, or none, where the medium ends. Raises OSError."""
        end = min(offset + length, self.size_bytes)
        if end <= offset:
            return b""
        if end - offset >= BLOCK_BYTES:  # nobody asks for so much twice
            return self._sectors(offset, end)
        try:
            return self._from_blocks(offset, end)
        except OSError:
            return self._sectors(offset, end)

    def close(self) -> None:
        """Let go of the medium below."""
        self._blocks.clear()
        self._whole.close()

    def _from_blocks(self, offset: int, end: int) -> bytes:
        first, last = offset // BLOCK_BYTES, (end - 1) // BLOCK_BYTES
        found = self._block(first)
        if last > first and len(found) == BLOCK_BYTES:  # no more than two: what is longer is not kept
            found += self._block(last)
        begin = offset - first * BLOCK_BYTES
        return found[begin : begin + end - offset]

    def _block(self, number: int) -> bytes:
        block = self._blocks.pop(number, None)
        if block is None:
            begin = number * BLOCK_BYTES
            block = self._whole.read(begin, min(BLOCK_BYTES, self.size_bytes - begin))
        self._blocks[number] = block
        if len(self._blocks) > BLOCKS_KEPT:
            self._blocks.popitem(last=False)
        return block

    def _sectors(self, offset: int, end: int) -> bytes:
        """These bytes, by reading no other sectors than theirs."""
        begin = offset - offset % self.sector_bytes
        beyond = min(end + -end % self.sector_bytes, self.size_bytes)
        return self._whole.read(begin, beyond - begin)[offset - begin : end - begin]


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
