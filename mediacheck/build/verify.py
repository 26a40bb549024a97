"""Holds a card against its manifest: every byte of every file, and of the whole card where there is an image.

It must not write, and must not call a thing right that it has not read.
"""

from __future__ import annotations

import os
import stat
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from mediacheck import __version__
from mediacheck.build.matching import Held, missing, put_side_by_side, unasked_for
from mediacheck.build.verify_model import Changed, LeftBehind, NotRead, NotVerified, Verified
from mediacheck.build.verify_reading import Sums, sums_of_files, sums_of_medium
from mediacheck.card.blocks import Blocks
from mediacheck.card.device import windows_device
from mediacheck.card.opening import open_card
from mediacheck.manifest.expected import Expected
from mediacheck.rules.wording import clause, exact
from mediacheck.watching import ByteWatcher, NoByteWatcher

OUTSIDE_FILES = "the bytes outside the files"
ORDER = "the order of the files on the card"


def verify(source: Path, expected: Expected, watcher: ByteWatcher | None = None) -> Verified:
    """Read the whole card and say what is missing, changed or extra.

    CardError: there is no card. ManifestError: the list is of an image, and this is none.
    """
    started_s = time.monotonic()
    past_cache = _forgotten(source)  # first: the listing too is to come from the medium
    card = open_card(source)
    held = put_side_by_side(card, expected, source)
    sums = _read(held, past_cache, watcher or NoByteWatcher())
    image_right = _image_right(held, sums)
    right = tuple(_right(held, sums)) if held.by_files else _all_right(held, image_right)
    all_right = len(right) == len(held.expected.files)
    return Verified(
        version=__version__,
        verified_at=datetime.now(UTC).replace(microsecond=0),
        source=card.source,
        kind=card.kind,
        manifest=expected.source,
        manifest_sha256=expected.sha256,
        is_another_card=held.is_another_card,
        right=right,
        missing=tuple(missing(held)),
        changed=tuple(_changed(held, sums)),
        extra=tuple(path for path, who in unasked_for(held) if who is None),
        not_read=tuple(_not_read(held, sums)),
        left_behind=tuple(LeftBehind(path, who) for path, who in unasked_for(held) if who),
        warnings=tuple(_warnings(held, all_right, image_right)),
        not_verified=tuple(_gaps(held, sums, all_right, image_right)),
        by_files=held.by_files,
        image_right=image_right,
        past_cache=sums.past_cache if sums.bytes_read else None,
        files_read=len(sums.files),
        bytes_read=sums.bytes_read,
        seconds=time.monotonic() - started_s,
    )


def _forgotten(source: Path) -> bool:
    """Whether the system has forgotten, as can be proven, all that it had of an image or device."""
    with suppress(OSError, ValueError):
        name = windows_device(str(source)) or os.path.realpath(source)
        if windows_device(name) or _is_image_or_device(Path(name).stat().st_mode):
            with Blocks(name) as blocks:
                return blocks.forget()
    return False


def _is_image_or_device(mode: int) -> bool:
    """Not a pipe, which would be waited for. macOS: /dev/rdisk4 is a device of characters."""
    return stat.S_ISREG(mode) or stat.S_ISBLK(mode) or (stat.S_ISCHR(mode) and sys.platform == "darwin")


def _read(held: Held, past_cache: bool, watcher: ByteWatcher) -> Sums:
    entries = [entry for _, entry in held.readable]
    if held.card.kind in ("image", "device"):
        return sums_of_medium(held.medium, entries, held.image_bytes, past_cache, watcher)
    return sums_of_files(entries, watcher)


def _image_right(held: Held, sums: Sums) -> bool | None:
    """None where it was not compared. A medium that is too small for the image cannot be right."""
    image = held.expected.image
    if image is None or held.no_image or (held.image_bytes is not None and sums.whole is None):
        return None
    return sums.whole == image.sha256


def _right(held: Held, sums: Sums) -> Iterator[str]:
    for place, (number, entry) in enumerate(held.readable):
        if sums.files.get(place) == held.expected.files[number].sha256:
            yield entry.path


def _all_right(held: Held, image_right: bool | None) -> tuple[str, ...]:
    """Where the card could not be listed: the files of the image, if the card has its bytes."""
    return tuple(file.path for file in held.expected.files) if image_right else ()


