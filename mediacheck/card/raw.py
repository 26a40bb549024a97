"""Opens an image or a raw device as a card: its parts, the file system in one of them, and what it lists.

It must not know how a file system works, and must not write.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from types import MappingProxyType

from mediacheck.card.contents import Contents
from mediacheck.card.device import whole_device
from mediacheck.card.exfat import read_exfat
from mediacheck.card.fat import read_fat
from mediacheck.card.fat_layout import BOOT_BYTES
from mediacheck.card.medium import Medium, Window, open_medium
from mediacheck.card.model import Card, Damage, Volume
from mediacheck.card.partitions import Part, Partitions, ends_beyond, read_partitions
from mediacheck.card.signatures import (
    by_backup_at,
    file_system_at,
    is_blank,
    nearly_fat,
    sectors_before,
)
from mediacheck.errors import CardError
from mediacheck.names import CardKind, FileSystem, PartitionTable

Reader = Callable[[Medium], Contents]
READERS: Mapping[FileSystem, Reader] = MappingProxyType(
    {"FAT12": read_fat, "FAT16": read_fat, "FAT32": read_fat, "exFAT": read_exfat}
)

CARD_BYTES_MIN = 160 * 1024
"""An empty file smaller than this is not taken for a card: the smallest disks that FAT was made for (from
memory)."""
TABLE_FAULTS_MAX = 20
ONE_PART = "only one part of the card was given, so the list of its parts (the partition table) was not seen"
LISTED_MAX = 201
"""As many as one volume tells at most: 200, and one line for the number of the others."""


def open_raw(source: str, shown: str, kind: CardKind) -> Card:
    """Read an image or device whole. `shown` is its name in what people read.

    OSError: it cannot be opened. CardError: a file that holds no card. Whatever else is wrong is in the card.
    """
    with closing(open_medium(source)) as medium:
        if not medium.size_bytes:
            raise CardError(f"{shown} is an empty file")
        try:
            partitions = read_partitions(medium)
        except OSError as error:
            return _unreadable(medium, shown, kind, error)
        chosen = _chosen(medium, partitions)
        if kind == "image" and not _is_card(medium, partitions, chosen):
            raise CardError(
                f"{shown} is a file that holds no card: neither partition table nor file system was found"
            )
        division = _division(source, kind, partitions, medium)
        notes = (ONE_PART,) if division.table is None else _notes(partitions.parts, chosen)
        return _card(medium, division, chosen, Card(shown, kind, (), notes=notes))


@dataclass(frozen=True, slots=True)
class _Division:
    """What is known of the partition table that the medium stands in or has."""

    table: PartitionTable | None
    damage: tuple[Damage, ...]
    own_table: PartitionTable
    """That of the medium itself: a part of a drive has "none"."""


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a file system may lie: one part, or the whole medium."""

    medium: Medium
    part: Part | None = None
    file_system: FileSystem | None = None
    reader: Reader | None = None

    @property
    def name(self) -> str:
        return f"part {self.part.number}" if self.part else "it"


def _chosen(medium: Medium, partitions: Partitions) -> _Place:
    """The part to read: the first with FAT or exFAT, else with any file system, else with a trace of one."""
    parts = partitions.parts
    windows = [_Place(Window(medium, part.start_byte, part.size_bytes), part) for part in parts]
    places = windows or [_Place(medium)]
    if partitions.table != "none" and not windows:
        return places[0]  # whatever once stood there, no system looks for it now
    found = [_formatted(place, file_system_at) for place in places]
    traces = (_formatted(place, by_backup_at) for place in places)
    broken = (replace(place, reader=read_fat) for place in places if _holds(_nearly_fat, place))
    return (
        next((place for place in found if place.reader), None)
        or next((place for place in found if place.file_system), None)
        or next((place for place in traces if place.reader), None)
        or next(broken, places[0])
    )


def _formatted(place: _Place, question: Callable[[Medium], FileSystem | None]) -> _Place:
    try:
        kind = question(place.medium)
    except OSError:
        return place
    return replace(place, file_system=kind, reader=READERS.get(kind) if kind else None)


def _holds(question: Callable[[Medium], bool], place: _Place) -> bool:
    """Whether the answer is yes; no where the place cannot be read."""
    try:
        return question(place.medium)
    except OSError:
        return False


def _nearly_fat(medium: Medium) -> bool:
    return nearly_fat(medium.read(0, BOOT_BYTES))


def _is_card(medium: Medium, partitions: Partitions, chosen: _Place) -> bool:
    """Whether a file is the image of a card at all, if only of a broken one or one that is not formatted."""
    if chosen.file_system or chosen.reader or partitions.table != "none":
        return True
    return medium.size_bytes >= CARD_BYTES_MIN and is_blank(medium)


