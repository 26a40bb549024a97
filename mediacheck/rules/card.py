"""Rules about the card itself: its file system, its parts, its size and its soundness.

It must not look at the medium: `card` has listed it, and what was not found out is said to be so.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from math import floor
from typing import TypeVar

from mediacheck.card.limits import SD_CLASSES, label_refusal, sd_class
from mediacheck.card.model import Card, Damage, Volume
from mediacheck.names import FileSystem
from mediacheck.rules.model import (
    COMMON_PRACTICE,
    NOT_APPLICABLE,
    PASSED,
    Answer,
    NotChecked,
    Seen,
    Whole,
    rule,
    seen,
)
from mediacheck.rules.wording import clause, either, exact, number, told_apart

T = TypeVar("T")

WHO_FORMATS_SO: Mapping[str, str] = {
    "FAT12": "the way the very smallest cards are formatted",
    "FAT16": "the way cards up to 2 GB are formatted",
    "FAT32": "the way cards up to 32 GB are sold",
    "exFAT": "the way cards over 32 GB are sold",
    "NTFS": "the way Windows formats hard disks",
    "HFS+": "the way older Macs format their disks",
    "APFS": "the way Macs format their disks",
    "ext": "the way Linux formats its disks",
    "UDF": "the way discs are written",
    "ISO 9660": "the way discs are written",
}
"""FAT12 to exFAT as in the SD specification for each size of card (second-hand); the rest is common
practice."""

TABLE_WORDS: Mapping[str, str] = {
    "none": "has no list of its parts (no partition table)",
    "MBR": "lists its parts in an MBR",
    "GPT": "lists its parts in a GPT, as large computer disks do",
}

FORMAT_AGAIN = "Back up the files, format the card as {}, and copy the files again."


def _not_found_out(whole: Whole, what: str) -> NotChecked:
    if whole.card.unlisted:
        return NotChecked(f"the card was not looked into: {clause(whole.card.unlisted)}", expected=True)
    if whole.card.raw_reason:
        return NotChecked(f"the medium itself was not looked at: {whole.card.raw_reason}", expected=True)
    if whole.card.volume is None:
        return NotChecked("only a folder was given, so the card itself was not looked at", expected=True)
    return NotChecked(f"{what} could not be found out from what was given", expected=True)


def _of_volume(whole: Whole, what: str, read: Callable[[Volume], T | None]) -> T | NotChecked:
    """One value of the volume, or why it is not known; `what` names it with "the"."""
    value = read(whole.card.volume) if whole.card.volume else None
    return _not_found_out(whole, what) if value is None else value


@rule(
    "card-file-system",
    severity="fail",
    scope="card",
    source="the profile; Microsoft FAT32 (1.03) and exFAT (1.00) specifications; SD Association's classes of "
    "cards (second-hand)",
)
def card_file_system(whole: Whole) -> Answer:
    """The card is formatted in a way that this player cannot read: it finds no files, the screen stays
    black."""
    allowed = whole.profile.card.file_systems
    if whole.card.unlisted and whole.card.volume and whole.card.volume.file_system is None:
        return _no_file_system(whole, whole.card.unlisted, allowed or ("FAT32",))
    if allowed is None:
        return NOT_APPLICABLE
    found = _of_volume(whole, "the file system", lambda volume: volume.file_system)
    if isinstance(found, NotChecked):
        return found
    if found in allowed:
        return PASSED
    wanted = either(allowed) if allowed else "no file system at all"
    return seen(
        found,
        wanted,
        f"The card is formatted as {found}, {WHO_FORMATS_SO[found]}; this player reads {wanted} only, so it "
        "finds no files and the screen stays black.",
        _format_again(whole.card.volume, allowed),
    )


def _format_again(volume: Volume | None, wanted: Sequence[FileSystem]) -> str:
    """What to do about a wrong format; another card where this one is of a size that is meant for others."""
    kind = sd_class(volume.medium_bytes or volume.capacity_bytes or 0) if volume else None
    meant = [each for each in SD_CLASSES if set(each.file_systems) & set(wanted)]
    if kind is None or not meant or kind.capacity_bytes_max <= meant[-1].capacity_bytes_max:
        return FORMAT_AGAIN.format(either(wanted) if wanted else "the player asks for")
    most_gb = meant[-1].capacity_bytes_max // 2**30
    return (
        f"Copy the files to a card of {most_gb} GB or less ({meant[-1].name}), which is sold as "
        f"{either(meant[-1].file_systems)}; one of this size ({kind.name}) is meant for "
        f"{either(kind.file_systems)}."
    )


def _no_file_system(whole: Whole, why: str, wanted: Sequence[str]) -> Answer:
    if any(damage.what == why for damage in whole.card.damage or ()):
        return _not_found_out(whole, "the file system")  # card-damaged says it
    return seen(
        why,
        either(wanted),
        f"There is nothing on the card that a player could read ({clause(why)}), so the screen stays black.",
        f"Format the card as {either(wanted)} and copy the files to it.",
    )


@rule(
    "card-partition-table",
    severity="fail",
    scope="card",
    source="the profile; the SD file system specification puts a FAT or exFAT card in an MBR (second-hand)",
)
def card_partition_table(whole: Whole) -> Answer:
    """The card is divided up in a way that this player cannot read: it finds no files, the screen stays
    black."""
    allowed = whole.profile.card.partition_tables
    if allowed is None:
        return NOT_APPLICABLE
    found = _of_volume(whole, "the partition table", lambda volume: volume.partition_table)
    if isinstance(found, NotChecked):
        return found
    if found == "none" and whole.card.unlisted and whole.card.volume and not whole.card.volume.file_system:
        return _not_found_out(whole, "the partition table")  # nothing is on the card at all
    if found in allowed:
        return PASSED
    wanted = either([_table_name(table) for table in allowed])
    return seen(
        _table_name(found),
        wanted,
        f"The card {TABLE_WORDS[found]}; this player reads only cards with {wanted}, so it finds no files "
        "and the screen stays black.",
        _divide_again(allowed, wanted),
    )


def _divide_again(allowed: Sequence[str], wanted: str) -> str:
    again = f"erase the whole card, set it up with {wanted} and one part, and copy the files again."
    if "MBR" not in allowed:
        return f"Back up the files, {again}"
    return f"Copy the files to a new card as it was sold; or back them up, {again}"


def _table_name(table: str) -> str:
    return "no partition table" if table == "none" else table


@rule(
    "card-capacity", severity="warn", scope="card", source="the profile; sizes in decimal GB as on the card"
)
def card_capacity(whole: Whole) -> Answer:
    """The card is larger than this player takes: the player may not see it at all, and the screen stays
    black."""
    most_gb = whole.profile.card.capacity_max_gb
    if most_gb is None:
        return NOT_APPLICABLE
    found = _of_volume(whole, "the size", lambda volume: volume.medium_bytes or volume.capacity_bytes)
    if isinstance(found, NotChecked):
        return found
    most = Fraction(str(most_gb)) * 10**9
    if found <= most:
        return PASSED
    held, taken = told_apart(found, floor(most))
    return seen(
        exact(found),
        f"at most {number(most_gb)} GB",
        f"The card holds {held}; this player takes cards up to {taken}, so it may not see the card at all "
        "and the screen may stay black.",
        f"Use a card of {number(most_gb)} GB or less.",
    )


@rule(
    "card-cluster-size",
    severity="warn",
    scope="card",
    source="the profile; Microsoft FAT32 specification 1.03, BPB_SecPerClus: at most 32 KiB is safe",
)
def card_cluster_size(whole: Whole) -> Answer:
    """The card hands out its space in larger pieces (clusters) than this player takes: it may find no
    files."""
    most = whole.profile.card.cluster_bytes_max
    if most is None:
        return NOT_APPLICABLE
    found = _of_volume(whole, "the cluster size", lambda volume: volume.cluster_bytes)
    if isinstance(found, NotChecked):
        return found
    if found <= most:
        return PASSED
    return seen(
        exact(found),
        f"at most {exact(most)}",
        f"The card hands out its space in pieces (clusters) of {exact(found)}; this player takes at most "
        f"{exact(most)}, so it may find no files and the screen may stay black.",
        f"Back up the files, format the card with a cluster size of {exact(most)}, and copy the files again.",
    )


@rule(
    "card-damaged",
    severity="fail",
    scope="card",
    source="Microsoft FAT32 (1.03) and exFAT (1.00) specifications",
)
def card_damaged(whole: Whole) -> Answer:
    """The card's own records are broken: the player stops, stutters or skips the files that they lead to."""
    if whole.card.damage is None:
        return _not_found_out(whole, "whether it is damaged")
    return tuple(_damaged(damage, whole.card) for damage in whole.card.damage)


