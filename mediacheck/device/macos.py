"""What macOS tells of a raw device: the answers of `diskutil`.

It must not judge, and opens no device. It was never run on a Mac: the keys of the answers are from memory and
from what other programs read, and the tests have invented answers. What an answer does not tell counts as the
reason not to write: a drive that is not said to be removable and writable is neither.
"""

from __future__ import annotations

import plistlib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from mediacheck import programs
from mediacheck.card.device import USUAL_SECTOR_BYTES
from mediacheck.card.folder import printable
from mediacheck.device.drive import Bus, Drive, no_drive
from mediacheck.errors import CardError, ProgramError

DISKUTIL = "/usr/sbin/diskutil"
ASK_LIMIT_S = 60.0
"""A sleeping hard disk is woken up by the question (our own bound)."""
BUSES: Mapping[str, Bus] = MappingProxyType(
    {
        "USB": "usb",
        "Secure Digital": "sd",
        "SATA": "sata",
        "PCI-Express": "nvme",
        "Apple Fabric": "nvme",
        "Disk Image": "loop",
        "Virtual Interface": "loop",
    }
)
MADE_OF_PARTS = ("Apple_CoreStorage", "Apple_RAID", "Apple_RAID_Offline")
"""What stands as the content of a part that serves a volume elsewhere."""

_DEVICE = re.compile(r"/dev/r?(disk\d+(?:s\d+)*)")
Answer = Mapping[str, Any]


def raw_path(device: str) -> str:
    """The name under which a drive is read and written past the system's memory: /dev/rdisk4."""
    return device.replace("/dev/disk", "/dev/rdisk")


def asked(*words: str) -> bytes:
    """What diskutil answers. ProgramError: it does not."""
    return programs.run([DISKUTIL, *words], time_limit_s=ASK_LIMIT_S).checked().stdout


def device_number(device: str) -> int | None:
    """The number of a device; None where there is none."""
    try:
        return Path(device).stat().st_rdev
    except OSError:
        return None


@dataclass(frozen=True, slots=True)
class Questions:
    """How macOS is asked; tests have other answers."""

    ask: Callable[..., bytes] = asked
    number_of: Callable[[str], int | None] = device_number


def describe(path: str, questions: Questions | None = None) -> Drive:
    """The whole drive at this path. CardError: it is none, or macOS tells nothing of it."""
    questions = questions or Questions()
    found = _DEVICE.fullmatch(str(Path(path).resolve()))
    if not found:
        raise no_drive(f"{printable(path)} is no raw device, and only raw devices are written")
    name = found[1]
    told = _answer(questions, "info", "-plist", name)
    if told.get("WholeDisk") is not True:
        whole = told.get("ParentWholeDisk", "diskN")
        raise no_drive(f"{printable(path)} is only a part of a card: give the whole card /dev/{whole}")
    disks = _dicts(_answer(questions, "list", "-plist").get("AllDisksAndPartitions"))
    return _drive(name, told, disks, questions.number_of(raw_path(f"/dev/{name}")))


def _answer(questions: Questions, *words: str) -> Answer:
    try:
        answer = plistlib.loads(questions.ask(*words))
    except (ProgramError, plistlib.InvalidFileException, ValueError, OSError) as error:
        raise CardError(f"macOS does not tell what kind of device it is: {error}") from error
    if not isinstance(answer, dict):
        raise CardError("macOS does not tell what kind of device it is")
    return answer


def _drive(name: str, told: Answer, disks: Sequence[Answer], number: int | None) -> Drive:
    own = next((disk for disk in disks if disk.get("DeviceIdentifier") == name), {})
    parts = _dicts(own.get("Partitions"))
    names = {name, *(str(part.get("DeviceIdentifier")) for part in parts)}
    made = [disk for disk in disks if disk is not own and names & set(_stores(disk))]
    mounts = (*_mount_points(own), *(mount for disk in made for mount in _mount_points(disk)))
    optical = told.get("OpticalDeviceType") or told.get("OpticalMediaType")
    return Drive(
        path=f"/dev/{name}",
        model=str(told.get("MediaName") or ""),
        bus="optical" if optical else BUSES.get(str(told.get("BusProtocol")), "other"),
        size_bytes=_number(told, "TotalSize") or _number(told, "Size"),
        sector_bytes=_number(told, "DeviceBlockSize") or USUAL_SECTOR_BYTES,
        removable=told.get("RemovableMedia") is True and told.get("VirtualOrPhysical") != "Virtual",
        read_only=told.get("WritableMedia") is not True,
        mounts=tuple(dict.fromkeys(mounts)),
        uses=tuple(_uses(parts, made, own)),
        parts=tuple(f"/dev/{part.get('DeviceIdentifier')}" for part in parts),
        number=number,
    )


def _dicts(told: object) -> tuple[Answer, ...]:
    return tuple(one for one in told if isinstance(one, dict)) if isinstance(told, list) else ()


def _number(told: Answer, key: str) -> int:
    found = told.get(key)
    return found if isinstance(found, int) else 0


def _stores(disk: Answer) -> Iterator[str]:
    """The parts that a container of volumes (APFS) lies on."""
    for store in _dicts(disk.get("APFSPhysicalStores")):
        yield str(store.get("DeviceIdentifier"))


def _mount_points(told: object) -> Iterator[str]:
    """Wherever they stand: with the disk, its parts, its volumes, or their snapshots."""
    if isinstance(told, list):
        for one in told:
            yield from _mount_points(one)
    elif isinstance(told, dict):
        for key, value in told.items():
            if key in ("MountPoint", "SnapshotMountPoint") and value:
                yield str(value)
            yield from _mount_points(value)


def _uses(parts: Sequence[Answer], made: Sequence[Answer], own: Answer) -> Iterator[str]:
    for disk in made:
        yield f"part of the APFS container {disk.get('DeviceIdentifier')}"
    for part in (own, *parts):
        if part.get("Content") in MADE_OF_PARTS:
            yield f"part of a volume over several drives ({part.get('Content')})"