def _division(source: str, kind: CardKind, own: Partitions, medium: Medium) -> _Division:
    """For a part of a drive, the table of the whole drive, where that may be read; none for its image."""
    whole = None if kind == "image" else whole_device(source)
    if whole is None:
        alone = kind == "image" and own.table == "none" and sectors_before(medium.read(0, BOOT_BYTES)) > 0
        return _Division(None if alone else own.table, own.damage, own.table)
    try:
        with closing(open_medium(whole)) as medium:
            found = read_partitions(medium)
    except OSError:
        return _Division(None, (), own.table)
    return _Division(found.table, found.damage, own.table)


def _card(medium: Medium, division: _Division, chosen: _Place, card: Card) -> Card:
    if chosen.reader is None:
        return _unlisted(card, medium, division, chosen, _why_unlisted(division, chosen))
    try:
        contents = chosen.reader(chosen.medium)
    except CardError as error:
        return _unlisted(card, medium, division, chosen, str(error), broken=True)
    except OSError as error:
        return _unlisted(card, medium, division, chosen, _worn(error), broken=True)
    return replace(
        card,
        entries=contents.entries,
        folders=contents.folders,
        volume=replace(
            contents.volume,
            partition_table=division.table,
            medium_bytes=medium.size_bytes,
            part_end_bytes=chosen.part.end_byte if chosen.part else None,
        ),
        order_known=True,
        damage=_together(_of_table(division, chosen, contents, medium), contents.damage),
    )


def _of_table(division: _Division, chosen: _Place, contents: Contents, medium: Medium) -> tuple[Damage, ...]:
    """What is wrong with the table. Where the file system ends beyond the medium too, that says it all."""
    if chosen.part is None or (contents.volume.claimed_bytes or 0) <= medium.size_bytes:
        return division.damage
    said = ends_beyond(chosen.part)
    return tuple(damage for damage in division.damage if damage.what != said)


def _unlisted(
    card: Card, medium: Medium, division: _Division, chosen: _Place, why: str, broken: bool = False
) -> Card:
    """A card whose files are not known. Its soundness is not known either, but for what was found broken."""
    volume = Volume(
        chosen.file_system,
        division.table,
        capacity_bytes=chosen.part.size_bytes if chosen.part else medium.size_bytes,
        medium_bytes=medium.size_bytes,
    )
    damage = (*division.damage, *((Damage(why),) if broken else ()))
    known = chosen.file_system and not broken
    reason = "only FAT and exFAT are looked into" if known else why if broken else None
    return replace(card, volume=volume, damage=damage or None, unlisted=why, raw_reason=reason)


def _unreadable(medium: Medium, shown: str, kind: CardKind, error: OSError) -> Card:
    """A medium whose very first sector cannot be read."""
    why = _worn(error)
    volume = Volume(medium_bytes=medium.size_bytes)
    return Card(shown, kind, (), volume=volume, damage=(Damage(why),), unlisted=why, raw_reason=why)


def _why_unlisted(division: _Division, chosen: _Place) -> str:
    if chosen.file_system:
        return f"it is formatted as {chosen.file_system}, and files are read here from FAT and exFAT only"
    if division.own_table == "MBR" and not chosen.part:
        return "it has a list of its parts (MBR), and no part in it"
    if division.own_table == "GPT" and not chosen.part:
        return "it has a list of its parts (GPT), and no part in it that can be read"
    if _holds(is_blank, chosen):
        return f"{chosen.name} is not formatted"
    expected = f", which is said to hold {chosen.part.type_name}" if chosen.part else ""
    return f"no file system was found in {chosen.name}{expected}"


def _notes(parts: Sequence[Part], chosen: _Place) -> tuple[str, ...]:
    if len(parts) < 2 or not chosen.part:
        return ()
    held = chosen.file_system or chosen.part.type_name
    return (f"the card has {len(parts)} parts, and only part {chosen.part.number} ({held}) was read",)


def _worn(error: OSError) -> str:
    return f"some of its sectors cannot be read ({error.strerror or error})"


def _together(of_table: tuple[Damage, ...], of_volume: tuple[Damage, ...]) -> tuple[Damage, ...]:
    """All that is broken, the table first; where that is too much to read, the table is cut short."""
    if len(of_table) + len(of_volume) <= LISTED_MAX or len(of_table) <= TABLE_FAULTS_MAX:
        return (*of_table, *of_volume)
    more = len(of_table) - TABLE_FAULTS_MAX
    cut = Damage(f"and {more:,} more faults in the list of the card's parts")
    return (*of_table[:TABLE_FAULTS_MAX], cut, *of_volume)
