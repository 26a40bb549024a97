"""Which mounted drives may be filled to the last byte: none that this computer lives on.

It must not write anything.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import psutil

from mediacheck.card.device import raw_name, whole_device
from mediacheck.card.folder import is_junction, printable, whole_drive
from mediacheck.card.mounts import Mount, System, Usage, mount_at
from mediacheck.device.drive import Drive, describe
from mediacheck.errors import CardError

BUILT_IN = ("sata", "nvme", "mmc", "other")
"""Buses of disks inside a computer. A disk on USB was put there by a person, as a card is."""


def _own_places() -> Sequence[Path]:
    """Where the system, this program, and the people who use the computer have their files."""
    windows = (os.environ.get(name, "") for name in ("SYSTEMROOT", "PROGRAMDATA", "PROGRAMFILES"))
    # macOS: what people write goes to a volume of its own, mounted at the last of these (from memory).
    unix = ("/", "/usr", "/var", "/boot", "/home", "/Users", "/System/Volumes/Data")
    named = (*windows, *(unix if os.name == "posix" else ()), sys.prefix, sys.base_prefix)
    return (*(Path(name) for name in named if name), Path.home(), Path(tempfile.gettempdir()))


def _number_of(place: Path) -> int:
    return place.stat().st_dev


def is_built_in(device: str, describe: Callable[[str], Drive] = describe) -> bool:
    """Whether this is a disk of the computer itself, or a part of one, as far as Linux tells.

    A disk may hold what programs need to work (/var/lib, a database) although the system is on another one.
    """
    if sys.platform != "linux":
        return False
    try:
        drive = describe(whole_device(device) or device)
    except CardError:  # not known: a drive that a program makes up, or no device at all
        return False
    return drive.bus in BUILT_IN and not drive.removable


@dataclass(frozen=True, slots=True)
class Computer:
    """What is asked of the running system; tests ask another one."""

    system: System = field(default_factory=System)
    own_places: Callable[[], Sequence[Path]] = _own_places
    number_of: Callable[[Path], int] = _number_of
    """The number of the file system that holds a place. Raises OSError."""
    is_built_in: Callable[[str], bool] = is_built_in


@dataclass(frozen=True, slots=True)
class MountedDrive:
    """A mounted drive that may be filled."""

    root: Path
    shown: str
    device: str
    """As the system names it: /dev/sdb1."""
    usage: Callable[[], Usage]
    """How much room there is on it now. Raises OSError."""

    def is_there(self) -> bool:
        """Whether it was not taken out. A folder that is mounted outlives its device."""
        if self.device.startswith("/dev/"):
            return Path(self.device).exists()
        try:
            self.root.stat()
        except OSError:
            return False
        return True


def drive_at(path: Path, computer: Computer) -> MountedDrive:
    """The drive that has its root there. CardError: there is none, or filling it would do harm."""
    shown, root = printable(str(path)), whole_drive(path).absolute()
    mount = _mount(root, shown, computer)
    if _holds_this_computer(root, mount, computer):
        raise _refused(f"{shown} is on a drive that this computer itself works from, which is never filled")
    if computer.is_built_in(mount.device):
        raise _refused(f"{shown} is on a drive that is built into this computer, and only cards are filled")
    if mount.read_only:
        error = CardError(f"{shown} is write-protected")
        error.advice = "Move the little slider at the side of the card, or of its adapter, to its other end."
        raise error
    return MountedDrive(root, shown, mount.device, partial(computer.system.usage, str(root)))


def _mount(root: Path, shown: str, computer: Computer) -> Mount:
    try:
        is_folder = root.is_dir() and not is_junction(root.lstat())
    except (OSError, ValueError) as error:
        raise _refused(f"there is no drive at {shown}") from error
    mount = mount_at(root, computer.system) if is_folder else None
    if mount is None:
        what = "is a folder, not a whole drive" if is_folder else "is no drive"
        raise _refused(f"{shown} {what}, and only whole cards are filled")
    return mount


def _refused(why: str) -> CardError:
    error = CardError(why)
    error.advice = "Give the root of a mounted card, such as E:\\ or /media/card."
    return error


def _holds_this_computer(root: Path, mount: Mount, computer: Computer) -> bool:
    """By the number of the file system, and by the disk: two parts of it may share their free space."""
    try:
        number = computer.number_of(root)
    except OSError:
        return True  # nobody can say
    places = [Path(os.path.realpath(place)) for place in computer.own_places()]
    disks = {_disk(device) for device in _devices_of(places, computer.system)}
    return number in _numbers_of(places, computer) or _disk(mount.device) in disks


def _numbers_of(places: Sequence[Path], computer: Computer) -> Iterator[int]:
    for place in places:
        with suppress(OSError):  # not every computer has all of them
            yield computer.number_of(place)


def _devices_of(places: Sequence[Path], system: System) -> Iterator[str]:
    """For each place, the device of the drive that holds it, as the system tells."""
    try:
        mounts = {
            os.path.normcase(os.path.normpath(told.mountpoint)): told.device for told in system.mounts()
        }
    except (OSError, psutil.Error):
        return
    for place in places:
        above = (os.path.normcase(str(folder)) for folder in (place, *place.parents))
        holding = next((folder for folder in above if folder in mounts), None)
        if holding is not None:
            yield raw_name(mounts[holding])


def _disk(device: str) -> str:
    return whole_device(device) or device