def _damaged(damage: Damage, card: Card) -> Seen:
    what = clause(damage.what)
    return Seen(
        found=what,
        wanted="no damage",
        message=f"Damage on the card: {what}; {_harm(damage, card)}.",
        action="Have a computer check and repair the card, or format it and copy the files again, before "
        "anything more is written to it."
        if damage.only_writing
        else "Back up what can be read, format the card, and copy the files again; use another card if it "
        "happens again.",
        severity="warn" if damage.only_writing else None,
        path=damage.path,
    )


def _harm(damage: Damage, card: Card) -> str:
    """What it does on the screen.

    Players only read (common practice, no source): a count of free clusters, a backup or a mark of free space
    is of no use to them, and FSInfo's count is only a hint (Microsoft FAT32 specification 1.03).
    """
    if damage.only_writing:
        return "a player that only reads is not stopped by it, but the next copying to the card may go wrong"
    if damage.path is None:
        return "the player may stop, or skip files"
    if damage.path in card.folders:
        return "the player may not find what is in this folder"
    return "the player may stop at this file or skip it"


@rule(
    "card-dirty",
    severity="warn",
    scope="card",
    source="Microsoft FAT32 specification 1.03, FAT[1]; exFAT specification 1.00, 3.1.13 VolumeDirty",
)
def card_dirty(whole: Whole) -> Answer:
    """The card was pulled out while it was written to: a file may be cut off, and some players refuse the
    card."""
    dirty = _of_volume(whole, "the mark for unfinished writing", lambda volume: volume.dirty)
    if isinstance(dirty, NotChecked):
        return dirty
    if not dirty:
        return PASSED
    return seen(
        "marked as not finished",
        "marked as finished",
        "The card was taken out before the computer had finished writing: a file may be cut off, and some "
        "players then show nothing.",
        "Let a computer check and repair the card, check it here again, and eject it before taking it out.",
    )


