"""What the system tells of a raw device before anything is written to it.

It must not judge whether the device may be written to (`device.guard` does), and opens no device.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from typing import Literal

from mediacheck.errors import CardError

Bus = Literal["usb", "sd", "mmc", "sata", "nvme", "loop", "optical", "mapped", "other"]
"""How a drive is attached. sd: a card in a reader that shows cards as such; mmc: storage that is soldered in;
mapped: not a thing but made from other drives, such as a RAID or an encrypted one."""


@dataclass(frozen=True, slots=True)
class Drive:
    """One whole drive."""

    path: str
    """As the system names it, links resolved: /dev/sdb, /dev/mmcblk0, /dev/disk4."""
    model: str
    """Maker and model, or an empty text."""
    bus: Bus
    size_bytes: int
    """0: nothing is in the reader."""
    sector_bytes: int
    removable: bool
    """Whether the card can be taken out of it."""
    read_only: bool
    mounts: tuple[str, ...] = ()
    """Where it, its parts, or what is made from them are mounted."""
    uses: tuple[str, ...] = ()
    """What else the running system does with it, each in words that go on after "it is "."""
    parts: tuple[str, ...] = ()
    """The devices of its parts: /dev/sdb1."""
    number: int | None = None
    """The device number (st_rdev), by which it is known again when it is opened; None: not known."""
    allowed: bool = True
    """Whether the person may read and write it; that of some systems shows only when it is opened."""
    insertion: str | None = None
    """What changes when another card is put in; None where the system does not count."""


def describe(path: str, platform: str = sys.platform) -> Drive:
    """The drive that a path or a link leads to. CardError: it is no whole drive, or nothing is told of it."""
    if platform == "linux":
        from mediacheck.device.linux import describe as by_linux

        return by_linux(path)
    if platform == "darwin":
        from mediacheck.device.macos import describe as by_macos

        return by_macos(path)
    refused = CardError("raw devices are written on Linux and macOS only")
    refused.advice = (
        r"Format the card, and have it filled with `mediacheck build FOLDER --profile PROFILE --out E:\`."
    )
    raise refused


def no_drive(why: str) -> CardError:
    """The error for a path that leads to no whole drive."""
    error = CardError(why)
    error.advice = "Give the device of the whole card, such as /dev/sdb, /dev/mmcblk0 or /dev/disk4."
    return error
