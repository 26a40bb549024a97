"""What the system says of mounted drives: which folder is the root of one, its device and its file system.

It must not open a device or list a folder.
"""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Protocol

import psutil

from mediacheck.card.device import raw_name
from mediacheck.card.model import Card
from mediacheck.names import CardKind, FileSystem

FILE_SYSTEMS: Mapping[str, FileSystem | None] = MappingProxyType(
    {
        # Linux, /proc/filesystems; macOS, statfs; Windows, GetVolumeInformation (from memory), in lower case
        "exfat": "exFAT",
        "fat32": "FAT32",
        "ntfs": "NTFS",
        "ntfs3": "NTFS",
        "hfs": "HFS+",
        "hfsplus": "HFS+",
        "apfs": "APFS",
        "ext2": "ext",
        "ext3": "ext",
        "ext4": "ext",
        "udf": "UDF",
        "iso9660": "ISO 9660",
        "cd9660": "ISO 9660",
        "cdfs": "ISO 9660",
        # Names that stand for more than one file system
        "vfat": None,
        "msdos": None,
        "fat": None,
        "fuseblk": None,
        "lifs": None,
    }
)
"""The file systems of drives, by the name that a system gives them. Anything else (a share in a network, a
folder that a program makes up) is no card, only a folder."""


class Told(Protocol):
    """What psutil tells of one mounted drive."""

    @property
    def device(self) -> str:
        """/dev/sdb1, E:\\ and the like."""

    @property
    def mountpoint(self) -> str:
        """Its root folder."""

    @property
    def fstype(self) -> str:
        """The system's name for its file system."""

    @property
    def opts(self) -> str:
        """How it is mounted: words between commas."""


class Usage(Protocol):
    """What psutil tells of the room on it, in bytes."""

    @property
    def total(self) -> int:
        """All of it."""

    @property
    def used(self) -> int:
        """What files take."""

    @property
    def free(self) -> int:
        """What is left for the person who asks."""


def _told_mounts() -> Sequence[Told]:
    return psutil.disk_partitions(all=True)


SETTLE_S = 2.0


def _settle() -> None:
    """Wait while the system may be in the middle of writing; it is not told to write."""
    time.sleep(SETTLE_S)


def _open_raw(source: str, shown: str, kind: CardKind) -> Card:
    """Loaded where there is a card to read itself: a folder needs none of it."""
    from mediacheck.card.raw import open_raw

    return open_raw(source, shown, kind)


@dataclass(frozen=True, slots=True)
class System:
    """What is asked of the system; tests ask another one."""

    mounts: Callable[[], Sequence[Told]] = _told_mounts
    usage: Callable[[str], Usage] = psutil.disk_usage
    raw: Callable[[str, str, CardKind], Card] = _open_raw
    settle: Callable[[], None] = _settle
    mount_table: Path = Path("/proc/self/mountinfo")
    """Linux: tells a mounted drive from a folder of one that is mounted a second time."""
    platform: str = sys.platform


@dataclass(frozen=True, slots=True)
class Mount:
    """A mounted drive."""

    device: str
    """What is opened to read it directly."""
    file_system: FileSystem | None
    """None where the system does not tell which it is."""
    read_only: bool


def mount_at(folder: Path, system: System) -> Mount | None:
    """The drive that has this folder as its root; None for any other folder."""
    place = os.path.normcase(os.path.realpath(folder))
    try:
        here = [told for told in system.mounts() if _normal(told.mountpoint) == place]
    except (OSError, psutil.Error):
        return None
    if not here or here[-1].fstype.lower() not in FILE_SYSTEMS or _is_inner(place, system.mount_table):
        return None
    told = here[-1]  # the one that was mounted last hides the others
    read_only = "ro" in told.opts.split(",")
    return Mount(raw_name(told.device), FILE_SYSTEMS[told.fstype.lower()], read_only)


def _normal(mountpoint: str) -> str:
    """Without asking the system: another drive that does not answer must not hold this one up."""
    return os.path.normcase(os.path.normpath(mountpoint))


def _is_inner(place: str, table: Path) -> bool:
    """Linux: whether what is mounted here is only a folder of a drive.

    proc(5), mountinfo: the fourth field is that folder, the fifth the place where it is mounted.
    """
    try:
        lines = table.read_text("utf-8", "surrogateescape").splitlines()
    except OSError:
        return False
    here = [fields for line in lines if len(fields := line.split(" ")) > 4 and unescaped(fields[4]) == place]
    return bool(here) and here[-1][3] != "/"


def unescaped(field: str) -> str:
    r"""proc(5): a space and the like stand as a backslash and three octal digits."""
    return re.sub(r"\\([0-7]{3})", lambda found: chr(int(found[1], 8)), field)
