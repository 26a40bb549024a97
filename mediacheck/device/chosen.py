"""Raw devices that a person chose to have written over: looked at, shown, confirmed, and opened.

It must not print or ask (the command does), and writes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from mediacheck.card.folder import printable
from mediacheck.card.model import Card
from mediacheck.card.opening import open_card
from mediacheck.device.drive import Drive, describe
from mediacheck.device.guard import MAX_SIZE_BYTES, changed, confirmed, drive_words, refusals
from mediacheck.device.raw_device import Device, open_device
from mediacheck.errors import CardError
from mediacheck.report.words import counted, volume_words
from mediacheck.rules.wording import clause, exact, listed
from mediacheck.sizes import shown_size


@dataclass(frozen=True, slots=True)
class Machine:
    """What is asked of the computer; tests have another one."""

    describe: Callable[[str], Drive] = describe
    look: Callable[[Path], Card] = open_card
    open: Callable[[Drive], Device] = open_device


@dataclass(frozen=True, slots=True)
class Limits:
    """What the guard goes by, besides the device itself."""

    need_bytes: int
    """What is going to be written."""
    max_bytes: int = MAX_SIZE_BYTES
    image_place: Path | None = None
    """The file that is read meanwhile."""


@dataclass(frozen=True, slots=True)
class Looked:
    """A device that may be written over, and what is on it now, in words."""

    drive: Drive
    contents: str


def look_at(paths: Sequence[str], limits: Limits, machine: Machine) -> tuple[Looked, ...]:
    """All devices, with what is on them. CardError: one of them must not be written over.

    They are described again after they were read: only reading makes some readers tell of a card that was put
    in, and what holds then is what is shown.
    """
    names = [drive.path for drive in _guarded(paths, limits, machine)]
    contents = [_contents(name, machine) for name in names]
    drives = _guarded(names, limits, machine)
    return tuple(Looked(drive, words) for drive, words in zip(drives, contents, strict=True))


def opened(looked: Sequence[Looked], limits: Limits, machine: Machine) -> tuple[tuple[Drive, Device], ...]:
    """All of them, open for writing, if they still are what was shown. CardError: nothing was written."""
    drives = _guarded([one.drive.path for one in looked], limits, machine)
    differ = (changed(one.drive, drive) for one, drive in zip(looked, drives, strict=True))
    refused([why for why in differ if why])
    devices: list[tuple[Drive, Device]] = []
    try:
        for drive in drives:
            devices.append((drive, machine.open(drive)))
    except BaseException:
        for _, device in devices:
            device.close()
        raise
    return tuple(devices)


def _guarded(paths: Sequence[str], limits: Limits, machine: Machine) -> tuple[Drive, ...]:
    drives = tuple(machine.describe(path) for path in paths)
    refused(refusals(drives, limits.need_bytes, limits.max_bytes, limits.image_place))
    return drives


def _contents(path: str, machine: Machine) -> str:
    try:
        return contents_words(machine.look(Path(path)))
    except CardError as error:
        return f"it cannot be read: {clause(str(error))}"


def contents_words(card: Card) -> str:
    """What is on a card: "FAT32 in MBR, 31.9 GB, label GARDEN-A; 2 files: A.MP4, B.MP4"."""
    if card.unlisted:
        return f"nothing that can be listed: {clause(card.unlisted)}"
    names = listed([entry.path for entry in card.entries])
    files = f"{counted(len(card.entries), 'file')}: {names}" if card.entries else "no files"
    return "; ".join(words for words in (volume_words(card.volume), files) if words)


def refused(reasons: Sequence[str]) -> None:
    """CardError with these sentences, if there are any: nothing was written yet."""
    if reasons:
        error = CardError("\n".join(reasons))
        error.advice = "Nothing was written."
        raise error


def as_expected(looked: Sequence[Looked], size: str) -> None:
    """CardError: a device has not the size that was expected."""
    refused(
        [
            f"{drive_words(one.drive)} holds {exact(one.drive.size_bytes)}, not {size}."
            for one in looked
            if not confirmed(one.drive, size)
        ]
    )


def question(drive: Drive) -> str:
    """What is asked before a device is written over."""
    size = shown_size(drive.size_bytes)
    return f"To write over {printable(drive.path)}, type its size ({size}, or {drive.size_bytes} bytes): "
