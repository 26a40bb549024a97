"""Reads and writes large files past the memory in which the system keeps what was read and written.

A card is larger than what that memory is good for: it would push all else out, and finding room in it for
every byte takes longer than the disk does. Linux only (open(2), O_DIRECT); elsewhere, on file systems that
have no such way, and for places that do not begin and end where blocks do, files are read and written as
usual.

It must not know what the bytes are.
"""

from __future__ import annotations

import errno
import mmap
import os
import sys
from typing import BinaryIO

from mediacheck.output import write_all

STEP_BYTES = 4096
"""A multiple of this is one of the blocks of any disk, and of a page of memory (common practice)."""
LARGE_BYTES = 1 << 20
"""Smaller files are not worth the trouble."""
SAMPLES = 8


class Reading:
    """A file that is read from its start. What the system has in memory already is taken from there."""

    def __init__(self, file: BinaryIO, size_bytes: int) -> None:
        """Opened by somebody else, and not read yet."""
        self._file, self._place = file, 0
        large = size_bytes >= LARGE_BYTES
        self._direct = large and not _is_kept(file, size_bytes) and _switched(file, direct=True)

    def readinto(self, view: memoryview) -> int:
        """The next bytes; 0 at the end. Raises OSError."""
        found = self._read_direct(view)
        if found is None:
            found = self._file.readinto(view)  # type: ignore[attr-defined]  # every opened entry has it
        self._place += found
        return int(found)

    def _read_direct(self, view: memoryview) -> int | None:
        """None: from here on it is read as usual."""
        if not self._direct or sys.platform != "linux":
            return None
        try:
            if self._place % STEP_BYTES == 0 == len(view) % STEP_BYTES:
                return os.preadv(self._file.fileno(), [view], self._place)
        except OSError as error:
            if error.errno != errno.EINVAL:
                raise
        self._direct = False
        _switched(self._file, direct=False)
        self._file.seek(self._place)
        return None


class Writing:
    """A file that has its full length, written here and there by one thread."""

    def __init__(self, file: BinaryIO) -> None:
        """Opened by somebody else, without a buffer."""
        self._file, self._on = file, False
        self.is_direct = _switched(file, direct=True) and _switched(file, direct=False)
        """Whether what can go past the memory does."""

    def write(self, place: int, data: memoryview) -> None:
        """All of it. Only memory from `mmap` goes directly: it begins where a page does. Raises OSError."""
        done = 0
        if self.is_direct and place % STEP_BYTES == 0 and isinstance(data.obj, mmap.mmap):
            done = self._write_direct(place, data[: len(data) // STEP_BYTES * STEP_BYTES])
        if done < len(data):
            self._switch(direct=False)
            self._file.seek(place + done)
            write_all(self._file, data[done:])

    def end(self) -> None:
        """Leave the file as it was found: whoever else writes to it does so as usual."""
        self._switch(direct=False)

    def _write_direct(self, place: int, data: memoryview) -> int:
        """How many bytes were written; the rest is to be written as usual."""
        done = 0
        try:
            self._switch(direct=True)
            while done < len(data) and done % STEP_BYTES == 0:
                done += os.pwrite(self._file.fileno(), data[done:], place + done)
        except OSError as error:
            if error.errno != errno.EINVAL:
                raise
            self.is_direct = False
        return done

    def _switch(self, direct: bool) -> None:
        if self._on != direct:
            _switched(self._file, direct)
            self._on = direct


def _switched(file: BinaryIO, direct: bool) -> bool:
    """Whether the file is now read and written in this way. Raises OSError only where it stays direct."""
    if sys.platform == "linux":
        import fcntl

        try:
            descriptor = file.fileno()
            flags = fcntl.fcntl(descriptor, fcntl.F_GETFL)
            fcntl.fcntl(descriptor, fcntl.F_SETFL, flags | os.O_DIRECT if direct else flags & ~os.O_DIRECT)
        except OSError:  # EINVAL: the file system cannot; io.UnsupportedOperation: it lies within a medium
            if not direct:
                raise
            return False
        return True
    return not direct


def _is_kept(file: BinaryIO, size_bytes: int) -> bool:
    """Whether the system seems to have the whole file in memory, or cannot be asked.

    preadv2(2), RWF_NOWAIT: what is not in memory is refused with EAGAIN.
    """
    if sys.platform == "linux":
        places = {(size_bytes - 1) * number // (SAMPLES - 1) for number in range(SAMPLES)}
        try:
            descriptor = file.fileno()
            os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_RANDOM)  # or each would have its neighbours read
            try:
                for place in places:
                    os.preadv(descriptor, [bytearray(1)], place, os.RWF_NOWAIT)
            finally:
                os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_NORMAL)
        except OSError as error:
            return error.errno != errno.EAGAIN
    return True
