"""The whole work of writing an image to raw devices, in steps with a person's answer between them.

It must not print or ask: the command does.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from mediacheck.build.proven_image import ProvenImage, Stamp, open_image, prove_image
from mediacheck.build.write import write_devices
from mediacheck.build.written import Outcome
from mediacheck.card.folder import printable
from mediacheck.card.model import Card
from mediacheck.device.chosen import Limits, Looked, Machine, contents_words, look_at, opened
from mediacheck.device.guard import MAX_SIZE_BYTES
from mediacheck.endings import endings_are_tidy
from mediacheck.errors import CardError
from mediacheck.rules.wording import clause, exact, listed
from mediacheck.watching import ByteWatcher


@dataclass(frozen=True, slots=True)
class Order:
    """What is asked for."""

    image: Path
    devices: tuple[str, ...]
    max_bytes: int = MAX_SIZE_BYTES
    even_so: bool = False


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


def proven_image(order: Order, watcher: ByteWatcher) -> ProvenImage:
    """The image, read whole."""
    return prove_image(order.image, watcher)


def looked_at(order: Order, machine: Machine) -> tuple[Looked, ...]:
    """All devices, with what is on them. CardError: one of them must not be written over."""
    return look_at(order.devices, _limits(order), machine)


def written(
    image: ProvenImage, looked: Sequence[Looked], order: Order, machine: Machine, watcher: ByteWatcher
) -> tuple[Outcome, ...]:
    """Open all devices, if they still are what was shown, and write.

    CardError: nothing was written. Stopped: by Ctrl-C or from outside.
    """
    with endings_are_tidy():
        return write_devices(image, opened(looked, _limits(order), machine), watcher)


def _limits(order: Order) -> Limits:
    with open_image(order.image) as image:
        need_bytes = Stamp.of(image).size_bytes
    return Limits(need_bytes, order.max_bytes, order.image.resolve())
