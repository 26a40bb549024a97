"""A file that lies on a medium: the runs of bytes that hold it, read in place as one seekable file.

It must not write, and must not know any file system.
"""

from __future__ import annotations

import io
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import BinaryIO, Literal

from mediacheck.card.medium import Medium, open_medium

BUFFER_BYTES = 1 << 16


@dataclass(frozen=True, slots=True)
class Run:
    """Bytes that follow each other on the medium, counted from its very start."""

    start_byte: int
    length_bytes: int

    @property
    def end_byte(self) -> int:
        """The first byte behind it."""
        return self.start_byte + self.length_bytes


@dataclass(frozen=True, slots=True)
class Within:
    """Where a file lies on a medium. It can be sent to another process, which opens the medium itself."""

    medium: str
    """What `open_medium` takes."""
    runs: tuple[Run, ...]
    size_bytes: int
    """Length of the file. Where the runs hold less, the file breaks off there; where more, the rest is
    slack."""

    def open(self, mode: Literal["rb"] = "rb") -> BinaryIO:
        """The file, for reading, seekable. Raises OSError."""
        return io.BufferedReader(_InPlace(open_medium(self.medium), self.runs, self.size_bytes), BUFFER_BYTES)

    @property
    def whole(self) -> Run | None:
        """The one run that holds the whole file, where it lies in one piece."""
        if len(self.runs) != 1 or self.runs[0].length_bytes < self.size_bytes:
            return None
        return Run(self.runs[0].start_byte, self.size_bytes)


def joined(runs: Sequence[Run]) -> tuple[Run, ...]:
    """The same bytes in as few runs as possible: neighbours become one."""
    found: list[Run] = []
    for run in runs:
        if found and found[-1].end_byte == run.start_byte:
            found[-1] = Run(found[-1].start_byte, found[-1].length_bytes + run.length_bytes)
        elif run.length_bytes:
            found.append(run)
    return tuple(found)


class _InPlace(io.RawIOBase):
    """Runs of a medium as one file."""

    def __init__(self, medium: Medium, runs: Sequence[Run], size_bytes: int) -> None:
        super().__init__()
        self._medium, self._runs = medium, runs
        self._begins = (0, *accumulate(run.length_bytes for run in runs))
        self._size_bytes = min(size_bytes, self._begins[-1])
        self._place = 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        start = {io.SEEK_SET: 0, io.SEEK_CUR: self._place, io.SEEK_END: self._size_bytes}[whence]
        if start + offset < 0:
            raise OSError("a place before the start of the file")
        self._place = start + offset
        return self._place

    def tell(self) -> int:
        return self._place

    def readinto(self, buffer: bytearray | memoryview) -> int:  # type: ignore[override]  # narrower is enough here
        number = bisect_right(self._begins, self._place) - 1
        if self._place >= self._size_bytes or number >= len(self._runs):
            return 0
        skipped = self._place - self._begins[number]
        run = self._runs[number]
        length = min(len(buffer), run.length_bytes - skipped, self._size_bytes - self._place)
        found = self._medium.read(run.start_byte + skipped, length)
        buffer[: len(found)] = found
        self._place += len(found)
        return len(found)

    def close(self) -> None:
        if not self.closed:
            self._medium.close()
        super().close()
