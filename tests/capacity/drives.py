"""Folders that stand for mounted drives, and a computer that takes them for such.

They must not need a right that a developer has not.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from mediacheck.capacity.files import RESERVE_BYTES
from mediacheck.capacity.mounted_drive import Computer, MountedDrive, drive_at
from mediacheck.card.mounts import System

MIB = 1 << 20


@dataclass(frozen=True)
class Told:
    """As psutil tells one mounted drive."""

    mountpoint: str
    device: str = "cardreader:1"
    fstype: str = "exfat"
    opts: str = "rw"


@dataclass(frozen=True)
class Usage:
    """As psutil tells its room."""

    total: int
    used: int
    free: int


def computer_with(root: Path, room: int = 3 * MIB, used: int = MIB, told: Told | None = None) -> Computer:
    """A computer that takes this folder for the root of a drive with so much room for a test."""
    usage = Usage(room + used + RESERVE_BYTES, used, room + RESERVE_BYTES)
    system = System(
        mounts=lambda: (told or Told(str(root)), Told("/", "/dev/sysdisk1")),
        usage=lambda _: usage,
        mount_table=Path("no such table"),
    )
    numbers: Callable[[Path], int] = lambda place: 7 if place == root else 1  # noqa: E731
    return Computer(system, own_places=lambda: (Path("/"), Path("/home")), number_of=numbers)


def drive(root: Path, room: int = 3 * MIB, used: int = MIB) -> MountedDrive:
    """This folder as a drive."""
    return drive_at(root, computer_with(root, room, used))


def everything(root: Path) -> dict[str, bytes | None]:
    """All that is below a folder: the content of files, None for folders."""
    return {
        str(path.relative_to(root)): path.read_bytes() if path.is_file() else None
        for path in sorted(root.rglob("*"))
    }


def with_loops(root: Path) -> dict[str, bytes | None]:
    """Put the files of an invented card there, one with a name like ours, and give them back."""
    (root / "Media").mkdir(parents=True)
    (root / "Media" / "watering.mp4").write_bytes(os.urandom(5000))
    (root / "Media" / "mediacheck-capacity-000.tmp").write_bytes(b"not ours")
    (root / "mediacheck-capacity-000.tmp").write_bytes(b"not ours either")
    return everything(root)


@dataclass
class Limited:
    """Writes like the system, on a drive that is full after so many bytes."""

    limit: int
    number: int = errno.ENOSPC
    written: int = field(default=0)

    def __call__(self, descriptor: int, content: memoryview) -> int:
        """As os.write: what still fits, then an error."""
        fitting = min(len(content), self.limit - self.written)
        if not fitting:
            raise OSError(self.number, os.strerror(self.number))
        taken = os.write(descriptor, content[:fitting])
        self.written += taken
        return taken