def _changed(held: Held, sums: Sums) -> Iterator[Changed]:
    for number, entry in held.pairs:
        size_bytes = held.expected.files[number].size_bytes
        if not entry.unusable and size_bytes not in (None, entry.size_bytes):
            yield Changed(entry.path, "size", exact(entry.size_bytes), exact(size_bytes))
    for place, (number, entry) in enumerate(held.readable):
        wanted, found = held.expected.files[number].sha256, sums.files.get(place, "")
        if found not in ("", wanted):
            yield Changed(entry.path, "contents", found, wanted)


def _not_read(held: Held, sums: Sums) -> Iterator[NotRead]:
    for _, entry in held.pairs:
        if entry.unusable:
            yield NotRead(entry.path, entry.unusable)
    for place, (_, entry) in enumerate(held.readable):
        if place in sums.reasons:
            yield NotRead(entry.path, sums.reasons[place])


def _warnings(held: Held, all_right: bool, image_right: bool | None) -> Iterator[str]:
    image, card = held.expected.image, held.card
    there = (card.volume.medium_bytes if card.volume else None) or 0
    if image and image.size_bytes and card.kind == "image" and there > image.size_bytes:
        yield (
            f"The image is longer than the one that was built: {exact(there - image.size_bytes)} follow, "
            "which were not compared with anything."
        )
    if image_right is False and held.by_files and held.image_bytes is None:
        yield f"The card holds {exact(there)}, less than the image that was built."
    elif image_right is False and held.by_files and all_right:
        yield (
            "The bytes outside the files differ from those of the image that was built, as when the card was "
            "put into a computer that may write to it."
        )
    if card.damage and not image_right:
        yield (
            f"The card's own records are damaged: {clause(card.damage[0].what)}; `mediacheck check` tells "
            "what that means for the player."
        )
    yield from _order_warnings(held)
    if held.expected.even_so:
        yield (
            "The card of this manifest was built although its check had failed; under passed_over it lists "
            "with what."
        )


def _order_warnings(held: Held) -> Iterator[str]:
    if not held.card.order_known or held.expected.player_order == "name":
        return
    played = _played(held)
    there = [entry.path for number, entry in held.pairs if number in played]
    by_number = {number: entry.path for number, entry in held.pairs}
    wanted = [by_number[number] for number in played]
    for place, (found, meant) in enumerate(zip(there, wanted, strict=True), 1):
        if found != meant:
            yield (
                "The files stand on the card in another order than the one they are to play in: "
                f'"{found}" comes at place {place}, where "{meant}" belongs; a player that goes by the order '
                "of copying plays them so."
            )
            return


def _played(held: Held) -> list[int]:
    """Places in `expected.files` of the items that are on the card, in play order."""
    numbers = {file.path: number for number, file in enumerate(held.expected.files)}
    there = {number for number, _ in held.match.pairs}
    return [numbers[path] for path in held.expected.play_order if numbers.get(path) in there]


def _gaps(held: Held, sums: Sums, all_right: bool, image_right: bool | None) -> Iterator[NotVerified]:
    card, expected = held.card, held.expected
    if card.unlisted:
        why = f"they could not be listed: {clause(card.unlisted)}"
        yield NotVerified("the names of the files on the card", why, expected=image_right is not None)
    if held.no_image:
        yield NotVerified(OUTSIDE_FILES, held.no_image, expected=True)
    if held.image_bytes is not None and image_right is None:
        yield NotVerified(OUTSIDE_FILES, f"they could not be read ({sums.whole_reason})", expected=False)
    if held.image_bytes is not None and image_right is False and held.by_files and not all_right:
        why = "their sum is known only together with the files, and not all of these are right"
        yield NotVerified(OUTSIDE_FILES, why, expected=True)
    if expected.folders is None and expected.files:
        why = "a plain list of checksums does not tell them"
        yield NotVerified("sizes, empty folders and the order of the files", why, expected=True)
    elif (
        held.by_files and not card.order_known and expected.player_order != "name" and len(_played(held)) > 1
    ):
        why = card.raw_reason or "what was given does not tell it"
        yield NotVerified(ORDER, clause(why), expected=True)
