"""What Linux tells of a raw device: sysfs, the table of mounts, the list of swap space.

It must not judge, and opens no device. Not told here is what file systems that gather several drives, such as
ZFS, hold: the kernel refuses to open such a drive alone (`device.raw_device`).
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from mediacheck.card.device import USUAL_SECTOR_BYTES
from mediacheck.card.folder import printable
from mediacheck.card.mounts import unescaped
from mediacheck.device.drive import Bus, Drive, no_drive
from mediacheck.errors import CardError

SIZE_UNIT_BYTES = 512
"""sysfs counts in these, whatever the drive's sectors are: Linux, Documentation/ABI/stable/sysfs-block."""
SCSI_CD = "5"
"""SCSI Primary Commands: the type of device that drives for discs tell."""
MADE_BY = (("LVM-", "part of the volume {}"), ("CRYPT-", "opened as the encrypted drive {}"))
"""How the uuid of a mapped device begins, by its maker (from memory)."""


def device_number(path: str) -> int:
    """The number of a block device. CardError for anything else."""
    shown = printable(path)
    try:
        status = Path(path).stat()
    except (OSError, ValueError) as error:
        raise no_drive(f"there is no device {shown}") from error
    if stat.S_ISBLK(status.st_mode):
        return status.st_rdev
    what = (
        "a folder" if stat.S_ISDIR(status.st_mode) else "an ordinary file" if _is_file(status) else "no drive"
    )
    raise no_drive(f"{shown} is {what}, and only raw devices are written")


def _is_file(status: os.stat_result) -> bool:
    return stat.S_ISREG(status.st_mode)


@dataclass(frozen=True, slots=True)
class Places:
    """Where Linux tells what it knows; tests have other places."""

    classes: Path = Path("/sys/class/block")
    mount_table: Path = Path("/proc/self/mountinfo")
    swaps: Path = Path("/proc/swaps")
    number_of: Callable[[str], int] = device_number


def describe(path: str, places: Places | None = None) -> Drive:
    """The whole drive at this path. CardError: it is none, or Linux tells nothing of it."""
    places = places or Places()
    number = places.number_of(path)
    device = Path(os.path.realpath(path))
    block = _block(device, number, places)
    if (block / "partition").exists():
        whole = device.with_name(block.parent.name)
        raise no_drive(
            f"{printable(path)} is only a part of a card: give the whole card {printable(str(whole))}"
        )
    family = _family(block, places)
    bus = _bus(block)
    return Drive(
        path=str(device),
        model=_model(block),
        bus=bus,
        size_bytes=_number(block / "size") * SIZE_UNIT_BYTES,
        sector_bytes=_number(block / "queue/logical_block_size") or USUAL_SECTOR_BYTES,
        removable=bus == "sd" or _number(block / "removable") == 1,
        read_only=_number(block / "ro") == 1,
        mounts=tuple(dict.fromkeys(_mounts(family, places))),
        uses=(*_swaps(family, places), *_makers(block, family)),
        parts=tuple(str(device.with_name(part.name)) for part in _parts(block)),
        number=number,
        allowed=os.access(device, os.R_OK | os.W_OK),
        insertion=_text(block / "diskseq") or None,
    )


def _block(device: Path, number: int, places: Places) -> Path:
    """Its folder in sysfs, which is sure to be of this very device."""
    block = (places.classes / device.name).resolve()
    if _text(block / "dev") != f"{os.major(number)}:{os.minor(number)}":
        raise no_drive(f"this computer does not tell what kind of device {printable(str(device))} is")
    return block


def _text(place: Path) -> str:
    """What stands there; an empty text where the kernel tells nothing."""
    try:
        return place.read_text("utf-8", "replace").strip()
    except OSError:
        return ""


def _number(place: Path) -> int:
    told = _text(place)
    return int(told) if told.isdecimal() else 0


def _model(block: Path) -> str:
    """SCSI, and so USB, tells maker and model, NVMe the model, a card its name; others number their maker."""
    told = (_text(block / "device" / name) for name in ("vendor", "model", "name"))
    return " ".join(word for word in told if word and not word.startswith("0x"))


