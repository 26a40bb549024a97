"""A card and what is expected on it, put side by side: which file is which, and what can be compared at all.

It must not read any file.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from mediacheck.card.device import raw_name, whole_device, windows_device
from mediacheck.card.junk import is_junk
from mediacheck.card.model import Card, Entry
from mediacheck.card.within import Within
from mediacheck.manifest.expected import (
    Expected,
    ExpectedImage,
    Matched,
    is_another_card,
    matched,
    of_an_image_alone,
    tells_case_apart,
)
from mediacheck.media.extensions import kind_by_name

NOTHING = Matched((), (), ())


@dataclass(frozen=True, slots=True)
class Held:
    """A card and what is expected on it, put side by side."""

    card: Card
    expected: Expected
    by_files: bool
    """Whether the files could be put side by side; if not, only the bytes of the whole card decide."""
    match: Matched
    folders: Matched
    image_bytes: int | None
    """How many bytes of the front of the medium are to be compared with the image."""
    no_image: str | None
    """Why none are, although there is an image: a clause."""
    medium: str

    @property
    def readable(self) -> tuple[tuple[int, Entry], ...]:
        """Files that must be read to know whether they are right, with their places in `expected.files`."""
        return tuple(
            (number, entry)
            for number, entry in self.pairs
            if not entry.unusable and self.expected.files[number].size_bytes in (None, entry.size_bytes)
        )

    @property
    def is_another_card(self) -> bool:
        """As `manifest.expected.is_another_card`; False where the files were not compared."""
        return self.by_files and is_another_card(self.expected, self.match, self.card.entries)

    @property
    def pairs(self) -> Iterator[tuple[int, Entry]]:
        """Places in `expected.files`, with the entries that stand for them, in the card's order."""
        return ((number, self.card.entries[place]) for number, place in self.match.pairs)


def put_side_by_side(card: Card, expected: Expected, source: Path) -> Held:
    """Find out which file is which, and what is to be compared.

    ManifestError: the list is of an image, and this is none.
    """
    expected = with_all_folders(_of_an_image(expected, card))
    medium = _medium(card, source)
    by_files = card.unlisted is None and bool(expected.files or expected.image is None)
    there = [entry.path for entry in card.entries]
    return Held(
        card,
        expected,
        by_files,
        _matched([file.path for file in expected.files], there, card) if by_files else NOTHING,
        _matched(expected.folders, card.folders, card)
        if by_files and expected.folders is not None
        else NOTHING,
        *_image_bytes(card, expected.image, medium),
        medium,
    )


def _matched(wanted: Sequence[str], there: Sequence[str], card: Card) -> Matched:
    return matched(wanted, there, tells_case_apart(card))


def with_all_folders(expected: Expected) -> Expected:
    """With those that its files lie in."""
    if expected.folders is None:
        return expected
    above = {folder for file in expected.files for folder in _above(file.path)}
    return replace(expected, folders=tuple(sorted({*expected.folders, *above})))


def _medium(card: Card, source: Path) -> str:
    """What opens the medium below an image or device."""
    within = next((entry.location for entry in card.entries if isinstance(entry.location, Within)), None)
    return within.medium if within else raw_name(windows_device(str(source)) or os.path.realpath(source))


def _of_an_image(expected: Expected, card: Card) -> Expected:
    """A plain list with the name of an image alone is of the bytes of the whole card."""
    if not expected.is_of_an_image or any(entry.path == expected.files[0].path for entry in card.entries):
        return expected
    only = expected.files[0]
    if card.kind != "image":
        raise of_an_image_alone(only.path)
    there = card.volume.medium_bytes if card.volume else None
    return Expected((), image=ExpectedImage(only.path, only.sha256, there))


def _image_bytes(card: Card, image: ExpectedImage | None, medium: str) -> tuple[int | None, str | None]:
    if image is None:
        return None, None
    if card.kind not in ("image", "device"):
        return None, "only a raw device or the image of a card shows them"
    if card.kind == "device" and whole_device(medium):
        return None, "only one part of the card was given"
    there = card.volume.medium_bytes if card.volume else None
    if there is None or image.size_bytes is None or there < image.size_bytes:
        return None, None
    return image.size_bytes, None


def missing(held: Held) -> Iterator[str]:
    """Files and folders that belong on the card and are not there."""
    files = [held.expected.files[number].path for number in held.match.missing]
    yield from files
    gone = [(held.expected.folders or ())[number] for number in held.folders.missing]
    yield from alone(gone, files)


def unasked_for(held: Held) -> Iterator[tuple[str, str | None]]:
    """Files and folders that the manifest does not have, and which computer left them there."""
    files = [held.card.entries[place].path for place in held.match.extra]
    for path in files:
        yield path, left_by(path)
    folders = [held.card.folders[place] for place in held.folders.extra]
    for path in alone(folders, files):
        yield path, is_junk(path.removesuffix("/"))


def left_by(path: str) -> str | None:
    """Which computer left this file there; None: it is somebody's, or the player would try to play it."""
    return None if kind_by_name(path) in ("video", "still") else is_junk(path)


def alone(folders: Sequence[str], told: Sequence[str]) -> Iterator[str]:
    """Folders that no file which is told already, and no other of these folders, lies in."""
    holding = {above for path in (*told, *folders) for above in _above(path)}
    yield from (f"{folder}/" for folder in folders if folder not in holding)


def _above(path: str) -> Iterator[str]:
    """The folders that a path leads through."""
    while path := path.rpartition("/")[0]:
        yield path
