"""Rules about single files as they were copied: empty, too big, unreadable, twice.

It must not open files: readers and hashes were there before.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from mediacheck.card.limits import GREATEST_FILE_BYTES
from mediacheck.loop import File
from mediacheck.media.facts import Unreadable
from mediacheck.names import FileSystem
from mediacheck.rules.belonging import MEDIA, is_required
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
from mediacheck.rules.wording import capital, clause, either, exact, told_apart

NOT_HASHED = NotChecked(
    "files of equal size could not be read to their end, so they were not compared", expected=False
)
NOT_LOOKED_INTO = NotChecked("this file was not looked into", expected=False)


@rule("file-empty", severity="fail", scope="file", source=COMMON_PRACTICE)
def file_empty(one: One) -> Answer:
    """The file is empty: the player skips it or stops there."""
    entry = one.file.entry
    needed = one.file.kind in MEDIA or is_required(entry.path, one.profile.layout)
    if not needed or entry.unusable is not None:
        return NOT_APPLICABLE
    if entry.size_bytes:
        return PASSED
    return seen(
        "0 bytes",
        "a file with something in it",
        "This file is empty: nothing of it can be shown, and the player skips it or stops there.",
        "Copy this file to the card again, and check the size of the original first.",
    )


@rule(
    "file-too-big",
    severity="fail",
    scope="file",
    source="Microsoft FAT32 specification 1.03, DIR_FileSize; Microsoft, File System Functionality "
    "Comparison",
)
def file_too_big(one: One) -> Answer:
    """The file is larger than the card's file system can hold: it is cut off in copying, or not copied at
    all."""
    kinds = one.profile.card.file_systems or ()
    known = [GREATEST_FILE_BYTES[kind] for kind in kinds if kind in GREATEST_FILE_BYTES]
    if not known or len(known) < len(kinds) or one.file.kind == "junk":
        return NOT_APPLICABLE
    if one.file.entry.size_bytes <= max(known):
        return PASSED
    return _too_big(one.file, kinds, max(known))


def _too_big(file: File, kinds: Sequence[FileSystem], most_bytes: int) -> tuple[Seen, ...]:
    found, most = told_apart(file.entry.size_bytes, most_bytes)
    return seen(
        exact(file.entry.size_bytes),
        f"at most {exact(most_bytes)}",
        f"This file has {found}, and a card formatted as {either(kinds)} holds files of up to {most}: it "
        "cannot be copied whole, and the player does not play it to its end.",
        "Encode this file again at a lower bit rate, or divide it into shorter files."
        if file.kind == "video"
        else "Leave this file off the card, or make it smaller.",
        fixable=file.kind == "video",
    )


@rule("file-unreadable", severity="fail", scope="file", source=COMMON_PRACTICE)
def file_unreadable(one: One) -> Answer:
    """No program here can make sense of the file: the player will skip it or stop there."""
    file = one.file
    if file.kind == "junk" or (file.entry.size_bytes == 0 and file.entry.unusable is None):
        return NOT_APPLICABLE
    reason = file.entry.unusable or (file.facts.reason if isinstance(file.facts, Unreadable) else None)
    if reason is not None:
        return _cannot_be_read(one, clause(reason))
    if file.kind not in MEDIA:
        return NOT_APPLICABLE
    return NOT_LOOKED_INTO if file.facts is None else PASSED


def _cannot_be_read(one: One, reason: str) -> tuple[Seen, ...]:
    media = one.file.kind in MEDIA
    effect = "the player will skip this file" if media else "this file cannot be copied to a card"
    grave = media or is_required(one.file.entry.path, one.profile.layout)
    return seen(
        reason,
        "a file that can be read",
        f"{capital(reason)}, so {effect}.",
        "Copy this file again from its original, and ask for a new one if the original does not open either.",
        severity=None if grave else "warn",
    )


@rule("file-duplicate", severity="note", scope="loop", source="SHA-256 (FIPS 180-4); " + COMMON_PRACTICE)
def file_duplicate(whole: Whole) -> Answer:
    """Two files hold exactly the same: the screen shows it twice in each round."""
    groups = _of_equal_size(whole.loop.items)
    twins = tuple(twin for group in groups for twin in _twins(group))
    if not twins and any(file.sha256 is None for group in groups for file in group):
        return NOT_HASHED
    return twins


def _of_equal_size(items: Sequence[File]) -> list[list[File]]:
    """Items that could be the same, in play order; an empty file is reported by `file-empty` alone."""
    by_size = sorted(
        (file for file in items if file.entry.size_bytes), key=lambda file: file.entry.size_bytes
    )
    groups = [list(group) for _, group in groupby(by_size, key=lambda file: file.entry.size_bytes)]
    return [group for group in groups if len(group) > 1]


def _twins(group: Sequence[File]) -> Iterator[Seen]:
    first: dict[str, str] = {}
    for file in group:
        if file.sha256 is None:
            continue
        original = first.setdefault(file.sha256, file.entry.path)
        if original != file.entry.path:
            yield Seen(
                found=f"the same as {original}",
                wanted="each file once",
                message=f'This file is exactly the same as "{original}": the screen shows it twice in each '
                "round.",
                action="Remove one of the two unless it is meant to be shown twice.",
                path=file.entry.path,
            )