def _bus(block: Path) -> Bus:
    if block.name.startswith("mmcblk"):  # Linux, Documentation/driver-api/mmc: both kinds have this name
        return "sd" if _text(block / "device/type") == "SD" else "mmc"
    if block.name.startswith("loop"):
        return "loop"
    if "virtual" in block.parts:
        return "mapped"
    if block.name.startswith("sr") or _text(block / "device/type") == SCSI_CD:
        return "optical"
    if block.name.startswith("nvme"):
        return "nvme"
    return _bus_above(block)


def _bus_above(block: Path) -> Bus:
    """By the path of the device in the tree of what it hangs on."""
    if any(re.fullmatch(r"usb\d+", part) for part in block.parts):
        return "usb"
    return "sata" if any(re.fullmatch(r"ata\d+", part) for part in block.parts) else "other"


def _parts(block: Path) -> list[Path]:
    found = [place.parent for place in block.glob("*/partition")]
    return sorted(found, key=lambda part: _number(part / "partition"))


def _family(block: Path, places: Places) -> Mapping[str, Path]:
    """The drive, its parts, and all that is made from them and from these again, by their names."""
    found: dict[str, Path] = {}
    waiting = [block]
    while waiting:
        one = waiting.pop(0)
        if one.name not in found:
            found[one.name] = one
            holders = (holder.resolve() for holder in sorted(one.glob("holders/*")))
            waiting += [*_parts(one), *holders, *_loops(one.name, places)]
    return found


def _loops(name: str, places: Places) -> Iterator[Path]:
    """The loop devices that show this device once more."""
    for backing in sorted(places.classes.glob("loop*/loop/backing_file")):
        told = _text(backing)
        if told.startswith("/dev/") and Path(os.path.realpath(told)).name == name:
            yield backing.parent.parent.resolve()


def _mounts(family: Mapping[str, Path], places: Places) -> Iterator[str]:
    """proc(5), mountinfo: the third field is the device's number, the fifth the place; behind " - " stand
    type and source, by which file systems are known that have numbers of their own (btrfs)."""
    numbers = {_text(block / "dev") for block in family.values()}
    for line in _lines(places.mount_table):
        fields, _, behind = line.partition(" - ")
        told, source = fields.split(" "), behind.split(" ")
        if len(told) > 4 and (told[2] in numbers or (len(source) > 1 and _leads_to(source[1], family))):
            yield unescaped(told[4])


def _lines(table: Path) -> list[str]:
    """CardError where it cannot be read: what is not known to be free is not written over."""
    try:
        return table.read_text("utf-8", "surrogateescape").splitlines()
    except OSError as error:
        raise CardError(f"this computer does not tell what it uses: {table} cannot be read") from error


def _leads_to(source: str, family: Mapping[str, Path]) -> bool:
    device = unescaped(source)
    return device.startswith("/dev/") and Path(os.path.realpath(device)).name in family


def _swaps(family: Mapping[str, Path], places: Places) -> Iterator[str]:
    """proc(5), swaps: a line of titles, then one for each place; kernels without swap have no such file."""
    if not places.swaps.exists():
        return
    for line in _lines(places.swaps)[1:]:
        device = line.split()[0] if line.split() else ""
        if _leads_to(device, family):
            yield f"swap space on {printable(unescaped(device))}"


def _makers(block: Path, family: Mapping[str, Path]) -> Iterator[str]:
    """What is made from the drive, but for its own parts."""
    for name, member in family.items():
        if member != block and not (member / "partition").exists():
            yield _made(name, member)


def _made(name: str, member: Path) -> str:
    mapped = _text(member / "dm/name")
    if mapped:
        uuid = _text(member / "dm/uuid")
        said = next((words for begin, words in MADE_BY if uuid.startswith(begin)), "part of {}")
        return said.format(mapped)
    if (member / "md").exists():
        return f"part of the RAID {name}"
    return f"shown again as {name}" if (member / "loop").exists() else f"part of {name}"
