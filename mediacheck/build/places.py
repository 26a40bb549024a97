"""Where an output and what tells of it may go, found out before a long check.

It must not write.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from mediacheck.build.record import Beside, beside
from mediacheck.build.there import refused
from mediacheck.card.folder import whole_drive
from mediacheck.errors import ManifestError, OutputError, WrongUse
from mediacheck.manifest.model import Manifest
from mediacheck.manifest.record import read_manifest


def beside_card(card: Path, source: Path) -> Beside:
    """Where they stand for a card that is filled: "card.manifest.json" and "card.sha256" beside a folder.

    Beside the root of a drive there is nothing, or a folder of the system. Of a drive they stand in the
    current folder, by the name of the source: the cards of one face have one manifest.
    """
    card = whole_drive(card)
    if os.path.ismount(os.path.realpath(card)):
        name = Path(os.path.realpath(whole_drive(source))).name
        return _by_name(Path(f"card-{name}" if name else "card"))
    return _by_name(card if card.name not in ("", "..") else Path(os.path.realpath(card)))


def with_manifest(manifest: Path, out: Path, fills: bool) -> Beside:
    """Where they stand if the manifest has a place of its own. WrongUse: that is no name of a file.

    `sha256sum -c` looks for an image beside its list, and for the files of a card wherever it is called.
    """
    if manifest.name in ("", ".."):
        raise WrongUse(f"--manifest {manifest}: name a file, such as card.manifest.json.")
    name = f"{manifest.name.removesuffix('.json').removesuffix('.manifest')}.sha256"
    return Beside(manifest, manifest.with_name(name) if fills else beside(out).sums)


def _by_name(place: Path) -> Beside:
    return Beside(place.with_name(f"{place.name}.manifest.json"), place.with_name(f"{place.name}.sha256"))


def require_image_place(source: Path, out: Path, names: Beside, replace: bool) -> None:
    """OutputError or WrongUse where the image, or what tells of it, could not be written or is there."""
    for path in (out, names.sums, names.manifest):
        if path.exists() and not replace:
            raise refused(
                f"{path} is there already: choose another name, or write over it with --replace", ""
            )
    _require_places(source, (out, names.sums, names.manifest))


def require_card_place(source: Path, card: Path, names: Beside) -> None:
    """OutputError or WrongUse where the card or the source would be written to that is only read."""
    if is_within(card, source):
        raise refused(f"{card} cannot be filled: {source} is only read", "Choose another place.")
    if is_within(source, card):
        raise refused(
            f"{card} cannot be filled: {source} lies on it, and is only read", "Choose another place."
        )
    for path in (names.sums, names.manifest):
        if is_within(path, card):
            raise refused(
                f"{path} cannot be written: it would lie on the card", "Name another place with --manifest."
            )
    _require_places(source, (names.sums, names.manifest))
    if not os.access(whole_drive(card), os.W_OK):
        raise OutputError(f"{card} cannot be written: you may not write there, or it is write-protected")


def require_same_card(names: Beside, manifest: Manifest) -> None:
    """OutputError where what stands there tells of another card: it would be lost."""
    with suppress(ManifestError):
        if names.manifest.exists() and _files(read_manifest(names.manifest)) == _files(manifest):
            return
    for path in (names.manifest, names.sums):
        if path.exists():
            raise refused(
                f"{path} is there already, and not of this card: name another place with --manifest, or "
                "write over it with --replace",
                "",
            )


def _files(manifest: Manifest) -> Sequence[tuple[str, str]]:
    return [(file.path, file.sha256) for file in manifest.files]


def is_within(place: Path, folder: Path) -> bool:
    """Whether it is the folder or lies in it, also by another name: a link, or letters in another case."""
    real = Path(os.path.realpath(whole_drive(place)))
    with suppress(OSError, ValueError):
        home = whole_drive(folder).stat()
        return any(os.path.samestat(home, one.stat()) for one in (real, *real.parents) if one.exists())
    return False


def _require_places(source: Path, written: Sequence[Path]) -> None:
    if len({os.path.normcase(os.path.realpath(path)) for path in written}) < len(written):
        raise WrongUse("The manifest would take the place of what it tells of: name another with --manifest.")
    for path in written:
        folder = path.absolute().parent
        if is_within(path, source):
            raise refused(f"{path} cannot be written: {source} is only read", "Choose another place.")
        if path.is_dir():
            raise OutputError(f"{path} cannot be written: there is a folder of that name")
        if not folder.is_dir():
            raise OutputError(f"{path} cannot be written: there is no folder {path.parent}")
        if not os.access(folder, os.W_OK):
            raise OutputError(f"{path} cannot be written: you may not write there, or it is write-protected")
