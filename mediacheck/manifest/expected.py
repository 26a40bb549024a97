"""What is expected on a card, by its manifest or by a plain list of checksums, and which file is which.

It must not open a card: it is told the names that are there.
"""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

from mediacheck.card.junk import is_junk
from mediacheck.card.limits import WINDOWS_NAMES, same_name
from mediacheck.card.model import Card, Entry
from mediacheck.errors import ManifestError
from mediacheck.manifest.model import Manifest
from mediacheck.manifest.reading import manifest_bytes
from mediacheck.manifest.sums import sums_of
from mediacheck.names import Order


@dataclass(frozen=True, slots=True)
class ExpectedFile:
    """One file that belongs on the card."""

    path: str
    sha256: str
    size_bytes: int | None
    """None in a plain list of checksums, which has no sizes."""


@dataclass(frozen=True, slots=True)
class ExpectedImage:
    """The bytes of the whole card."""

    name: str
    sha256: str
    size_bytes: int | None


@dataclass(frozen=True, slots=True)
class Expected:
    """What belongs on a card."""

    files: tuple[ExpectedFile, ...]
    folders: tuple[str, ...] | None = None
    """None: not known."""
    in_disk_order: bool = False
    """Whether the files stand in the order that they have on the disk."""
    play_order: tuple[str, ...] = ()
    image: ExpectedImage | None = None
    player_order: Order | None = None
    """Which order the player plays in; None: not known."""
    even_so: bool = False
    """Whether the card was built although its check failed."""
    source: str = ""
    """The manifest or list; "" where it came from no file."""
    sha256: str = ""
    """Of that file as it was read."""

    @property
    def is_of_an_image(self) -> bool:
        """Whether this is a plain list of nothing but the image of a card, as stands beside one."""
        return self.folders is None and len(self.files) == 1 and self.files[0].path.lower().endswith(".img")


@dataclass(frozen=True, slots=True)
class Matched:
    """Which file is which: places in `Expected.files` and in the names that are on the card."""

    pairs: tuple[tuple[int, int], ...]
    """In the order of the card."""
    missing: tuple[int, ...]
    extra: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Paired:
    """What is expected on a card, by the names that are on it."""

    by_path: Mapping[str, ExpectedFile]
    """By path on the card; what is not in it does not belong there."""
    missing: tuple[ExpectedFile, ...]
    is_another_card: bool = False
    """As the function of that name tells."""


def read_expected(path: Path) -> Expected:
    """Read a manifest, or a list as sha256sum makes it. ManifestError: it is neither, or cannot be used."""
    content = manifest_bytes(path)
    sha256 = hashlib.sha256(content).hexdigest()
    return replace(_expected_in(content, str(path)), source=str(path), sha256=sha256)


def _expected_in(content: bytes, source: str) -> Expected:
    if content.removeprefix(b"\xef\xbb\xbf").lstrip()[:1] == b"{":
        from mediacheck.manifest.record import manifest_of  # most checks have no manifest to read

        return expected_of(manifest_of(content, source))
    pairs = sums_of(content, source)
    return Expected(tuple(ExpectedFile(name, sha256, None) for name, sha256 in pairs))


def read_expected_files(path: Path) -> Expected:
    """As `read_expected`, for those who compare files only. ManifestError: it lists nothing but an image."""
    expected = read_expected(path)
    if expected.is_of_an_image:
        raise of_an_image_alone(expected.files[0].path)
    return expected


def of_an_image_alone(name: str) -> ManifestError:
    """The error for a list that cannot serve, since it has nothing but the bytes of the whole card."""
    error = ManifestError(
        f"this list of checksums is of the image {name}, and tells nothing of the files on a card"
    )
    error.advice = "Give the manifest (.manifest.json) that stands beside it."
    return error


def expected_of(manifest: Manifest) -> Expected:
    """What a manifest expects."""
    image = manifest.image
    return Expected(
        tuple(ExpectedFile(file.path, file.sha256, file.size_bytes) for file in manifest.files),
        manifest.folders,
        in_disk_order=True,
        play_order=manifest.play_order,
        image=ExpectedImage(image.name, image.sha256, image.size_bytes) if image else None,
        player_order=manifest.player_order,
        even_so=manifest.even_so,
    )


def paired(expected: Expected, card: Card) -> Paired:
    """Find out which of the card's files is which."""
    wanted, there = [file.path for file in expected.files], [entry.path for entry in card.entries]
    found = matched(wanted, there, tells_case_apart(card))
    return Paired(
        MappingProxyType({there[place]: expected.files[number] for number, place in found.pairs}),
        tuple(expected.files[number] for number in found.missing),
        is_another_card(expected, found, card.entries),
    )


def is_another_card(expected: Expected, found: Matched, entries: Sequence[Entry]) -> bool:
    """Whether the card has none of what is to play and has other files instead, as that of another face has.

    A file that has the size of one that is to play may be that one, worn or renamed; and an only one of the
    right name may be that one, cut off.
    """
    order = set(expected.play_order)
    played = {n: file.size_bytes for n, file in enumerate(expected.files) if not order or file.path in order}
    of_the_name = [entries[place] for number, place in found.pairs if number in played]
    if any(entry.unusable for entry in of_the_name):
        return False
    if of_the_name and (len(played) == 1 or None in played.values()):
        return False
    others = [entry.size_bytes for entry in entries if not is_junk(entry.path)]
    return bool(played and others) and set(others).isdisjoint(played.values())


def tells_case_apart(card: Card) -> bool:
    """Whether two names on the card may differ in case alone: not on FAT, exFAT and NTFS.

    A drive of which the system does not tell the file system is one of these; see `card.mounts`.
    """
    kind = card.volume.file_system if card.volume else None
    return kind not in WINDOWS_NAMES and not (kind is None and card.kind == "volume")


def matched(wanted: Sequence[str], there: Sequence[str], case_matters: bool) -> Matched:
    """Which of the paths on the card stands for which of those that belong there.

    Equal ones first; then those that differ only in how accents are put together, which systems change as
    they like; then, unless case matters, those that differ only in case.
    """
    keys: list[Callable[[str], str]] = [str, _composed]
    if not case_matters:
        keys.append(lambda path: same_name(_composed(path)))
    found: dict[int, int] = {}
    missing = set(range(len(wanted)))
    for key in keys:
        by_key = {key(wanted[number]): number for number in sorted(missing, reverse=True)}
        for place in (place for place in range(len(there)) if place not in found):
            number = by_key.pop(key(there[place]), None)
            if number is not None:
                found[place] = number
                missing.discard(number)
    pairs = tuple((found[place], place) for place in sorted(found))
    extra = tuple(place for place in range(len(there)) if place not in found)
    return Matched(pairs, tuple(sorted(missing)), extra)


def _composed(path: str) -> str:
    return unicodedata.normalize("NFC", path)
