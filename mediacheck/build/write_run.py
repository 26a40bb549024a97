"""The whole work of writing an image to raw devices, in steps with a person's answer between them.

It must not print or ask: the command does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from mediacheck.build.drive import Drive, describe
from mediacheck.build.guard import MAX_SIZE_BYTES, changed, confirmed, drive_words, refusals
from mediacheck.build.proven_image import ProvenImage, Stamp, open_image, prove_image
from mediacheck.build.raw_device import Device, open_device
from mediacheck.build.sizes import shown_size
from mediacheck.build.write import write_devices
from mediacheck.build.written import Outcome
from mediacheck.card.folder import printable
from mediacheck.card.model import Card
from mediacheck.card.opening import open_card
from mediacheck.errors import CardError
from mediacheck.report.words import counted, volume_words
from mediacheck.rules.wording import clause, exact, listed
from mediacheck.watching import ByteWatcher


@dataclass(frozen=True, slots=True)
class Machine:
    """What is asked of the computer; tests have another one."""

    describe: Callable[[str], Drive] = describe
    look: Callable[[Path], Card] = open_card
    open: Callable[[Drive], Device] = open_device


@dataclass(frozen=True, slots=True)
class Order:
    """What is asked for."""

    image: Path
    devices: tuple[str, ...]
    max_bytes: int = MAX_SIZE_BYTES
    even_so: bool = False


@dataclass(frozen=True, slots=True)
class Looked:
    """A device that may be written over, and what is on it now, in words."""

    drive: Drive
    contents: str


def image_contents(order: Order, machine: Machine) -> str:
    """What the image holds, in words. CardError: it is none, or a broken one that was not allowed."""
    open_image(order.image).close()
    card = machine.look(order.image)
    faults = tuple(_faults(card))
    if faults and not order.even_so:
        error = CardError(f"{printable(str(order.image))} is not fit to be written: {listed(faults)}")
        error.advice = "Build it again, or write it as it is with --even-so."
        raise error
    return "; ".join((contents_words(card), *(f"but {fault}" for fault in faults)))


def _faults(card: Card) -> Iterator[str]:
    """What is wrong with an image, and what of it could not be looked at: clauses."""
    if card.unlisted:
        yield f"its files could not be listed ({clause(card.unlisted)})"
    yield from (clause(damage.what) for damage in card.damage or () if damage.what != card.unlisted)
    volume = card.volume
    if volume is None or volume.claimed_bytes is None or volume.medium_bytes is None:
        return
    room_bytes = min(volume.medium_bytes, volume.part_end_bytes or volume.medium_bytes)
    if volume.claimed_bytes > room_bytes:
        yield f"its file system claims {exact(volume.claimed_bytes)}, and there are {exact(room_bytes)}"


def contents_words(card: Card) -> str:
    """What is on a card: "FAT32 in MBR, 31.9 GB, label GARDEN-A; 2 files: A.MP4, B.MP4"."""
    if card.unlisted:
        return f"nothing that can be listed: {clause(card.unlisted)}"
    names = listed([entry.path for entry in card.entries])
    files = f"{counted(len(card.entries), 'file')}: {names}" if card.entries else "no files"
    return "; ".join(words for words in (volume_words(card.volume), files) if words)


def proven_image(order: Order, watcher: ByteWatcher) -> ProvenImage:
    """The image, read whole."""
    return prove_image(order.image, watcher)


def looked_at(order: Order, machine: Machine) -> tuple[Looked, ...]:
    """All devices, with what is on them. CardError: one of them must not be written over.

    They are described again after they were read: only reading makes some readers tell of a card that was put
    in, and what holds then is what is shown.
    """
    _guarded(order, machine)
    contents = [_contents(path, machine) for path in order.devices]
    drives = _guarded(order, machine)
    return tuple(Looked(drive, words) for drive, words in zip(drives, contents, strict=True))


def _guarded(order: Order, machine: Machine) -> tuple[Drive, ...]:
    drives = tuple(machine.describe(path) for path in order.devices)
    with open_image(order.image) as image:
        need_bytes = Stamp.of(image).size_bytes
    refused(refusals(drives, need_bytes, order.max_bytes, order.image.resolve()))
    return drives


def _contents(path: str, machine: Machine) -> str:
    try:
        return contents_words(machine.look(Path(path)))
    except CardError as error:
        return f"it cannot be read: {clause(str(error))}"


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


def written(
    image: ProvenImage, looked: Sequence[Looked], order: Order, machine: Machine, watcher: ByteWatcher
) -> tuple[Outcome, ...]:
    """Open all devices, if they still are what was shown, and write. CardError: nothing was written."""
    now = _guarded(order, machine)
    differ = (changed(one.drive, drive) for one, drive in zip(looked, now, strict=True))
    refused([why for why in differ if why])
    devices: list[tuple[Drive, Device]] = []
    try:
        for drive in now:
            devices.append((drive, machine.open(drive)))
    except BaseException:
        for _, device in devices:
            device.close()
        raise
    return write_devices(image, devices, watcher)
