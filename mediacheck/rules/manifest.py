"""Rules about the manifest of a card: what it lists and is not there, is another file, or is not listed.

It must not read files: names were matched and hashes worked out before.
"""

from __future__ import annotations

from collections.abc import Sequence

from mediacheck.manifest.expected import ExpectedFile
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, Answer, NotChecked, One, Seen, Whole, rule, seen
from mediacheck.rules.wording import exact, listed, told_apart

COPY_AGAIN = "Delete this file from the card and copy it again from where the card was built."
LOOK_FOR = (
    "Compare the card's label with the face, and look for the right card or the right manifest; until then, "
    "delete nothing from this card."
)


@rule("manifest-missing", severity="fail", scope="card", source="the manifest")
def manifest_missing(whole: Whole) -> Answer:
    """A file that belongs on the card by its manifest is not there: the screen does not show it."""
    if whole.manifest is None:
        return NOT_APPLICABLE
    if whole.manifest.is_another_card:
        return _another_card(whole.manifest.missing)
    return tuple(_missing(file) for file in whole.manifest.missing)


def _another_card(missing: Sequence[ExpectedFile]) -> Answer:
    """One finding for all: an installer may hold the card of another face."""
    return seen(
        "a card with other files",
        listed([file.path for file in missing]) or "the files of the manifest",
        "None of what is to play by this manifest is on the card, and the player would show something else: "
        "it is the card of another face or of another version, or the manifest is that of another card.",
        LOOK_FOR,
    )


def _missing(file: ExpectedFile) -> Seen:
    return Seen(
        found="no such file",
        wanted=file.path,
        message=f'"{file.path}" belongs on the card by its manifest and is not there: the player cannot show '
        "it, or does without it.",
        action=f'Copy "{file.path}" to the card again from where the card was built.',
        path=file.path,
    )


@rule("manifest-changed", severity="fail", scope="file", source="the manifest; SHA-256 (FIPS 180-4)")
def manifest_changed(one: One) -> Answer:
    """The file is not the one that the manifest lists under its name: the screen shows another version, or
    the player stops in it."""
    wanted = one.manifest.by_path.get(one.file.entry.path) if one.manifest else None
    if wanted is None:
        return NOT_APPLICABLE
    entry, found = one.file.entry, one.file.sha256
    if entry.unusable is None and wanted.size_bytes not in (None, entry.size_bytes):
        return _another_size(entry.size_bytes, wanted.size_bytes, _action(one, COPY_AGAIN))
    if found is None:
        return _not_hashed(one)
    if found == wanted.sha256:
        return PASSED
    return seen(
        found,
        wanted.sha256,
        "This file has other contents than the one that belongs on the card by its manifest: the screen may "
        "show another version, or the player may stop in it.",
        _action(one, COPY_AGAIN),
    )


def _action(one: One, otherwise: str) -> str:
    return LOOK_FOR if one.manifest and one.manifest.is_another_card else otherwise


def _another_size(found_bytes: int, wanted_bytes: int, action: str) -> Answer:
    found, wanted = told_apart(found_bytes, wanted_bytes)
    return seen(
        exact(found_bytes),
        exact(wanted_bytes),
        f"This file has {found}, and the one that belongs on the card by its manifest has {wanted}: the "
        "screen may show another version, or the player may stop in it.",
        action,
    )


def _not_hashed(one: One) -> NotChecked:
    if one.file.kind == "junk":
        return NotChecked("what computers leave behind is not read, so it was not compared", expected=True)
    return NotChecked("the file could not be read to its end, so it was not compared", expected=False)


@rule("manifest-extra", severity="fail", scope="file", source="the manifest")
def manifest_extra(one: One) -> Answer:
    """A file is on the card that its manifest does not list: the player may show it in the loop, or stop at
    it."""
    if one.manifest is None or one.file.kind == "junk":  # file-junk says it
        return NOT_APPLICABLE
    if one.file.entry.path in one.manifest.by_path:
        return PASSED
    return seen(
        "a file that is not listed",
        "the files of the manifest",
        "This file is not in the card's manifest: the player may show it in the loop, or stop at it.",
        _action(one, "Delete this file from the card, or have the card built again if it belongs there."),
    )
