"""The free space of a mounted drive as a surface: filled with files of our own, which are always removed.

It must not touch a file that this run has not made.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from mediacheck.capacity.folder import O_NOT_A_LINK, Folder, Tell, claimed_folder
from mediacheck.capacity.mounted_drive import MountedDrive
from mediacheck.capacity.stream import BLOCK_BYTES, SECTOR_BYTES
from mediacheck.card.uncached import forget
from mediacheck.device.raw_device import FULL
from mediacheck.endings import endings_are_tidy, undisturbed
from mediacheck.errors import CardError
from mediacheck.rules.wording import size

FILE_BYTES = 1 << 30
"""FAT takes files of just under 4 GiB. Smaller ones tell better where a bad place is."""
RESERVE_BYTES = 4 << 20
"""Stays free, so that the file system finds room for its own lists. Our choice, no source."""
_AS_IT_IS = getattr(os, "O_BINARY", 0) | O_NOT_A_LINK


@dataclass(frozen=True, slots=True)
class Calls:
    """What is asked of the system for each file; tests ask another one. All but `forget` raise OSError."""

    write: Callable[[int, memoryview], int] = os.write
    sync: Callable[[int], None] = os.fsync
    read: Callable[[int, int], bytes] = os.read
    forget: Callable[[int, int], bool] = forget
    unlink: Callable[[Path], None] = Path.unlink


@dataclass(frozen=True, slots=True)
class Room:
    """How large a drive says that it is, what is in use, and what may be written."""

    claimed_bytes: int
    used_bytes: int
    room_bytes: int


@contextmanager
def files_on(drive: MountedDrive, tell: Tell, calls: Calls | None = None) -> Iterator[Files]:
    """A surface that leaves nothing on the drive, however the block ends; its `left_behind` says if it does.

    `tell` is told what a run that was killed had left. CardError: the drive cannot be filled.
    """
    files = None
    with endings_are_tidy():
        try:
            with claimed_folder(drive.root, drive.shown, tell) as folder:
                files = Files(drive, folder, calls or Calls(), room_on(drive))
                try:
                    yield files
                finally:
                    files.remove()
        except KeyboardInterrupt as error:
            if files and files.left_behind:
                raise CardError(f"it was stopped, and {files.left_behind}") from error
            raise


@dataclass(slots=True)
class Files:
    """Files of 1 GiB each, in a folder of their own."""

    drive: MountedDrive
    folder: Folder
    calls: Calls
    room: Room
    _made: list[Path] = field(default_factory=list)
    _stays: str | None = None
    _descriptor: int | None = None
    _read_number: int | None = None
    _in_file_bytes: int = FILE_BYTES
    _all_forgotten: bool = True

    @property
    def shown(self) -> str:
        """The drive."""
        return self.drive.shown

    @property
    def claimed_bytes(self) -> int:
        """The size of the file system."""
        return self.room.claimed_bytes

    @property
    def used_bytes(self) -> int:
        """What other files, and the file system itself, take."""
        return self.room.used_bytes

    @property
    def room_bytes(self) -> int:
        """The free space but for a small reserve."""
        return self.room.room_bytes

    @property
    def left_behind(self) -> str | None:
        """Why something of ours is still on the drive, a clause; None when all was removed."""
        return self._stays or self.folder.stays

    def write(self, content: memoryview) -> int:
        """At most 1 MiB, which ends where a file ends or before. Raises OSError."""
        taken = 0
        try:
            if self._in_file_bytes >= FILE_BYTES:
                self._next_file()
            while taken < len(content):
                taken += self.calls.write(self._opened(), content[taken:])
        except OSError as error:
            if error.errno not in FULL:
                raise
        finally:
            self._in_file_bytes += taken
        return taken

    def sync(self) -> None:
        """Wait for the file that is being written: those before it were waited for. Raises OSError."""
        if self._descriptor is not None:
            self.calls.sync(self._descriptor)

    def read(self, offset: int, length: int) -> bytes:
        """At most 1 MiB of one file. Raises OSError."""
        number, begin = divmod(offset, FILE_BYTES)
        if number != self._read_number:
            self._open_to_read(number)
        os.lseek(self._opened(), begin, os.SEEK_SET)
        pieces = []
        while length and (piece := self.calls.read(self._opened(), length)):
            pieces.append(piece)
            length -= len(piece)
        return b"".join(pieces)

    def is_there(self) -> bool:
        """Whether the drive was not taken out."""
        return self.drive.is_there()

    def is_from_medium(self) -> bool:
        """Whether the system was seen to have forgotten all files that were read."""
        return self._all_forgotten

    def file_at(self, offset: int) -> str | None:
        """Its name."""
        return self.folder.file(offset // FILE_BYTES).name

    def remove(self) -> None:
        """Remove all files that were made. Does not raise: see `left_behind`."""
        with undisturbed():
            self._close()
            self._made = [path for path in self._made if not self._is_removed(path)]

    def _is_removed(self, path: Path) -> bool:
        try:
            self.calls.unlink(path)
        except FileNotFoundError:
            return True
        except OSError as error:
            reason = error.strerror or error
            self._stays = f"{self.folder.path.name} could not be removed from the card ({reason})"
            return False
        return True

    def _next_file(self) -> None:
        """Finish the file before, and begin the next. Raises OSError."""
        self.sync()
        self._close()
        path = self.folder.file(len(self._made))
        self._made.append(path)  # before it is there: whatever ends us now, it is removed
        try:
            self._descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _AS_IT_IS, 0o600)
        except OSError as error:
            self._made.pop()
            if isinstance(error, FileExistsError):
                raise CardError(f"somebody else puts files into {path.parent} at the same time") from error
            raise
        self._in_file_bytes = 0

    def _open_to_read(self, number: int) -> None:
        self._close()
        self._read_number = None
        self._descriptor = os.open(self.folder.file(number), os.O_RDONLY | _AS_IT_IS)
        size_bytes = os.fstat(self._descriptor).st_size
        self._all_forgotten &= self.calls.forget(self._descriptor, size_bytes)
        self._read_number = number

    def _opened(self) -> int:
        assert self._descriptor is not None
        return self._descriptor

    def _close(self) -> None:
        if self._descriptor is not None:
            with suppress(OSError):
                os.close(self._descriptor)
            self._descriptor = None


def room_on(drive: MountedDrive) -> Room:
    """What is to be written to this drive now. CardError: nothing fits."""
    try:
        usage = drive.usage()
    except OSError as error:
        raise CardError(f"{drive.shown} does not tell its size: {error.strerror or error}") from error
    room_bytes = (usage.free - RESERVE_BYTES) // SECTOR_BYTES * SECTOR_BYTES
    if room_bytes < BLOCK_BYTES:
        full = CardError(f"{drive.shown} has only {size(usage.free)} free, too little to be tested")
        full.advice = "Copy its files to another place, and remove them from the card."
        raise full
    return Room(usage.total, usage.total - usage.free, room_bytes)