@rule(
    "card-size-mismatch",
    severity="fail",
    scope="card",
    source="Microsoft FAT32 specification 1.03: a volume larger than its medium is seriously malformed",
)
def card_size_mismatch(whole: Whole) -> Answer:
    """The file system claims more space than there is: what was copied beyond its end is lost and will not
    play."""
    claimed = _of_volume(whole, "the claimed size", lambda volume: volume.claimed_bytes)
    medium = _of_volume(whole, "the true size", lambda volume: volume.medium_bytes)
    if isinstance(claimed, NotChecked):
        return claimed
    if isinstance(medium, NotChecked):
        return medium
    part_end = whole.card.volume.part_end_bytes if whole.card.volume else None
    if claimed > medium:
        return _beyond_medium(claimed, medium, whole.card)
    return _beyond_part(claimed, part_end) if part_end is not None and claimed > part_end else PASSED


def _beyond_medium(claimed: int, medium: int, card: Card) -> Answer:
    said, true = told_apart(claimed, medium)
    image = card.kind == "image"
    return seen(
        f"claims {exact(claimed)}",
        f"at most {exact(medium)}",
        f"The card claims to hold {said}, and {'this image of it' if image else 'it'} holds {true}: what "
        "lies beyond that is lost, and the player stops there or skips it.",
        "Make the image again from the whole card; if it comes out no larger, use another card."
        if image
        else "Use another card: this one holds less than it claims.",
    )


def _beyond_part(claimed: int, part_end: int) -> Answer:
    said, true = told_apart(claimed, part_end)
    return seen(
        f"ends at {exact(claimed)}",
        f"at most {exact(part_end)}",
        f"The file system ends at {said} of the card, and the part that holds it at {true}: what lies "
        "between them may be lost, and the player stops there or skips it.",
        "Back up the files, erase the whole card, set it up with one part, and copy the files again.",
    )


@rule("card-full", severity="warn", scope="card", source="the profile; " + COMMON_PRACTICE)
def card_full(whole: Whole) -> Answer:
    """The card is fuller than this player likes: a player that writes to its card may stop or start again."""
    least = whole.profile.card.free_percent_min
    if least is None:
        return NOT_APPLICABLE
    free = _of_volume(whole, "the free space", lambda volume: volume.free_bytes)
    capacity = _of_volume(whole, "the size", lambda volume: volume.capacity_bytes or None)
    if isinstance(free, NotChecked):
        return free
    if isinstance(capacity, NotChecked):
        return capacity
    percent = Fraction(100 * free, capacity)
    if percent >= Fraction(str(least)):
        return PASSED
    free_percent = number(floor(percent * 10) / 10)
    return seen(
        f"{free_percent} % free",
        f"at least {number(least)} % free",
        f"Only {free_percent} % of the card is free: this player needs {number(least)} % for its own files, "
        "and may stop in the middle of the loop without it.",
        "Remove files that the player does not show, or use a larger card.",
    )


@rule(
    "card-label",
    severity="warn",
    scope="card",
    source="the profile; exFAT specification 1.00, 7.3; dosfstools; " + COMMON_PRACTICE,
)
def card_label(whole: Whole) -> Answer:
    """The card's label is not what the profile or the file system asks for: the card may be meant for another
    player or face."""
    pattern = whole.profile.card.label_pattern
    label = _of_volume(whole, "the label", lambda volume: volume.label)
    if isinstance(label, NotChecked):
        return NOT_APPLICABLE if pattern is None else label
    if pattern is not None and not re.fullmatch(pattern, label):
        return _other_label(label, pattern)
    kind = whole.card.volume.file_system if whole.card.volume else None
    refused = label_refusal(label, kind) if kind else None
    return _refused_label(label, kind, refused) if kind and refused else PASSED


def _refused_label(label: str, kind: FileSystem, why: str) -> Answer:
    return seen(
        label,
        f"a label that {kind} takes",
        f'The card is labelled "{label}", which {kind} does not allow ({why}): another system may show '
        "another label, so that the card is taken for another one.",
        "Give the card a label of at most 11 letters and digits, A to Z and 0 to 9.",
    )


def _other_label(label: str, pattern: str) -> Answer:
    named = f'is labelled "{label}"' if label else "has no label"
    return seen(
        label or "no label",
        f"a label that matches {pattern}",
        f"The card {named}, which is not how cards for this player are labelled: it may belong behind "
        "another screen.",
        "Make sure that this is the right card, then give it the right label.",
    )
