"""A folder that is the root of a mounted drive: what the system says of the drive, and what its medium says.

It must not mount anything, and must not write.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from mediacheck.card.folder import whole_drive
from mediacheck.card.limits import same_name
from mediacheck.card.model import Card, Entry, Volume
from mediacheck.card.mounts import Mount, System
from mediacheck.card.rights import how_to_read
from mediacheck.errors import CardError

UNFINISHED = (
    "the computer has not finished writing to it: take it out by the computer's own command, put it in again "
    "and check it again"
)


def as_drive(card: Card, mount: Mount, system: System) -> Card:
    """The listing of a mounted drive with all that the system, and the medium where it may be read, tell."""
    card = replace(card, kind="volume", volume=_told_volume(card, mount, system))
    try:
        raw = _raw(card, mount, system)
    except PermissionError:
        return replace(card, raw_reason=_not_allowed(mount.device, system.platform))
    except OSError as error:
        return replace(card, raw_reason=f"{mount.device} cannot be read ({error.strerror or error})")
    except CardError as error:
        return replace(card, raw_reason=str(error))
    return _with_raw(card, raw, mount, system.platform)


def _not_allowed(device: str, platform: str) -> str:
    instead = how_to_read(device, platform)
    return f"you may not read {device} directly; to have the medium itself checked, {instead}"


def _told_volume(card: Card, mount: Mount, system: System) -> Volume:
    try:
        usage = system.usage(str(whole_drive(Path(card.source))))
    except OSError:
        return Volume(mount.file_system)
    return Volume(mount.file_system, capacity_bytes=usage.total, used_bytes=usage.used, free_bytes=usage.free)


def _raw(card: Card, mount: Mount, system: System) -> Card:
    """Read the medium; twice where damage is seen: what is not yet written looks like damage."""
    raw = system.raw(mount.device, card.source, "volume")
    if raw.damage and not mount.read_only:
        system.settle()
        raw = system.raw(mount.device, card.source, "volume")
    return raw


def _with_raw(card: Card, raw: Card, mount: Mount, platform: str) -> Card:
    volume = _together(card.volume or Volume(), raw.volume or Volume(), mount, platform)
    if raw.unlisted:
        return replace(card, volume=volume, damage=raw.damage, raw_reason=raw.raw_reason, notes=raw.notes)
    known: dict[str, Entry] = {}
    for entry in raw.entries:
        known.setdefault(_key(entry), entry)
    if any(_key(entry) in known and _differs(entry, known[_key(entry)]) for entry in card.entries):
        return replace(card, volume=volume, raw_reason=UNFINISHED)
    return replace(_in_disk_order(card, known), volume=volume, damage=raw.damage, notes=raw.notes)


def _together(told: Volume, raw: Volume, mount: Mount, platform: str) -> Volume:
    """What the medium says, and what the system says where that is silent.

    Linux and macOS mark a FAT drive as dirty for as long as it is mounted for writing (common practice, no
    source), so that the mark then says nothing.
    """
    means_nothing = raw.dirty and not mount.read_only and platform != "win32"
    return replace(
        raw,
        dirty=None if means_nothing else raw.dirty,
        file_system=raw.file_system or told.file_system,
        capacity_bytes=told.capacity_bytes if raw.capacity_bytes is None else raw.capacity_bytes,
        used_bytes=told.used_bytes if raw.used_bytes is None else raw.used_bytes,
        free_bytes=told.free_bytes if raw.free_bytes is None else raw.free_bytes,
    )


def _in_disk_order(card: Card, known: Mapping[str, Entry]) -> Card:
    """The files of the mounted drive, in the order and with the details that the medium has.

    Where the medium does not know one of them, the order is not known: it stays that of the names.
    """
    if any(_key(entry) not in known and not entry.unusable for entry in card.entries):
        return card
    last = len(known)
    ranked = sorted(
        card.entries, key=lambda entry: known[_key(entry)].position if _key(entry) in known else last
    )
    entries = tuple(
        _with_details(entry, position, known.get(_key(entry))) for position, entry in enumerate(ranked)
    )
    return replace(card, entries=entries, order_known=True)


def _with_details(entry: Entry, position: int, raw: Entry | None) -> Entry:
    if raw is None:
        return replace(entry, position=position)
    return replace(
        entry,
        position=position,
        short_name=raw.short_name,
        attributes=raw.attributes,
        created=raw.created,
        modified=raw.modified,
    )


def _differs(entry: Entry, raw: Entry) -> bool:
    usable = not entry.unusable and not raw.unusable
    return usable and entry.size_bytes != raw.size_bytes


def _key(entry: Entry) -> str:
    """Equal for the two names of one file: systems change letters and take accents apart."""
    return same_name(unicodedata.normalize("NFC", entry.path))
