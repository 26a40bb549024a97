"""Rules about what files are called.

It must not open files: what is inside was read before.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from typing import get_args

from mediacheck.card.limits import WINDOWS_NAMES, refusal, same_name
from mediacheck.loop import File
from mediacheck.media.extensions import extension, extensions_for, promised_format
from mediacheck.media.facts import MediaFacts
from mediacheck.names import Container, StillFormat
from mediacheck.profile import Layout, Profile
from mediacheck.rules.belonging import MEDIA, is_required
from mediacheck.rules.crowding import crowded_folders
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

UNREAD = NotChecked(
    "the file could not be read, so its name was not compared with what is inside", expected=False
)
NO_LENGTH = NotChecked("the name is not readable text, so its length was not counted", expected=False)
NAMED_FORMATS: frozenset[str] = frozenset(get_args(Container) + get_args(StillFormat))
LOST = "it is lost or renamed in copying to the card"
SKIPPED = "the player may skip this file"


def _is_named_for_the_player(file: File, layout: Layout) -> bool:
    return file.kind in MEDIA or (file.kind != "junk" and is_required(file.entry.path, layout))


@rule(
    "file-name",
    severity="fail",
    scope="loop",
    source="the profile; Microsoft, Naming Files, Paths, and Namespaces; exFAT specification 1.00, Table 35; "
    "Microsoft FAT32 specification 1.03, FAT Directory Structure",
)
def file_name(whole: Whole) -> Answer:
    """A name, or more names in a folder, than the card or the player can take: files are lost in copying, or
    the player skips them."""
    files = [file for file in whole.loop.files if _is_named_for_the_player(file, whole.profile.layout)]
    twins = _twins(whole.loop.files) if as_windows(whole.profile) else {}
    answers = (_name_fault(file, twins.get(file.entry.path), whole.profile) for file in files)
    faults = (*(fault for fault in answers if fault), *crowded_folders(whole))
    return faults if files or faults else NOT_APPLICABLE


def as_windows(profile: Profile) -> bool:
    """Whether names must keep to the rules of FAT, exFAT and Windows: unless the profile names others only.

    Cards are sold as FAT or exFAT (SD file system specification, second-hand).
    """
    named = profile.card.file_systems
    return named is None or any(kind in WINDOWS_NAMES for kind in named)


def _twins(files: Sequence[File]) -> dict[str, str]:
    """Each path that differs from an earlier one only in capitals, with that earlier one."""
    first: dict[str, str] = {}
    for path in sorted(file.entry.path for file in files):
        first.setdefault(same_name(path), path)
    return {
        path: original
        for path in (file.entry.path for file in files)
        if (original := first[same_name(path)]) != path
    }


def _name_fault(file: File, twin: str | None, profile: Profile) -> Seen | None:
    reasons = _reasons(file, twin, profile)
    if not reasons:
        return None
    return Seen(
        found=file.entry.path,
        wanted=" and ".join(wanted for wanted, _, _ in reasons),
        message=f"The name of this file does not work: {', and '.join(why for _, why, _ in reasons)}, so "
        f"{reasons[0][2]}.",
        action="Give this file another name, of plain letters, digits, - and _ and with its extension.",
        fixable=True,
        path=file.entry.path,
    )


Reason = tuple[str, str, str]
"""What is wanted, what is wrong (as "it ..."), and what comes of it."""


def _reasons(file: File, twin: str | None, profile: Profile) -> list[Reason]:
    """The faults of one name, the gravest first."""
    if not file.entry.valid_name:
        return [("a name that is readable text", "it holds bytes that are not text in any language", LOST)]
    reasons: list[Reason] = []
    refused = next((why for part in file.entry.path.split("/") if (why := refusal(part))), None)
    if refused and as_windows(profile):
        reasons.append(("a name that FAT, exFAT and Windows take", refused, LOST))
    if twin:
        reasons.append(
            ("a name that differs in more than capitals", f'it is the same as "{twin}" to a card', LOST)
        )
    return reasons + _for_the_player(file.entry.path, file.entry.name, profile.layout)


def _for_the_player(path: str, name: str, layout: Layout) -> list[Reason]:
    reasons: list[Reason] = []
    if layout.ascii_only and not path.isascii():
        wanted = "plain letters, digits and signs (ASCII)"
        reasons.append((wanted, f"it contains {_strange_letters(path)}", SKIPPED))
    if layout.name_pattern is not None and not re.fullmatch(layout.name_pattern, name):
        wanted = f"a name that matches {layout.name_pattern}"
        reasons.append((wanted, "it is not formed as this player asks for", SKIPPED))
    return reasons


def _strange_letters(path: str) -> str:
    """Each letter beyond ASCII as a person sees it: accents joined to their letter (macOS parts them)."""
    letters = sorted({letter for letter in unicodedata.normalize("NFC", path) if not letter.isascii()})
    return " ".join(letter if letter.isalnum() else f"U+{ord(letter):04X}" for letter in letters)


@rule("file-name-length", severity="fail", scope="file", source="the profile; " + COMMON_PRACTICE)
def file_name_length(one: One) -> Answer:
    """The name is longer than this player takes: the player may skip the file."""
    most, entry = one.profile.layout.name_length_max, one.file.entry
    if most is None or not _is_named_for_the_player(one.file, one.profile.layout):
        return NOT_APPLICABLE
    if not entry.valid_name:
        return NO_LENGTH
    if len(entry.name) <= most:
        return PASSED
    return seen(
        f"{len(entry.name)} characters",
        f"at most {most} characters",
        f"The name of this file has {len(entry.name)} characters with its extension; this player takes "
        f"{most} and may skip the file.",
        f"Give this file a name of at most {most} characters.",
        fixable=True,
    )


@rule("file-extension", severity="fail", scope="file", source=COMMON_PRACTICE)
def file_extension(one: One) -> Answer:
    """The name says one format and the file holds another: the player skips it or shows black."""
    file = one.file
    if file.kind not in ("video", "still") or (file.entry.size_bytes == 0 and file.entry.unusable is None):
        return NOT_APPLICABLE
    if file.media is None:
        return UNREAD
    inside = _format(file.media)
    if inside is None:
        return NOT_APPLICABLE
    if _keeps_promise(promised_format(file.entry.name), inside):
        return PASSED
    return _other_inside(file.entry.name, inside, one.profile)


def _format(media: MediaFacts) -> str | None:
    if media.still:
        return media.still.format
    return media.container.name if media.container else None


def _keeps_promise(promised: str | None, inside: str) -> bool:
    """Whether the content is what the name says.

    A format that the profile has no name for has no fixed spelling in the facts; under an extension of its
    own ("FLV") it is left to the rules about formats.
    """
    if promised == "MKV" and inside == "WebM":
        return True  # WebM is a part of Matroska (WebM container guidelines; from memory)
    return promised == inside or (promised is not None and not {promised, inside} & NAMED_FORMATS)


def _other_inside(name: str, inside: str, profile: Profile) -> tuple[Seen, ...]:
    ending, promised = extension(name), promised_format(name)
    says = (
        f"says {promised} ({ending})" if promised else f"ends in {ending}" if ending else "has no extension"
    )
    effect = (
        "the player goes by the name, and skips the file or shows black"
        if promised
        else "the player does not see that it can be played, and skips it"
    )
    fits = extensions_for(inside)[:1]
    return seen(
        f"{ending or 'no extension'} with {inside} inside",
        fits[0] if fits else "an extension that fits",
        f"The name of this file {says}, and inside it is {inside}: {effect}.",
        _make_it_fit(promised, inside, fits, profile),
        fixable=True,
    )


def _make_it_fit(promised: str | None, inside: str, fits: Sequence[str], profile: Profile) -> str:
    """What to do: convert where the player takes only what the name says, else rename."""
    taken = {*(profile.video.containers or ()), *(profile.stills.formats or ())}
    if promised in taken and inside not in taken:
        return f"Convert this file to {promised}, as its name says."
    if not fits:
        return "Convert this file to a format that the player takes."
    return f'Change the end of the name to "{fits[0]}".'
