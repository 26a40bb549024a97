"""Which raw devices may be written over: cards and sticks that can be taken out and that nothing uses.

It must not ask the system anything and must not write: it reads a description. What was described is proven
again when the device is opened (`device.raw_device`).
"""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable, Sequence
from pathlib import Path, PurePosixPath

from mediacheck.card.folder import printable
from mediacheck.device.drive import Drive
from mediacheck.errors import WrongUse
from mediacheck.rules.wording import exact, listed
from mediacheck.sizes import parse_size, shown_size

MAX_SIZE_BYTES = 512 * 10**9
"""Larger drives are hard disks and SSDs far more often than cards of players (common practice, no source)."""
SYSTEM_PLACES = frozenset(
    (
        *("/", "/boot", "/boot/efi", "/boot/firmware", "/efi", "/etc", "/home", "/opt", "/root", "/srv"),
        *("/usr", "/var", "/nix", "/gnu/store", "/Users", "/System/Volumes/Data"),
    )
)
"""Where systems keep themselves and what people do with them (common practice, no source)."""
BUSES_WRITTEN = ("usb", "sd")


def refusal(
    drive: Drive, need_bytes: int, max_bytes: int = MAX_SIZE_BYTES, image_place: Path | None = None
) -> str | None:
    """Why this device must not be written over, and what to do, in a sentence; None: it may be.

    `need_bytes` is what is going to be written, `image_place` the file that is read meanwhile.
    """
    questions: tuple[Callable[[], str | None], ...] = (
        lambda: _holds_the_system(drive, image_place),
        lambda: _cannot_be_taken_out(drive),
        lambda: _is_empty_reader(drive),
        lambda: _is_used(drive),
        lambda: _is_mounted(drive),
        lambda: _has_wrong_size(drive, need_bytes, max_bytes),
        lambda: _is_read_only(drive),
        lambda: None if drive.allowed else "may not be written to by you: run the same command with sudo",
    )
    why = next((answer for question in questions if (answer := question())), None)
    return f"{drive_words(drive)} {why}." if why else None


def refusals(
    drives: Sequence[Drive],
    need_bytes: int,
    max_bytes: int = MAX_SIZE_BYTES,
    image_place: Path | None = None,
) -> tuple[str, ...]:
    """A sentence for each device that must not be written over, and for each that was given twice."""
    alone = (refusal(drive, need_bytes, max_bytes, image_place) for drive in dict.fromkeys(drives))
    twice = (
        f"{drive.path} was given more than once."
        for place, drive in enumerate(drives)
        if any(_is_same(drive, other) for other in drives[:place])
    )
    return (*(why for why in alone if why), *dict.fromkeys(twice))


def _is_same(one: Drive, other: Drive) -> bool:
    """A device may have several names, and each its own node in the file system."""
    return one.path == other.path or (one.number is not None and one.number == other.number)


def changed(shown: Drive, now: Drive) -> str | None:
    """What is another thing than what was shown and confirmed; None: nothing is."""
    if shown == now:
        return None
    return f"{drive_words(shown)} changed after it was shown: leave the card in, and run the command again."


def confirmed(drive: Drive, typed: str) -> bool:
    """Whether this is the size of the drive: as shown, with its unit, or to the byte."""
    try:
        return parse_size(typed) in (drive.size_bytes, parse_size(shown_size(drive.size_bytes)))
    except WrongUse:
        return False


def drive_words(drive: Drive) -> str:
    """The drive as people tell it from others: "/dev/sdb (Generic SD reader, 31.9 GB)"."""
    size = shown_size(drive.size_bytes) if drive.size_bytes else ""
    known = ", ".join(word for word in (printable(drive.model), size) if word)
    return f"{printable(drive.path)} ({known})" if known else printable(drive.path)


def _holds_the_system(drive: Drive, image_place: Path | None) -> str | None:
    if any(mount in SYSTEM_PLACES for mount in drive.mounts):
        return "is what this computer works from, and is never written over"
    if _lies_on(Path(sys.prefix), drive):
        return "holds this very program, and is never written over"
    if image_place and _lies_on(image_place, drive):
        return f"holds the image {printable(str(image_place))} itself: copy the image to another drive first"
    return None


def _lies_on(place: Path, drive: Drive) -> bool:
    return any(PurePosixPath(place).is_relative_to(mount) for mount in drive.mounts)


def _cannot_be_taken_out(drive: Drive) -> str | None:
    if drive.bus == "optical":
        return "is a drive for discs (CD, DVD), not a card"
    if drive.removable and drive.bus in BUSES_WRITTEN:
        return None
    advice = "only cards and sticks that can be taken out are written: choose the device of the card"
    if drive.bus == "usb":
        return f"is a fixed drive in a case of its own, such as a hard disk or SSD on USB, and {advice}"
    if drive.bus in ("loop", "mapped"):
        return f"is not a card but made up by this computer from a file or from other drives, and {advice}"
    return f"is built into this computer, and {advice}"


def _is_empty_reader(drive: Drive) -> str | None:
    if drive.size_bytes > 0:
        return None
    return "is a reader, and there is no card in it: put the card in, or into the other slot"


def _is_used(drive: Drive) -> str | None:
    if not drive.uses:
        return None
    uses = printable(listed(drive.uses))
    return f"is in use by this computer ({uses}): choose the device of the card, or end that use of it first"


def _is_mounted(drive: Drive) -> str | None:
    if not drive.mounts:
        return None
    places = printable(listed(drive.mounts))
    return f"is mounted ({places}): close what works with it, then run `{printable(_unmounting(drive))}`"


def _unmounting(drive: Drive) -> str:
    if drive.path.startswith("/dev/disk"):  # macOS
        return f"diskutil unmountDisk {drive.path}"
    return f"umount {shlex.join(drive.mounts)}"


def _has_wrong_size(drive: Drive, need_bytes: int, max_bytes: int) -> str | None:
    if drive.size_bytes > max_bytes:
        return (
            f"holds {exact(drive.size_bytes)}, which is more than the {exact(max_bytes)} that are allowed: "
            "if it is a card all the same, allow its size with --max-size"
        )
    if drive.size_bytes < need_bytes:
        return (
            f"holds {exact(drive.size_bytes)}, which is less than the {exact(need_bytes)} that are needed: "
            "take a larger card, or a smaller image"
        )
    return None


def _is_read_only(drive: Drive) -> str | None:
    if not drive.read_only:
        return None
    return "is write-protected: move the little slider at the side of the card or of its adapter"
