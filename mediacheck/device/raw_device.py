"""A raw device that is open for writing, and that nobody else uses meanwhile.

It must not decide whether it may be written over: `device.guard` does, by its description. Here is proven
that what is opened is what was described.
"""

from __future__ import annotations

import errno
import os
import stat
import struct
import sys
from typing import BinaryIO, Protocol

from mediacheck.card.device import geometry
from mediacheck.card.uncached import forget
from mediacheck.device.drive import Drive
from mediacheck.device.guard import drive_words
from mediacheck.device.macos import raw_path
from mediacheck.errors import CardError

FULL = (errno.ENOSPC, errno.EDQUOT)
GONE = (errno.ENODEV, errno.ENXIO, getattr(errno, "ENOMEDIUM", errno.ENODEV))
AGAIN = "Run the same command again, and leave the card in."
BLKGETDISKSEQ = 0x80081280
"""Linux, include/uapi/linux/fs.h: _IOR(0x12, 128, __u64), what sysfs tells as diskseq."""


class Device(Protocol):
    """Bytes that can be read and written at any place. Used by one thread."""

    @property
    def size_bytes(self) -> int:
        """How many bytes there are."""

    @property
    def sector_bytes(self) -> int:
        """What it is written by."""

    def read(self, offset: int, length: int) -> bytes:
        """So many bytes from there; fewer where it ends. Raises OSError."""

    def write(self, offset: int, content: bytes) -> None:
        """Put this there; `offset` is where a sector begins. Raises OSError."""

    def sync(self) -> None:
        """Wait until all that was written is on the medium. Raises OSError."""

    def forget(self) -> bool:
        """Have the system forget what it keeps of it in memory. True: that is proven."""

    def close(self) -> None:
        """Let go of it."""


class RawDevice:
    """A device by its open file.

    The file stays open when the card in a reader is changed for another one, and would write to that one. So
    every call asks first; `insertion` is what `Drive` has of this name, None where the system does not count.
    """

    def __init__(
        self, file: BinaryIO, size_bytes: int, sector_bytes: int, insertion: str | None = None
    ) -> None:
        self._file, self.size_bytes, self.sector_bytes = file, size_bytes, sector_bytes
        self._insertion = insertion

    def read(self, offset: int, length: int) -> bytes:
        """So many bytes from there; fewer where it ends. Raises OSError."""
        self._require_same_card()
        end = min(offset + length, self.size_bytes)
        begin, beyond = self._sectors(offset, end)
        pieces = []
        place = begin
        while place < beyond and (piece := os.pread(self._file.fileno(), beyond - place, place)):
            pieces.append(piece)
            place += len(piece)
        content = pieces[0] if len(pieces) == 1 else b"".join(pieces)
        return content[offset - begin : end - begin] if (begin, beyond) != (offset, end) else content

    def write(self, offset: int, content: bytes) -> None:
        """Put this there; `offset` is where a sector begins. Raises OSError.

        macOS writes whole sectors only: the rest of the last one is put back as it was.
        """
        rest = -len(content) % self.sector_bytes
        tail = self.read(offset + len(content), rest) if rest else b""
        view = memoryview(content + tail if tail else content)
        self._require_same_card()
        while view:
            written = os.pwrite(self._file.fileno(), view, offset)
            if not written:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            offset, view = offset + written, view[written:]

    def sync(self) -> None:
        """Wait until all that was written is on the medium. Raises OSError."""
        os.fsync(self._file.fileno())

    def forget(self) -> bool:
        """Have the system forget what it keeps of it in memory. True: that is proven."""
        return forget(self._file.fileno(), self.size_bytes)

    def close(self) -> None:
        """Let go of it."""
        self._file.close()

    def _require_same_card(self) -> None:
        if self._insertion is not None and insertion_of(self._file) != self._insertion:
            raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))

    def _sectors(self, begin: int, end: int) -> tuple[int, int]:
        beyond = min(end + -end % self.sector_bytes, self.size_bytes)
        return begin - begin % self.sector_bytes, beyond


def open_device(drive: Drive) -> RawDevice:
    """Open what was described for writing. CardError: it is in use, or another one by now.

    open(2), O_EXCL: of a block device it fails with EBUSY while the system uses it or a part of it, and keeps
    the system from mounting it before it is closed. macOS refuses to write to drives that are mounted.
    """
    name = raw_path(drive.path) if sys.platform == "darwin" else drive.path
    try:
        file = os.fdopen(os.open(name, os.O_RDWR | os.O_EXCL), "r+b", buffering=0)
    except OSError as error:
        raise _refused(drive, error) from error
    try:
        _require_same(file, drive)
    except OSError as error:
        file.close()
        raise _refused(drive, error) from error
    except BaseException:
        file.close()
        raise
    return RawDevice(file, drive.size_bytes, drive.sector_bytes, drive.insertion)


def insertion_of(file: BinaryIO) -> str | None:
    """What changes when another card is put in, of an opened device; None where the system does not tell."""
    if sys.platform != "linux":
        return None
    from fcntl import ioctl

    try:
        answer = ioctl(file.fileno(), BLKGETDISKSEQ, bytes(8))
    except OSError:
        return None
    return str(struct.unpack("=Q", answer)[0])


def _require_same(file: BinaryIO, drive: Drive) -> None:
    status = os.fstat(file.fileno())
    is_device = stat.S_ISBLK(status.st_mode) or (stat.S_ISCHR(status.st_mode) and sys.platform == "darwin")
    is_same = drive.insertion is None or insertion_of(file) == drive.insertion
    if not is_device or status.st_rdev != drive.number or not is_same:
        raise _told(drive, "is another device by now than the one that was shown", AGAIN)
    size_bytes = geometry(file).size_bytes
    if size_bytes != drive.size_bytes:
        raise _told(drive, f"holds {size_bytes:,} bytes by now, so it is not the card that was shown", AGAIN)


def _refused(drive: Drive, error: OSError) -> CardError:
    """Why it cannot be opened, in a sentence."""
    if error.errno in (errno.EACCES, errno.EPERM):
        return _told(drive, "may not be written to by you", "Run the same command with sudo.")
    if error.errno == errno.EBUSY:
        advice = "Close what works with it, unmount it, and run the same command again."
        return _told(drive, "is in use by this computer", advice)
    if error.errno == errno.EROFS:
        advice = "Move the little slider at the side of the card or of its adapter."
        return _told(drive, "is write-protected", advice)
    if error.errno in (errno.ENOENT, *GONE):
        return _told(drive, "is not there any more", "Put the card in, and run the same command again.")
    return _told(drive, f"cannot be written to: {error.strerror or error}", AGAIN)


def _told(drive: Drive, what: str, advice: str) -> CardError:
    error = CardError(f"{drive_words(drive)} {what}")
    error.advice = advice
    return error
