"""Rules about what lies where on the card, and what should not be there at all.

It must not look at the medium: the card has been listed before.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.card.junk import is_junk
from mediacheck.card.model import Card
from mediacheck.loop import name_order, player_looks_in
from mediacheck.media.extensions import kind_by_name
from mediacheck.rules.belonging import is_required, is_welcome, shows
from mediacheck.rules.model import (
    COMMON_PRACTICE,
    NOT_APPLICABLE,
    PASSED,
    Answer,
    NotChecked,
    One,
    Seen,
    Whole,
    rule,
    seen,
)
from mediacheck.rules.wording import either, listed, place

ORDER_UNKNOWN = NotChecked(
    "a folder does not tell the order in which the files lie on the card, so it was not compared with that "
    "of their names",
    expected=True,
)


@rule("folder-missing", severity="fail", scope="loop", source="the profile; " + COMMON_PRACTICE)
def folder_missing(whole: Whole) -> Answer:
    """A folder or file that the player looks for is not on the card: it finds nothing, the screen stays
    black."""
    layout = whole.profile.layout
    if layout.media_root is None and not layout.required_files:
        return NOT_APPLICABLE
    there = {path.casefold() for path in _paths(whole.card)}
    folder = layout.media_root
    no_folder = (_no_folder(folder),) if folder and folder.casefold() not in there else PASSED
    missing = [path for path in layout.required_files if path.strip("/").casefold() not in there]
    return no_folder + tuple(_no_file(path) for path in missing)


def _paths(card: Card) -> Iterator[str]:
    yield from card.folders
    yield from (entry.path for entry in card.entries)


def _no_folder(folder: str) -> Seen:
    return Seen(
        found="no such folder",
        wanted=folder,
        message=f'There is no folder "{folder}" on the card, and the player looks for its files only there: '
        "the screen stays black.",
        action=f'Make a folder "{folder}" on the card and put the files into it.',
        fixable=True,
    )


def _no_file(path: str) -> Seen:
    return Seen(
        found="no such file",
        wanted=path,
        message=f'"{path}" is not on the card, and the player needs it: the screen may stay black.',
        action=f'Copy "{path}" to the card again.',
    )


@rule("file-misplaced", severity="fail", scope="file", source="the profile; " + COMMON_PRACTICE)
def file_misplaced(one: One) -> Answer:
    """A video or still lies where the player does not look: it is never shown."""
    entry, profile = one.file.entry, one.profile
    root = profile.layout.media_root
    if root is None or not shows(one.file.kind, profile) or is_welcome(entry, profile.layout):
        return NOT_APPLICABLE
    if player_looks_in(entry.folder, profile):
        return PASSED
    deeper = "" if profile.layout.subfolders else " and not in the folders below it"
    return seen(
        place(entry.folder),
        place(root),
        f"This file lies in {place(entry.folder)}, and the player looks only in {place(root)}{deeper}: it "
        "is never shown.",
        f"Move this file to {place(root)}.",
        fixable=True,
    )


@rule("file-unexpected", severity="warn", scope="file", source="the profile; " + COMMON_PRACTICE)
def file_unexpected(one: One) -> Answer:
    """A file is on the card that the player has no use for: some players stop at a file they don't know."""
    allowed = one.profile.layout.other_files
    if allowed is None or one.file.kind not in ("other", "audio"):
        return NOT_APPLICABLE
    if is_welcome(one.file.entry, one.profile.layout):
        return PASSED
    sound = one.file.kind == "audio"
    return seen(
        "a sound file without a picture" if sound else "a file that is neither video nor still",
        either(allowed) if allowed else "videos and stills only",
        f"The player has no use for this {'sound ' if sound else ''}file, and some players stop or show a "
        "message when they meet one.",
        "Take this file off the card.",
        fixable=True,
    )


@rule(
    "file-junk",
    severity="warn",
    scope="file",
    source="github/gitignore (Global), Microsoft chkdsk and AutoPlay pages, dosfstools; " + COMMON_PRACTICE,
)
def file_junk(one: One) -> Answer:
    """A computer left this file behind: a player that tries to play it shows black or stops."""
    entry = one.file.entry
    if one.file.kind != "junk":
        return NOT_APPLICABLE
    if is_required(entry.path, one.profile.layout):
        return PASSED
    left_by = is_junk(entry.path) or "nobody put it here on purpose"
    tried = shows(kind_by_name(entry.name), one.profile) and player_looks_in(entry.folder, one.profile)
    side_file = entry.name.startswith("._")
    effect = (
        "it is named like a video or still, so the player tries to play it and shows black or stops"
        if tried and side_file
        else "it is named like a video or still, so the player may show it in the loop"
        if tried
        else "the player has no use for it"
    )
    return seen(
        left_by,
        "no left-over files",
        f"A computer left this file behind ({left_by}): {effect}.",
        "Delete this file from the card.",
        fixable=True,
        severity="fail" if tried else None,
    )


@rule("play-order", severity="warn", scope="loop", source="the profile; " + COMMON_PRACTICE)
def play_order(whole: Whole) -> Answer:
    """The player goes by the order of copying, which is not that of the names: the loop plays in another
    order."""
    items = whole.loop.items
    if whole.profile.player.order != "disk":
        return NOT_APPLICABLE
    if len(items) < 2:
        return PASSED
    if not whole.card.order_known:
        return ORDER_UNKNOWN
    by_name = sorted(items, key=lambda file: name_order(file.entry))
    at = next((i for i, (disk, name) in enumerate(zip(items, by_name, strict=True)) if disk != name), None)
    if at is None:
        return PASSED
    return seen(
        listed([file.entry.path for file in items]),
        listed([file.entry.path for file in by_name]),
        "The player goes by the order in which the files were copied and not by their names: it shows "
        f'"{items[at].entry.path}" at place {at + 1}, where "{by_name[at].entry.path}" comes by name.',
        "Delete the files from the card and copy them again one by one in the order of their names, if "
        "that is the order wanted.",
    )
