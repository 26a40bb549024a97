"""From the files that were looked at to the tree that is written: what goes on the card, in which order.

It must not read a file or know a file system.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal
from unicodedata import normalize

from mediacheck.card.junk import is_junk
from mediacheck.card.limits import same_name
from mediacheck.card.model import Entry
from mediacheck.card.new_volume import NewFile, NewFolder, walk
from mediacheck.errors import WrongUse
from mediacheck.loop import name_order
from mediacheck.media.extensions import kind_by_name

FIXED_TIME = datetime(2020, 1, 1)
"""What each file says of its time unless other times are asked for: the same on any day."""
FIRST_YEAR, LAST_YEAR = 1980, 2107
"""What FAT and exFAT can say (Microsoft FAT32 specification 1.03; exFAT 1.00, 7.4.8.7)."""

Times = Literal["fixed", "files"] | datetime
"""Every file the same fixed time, its own, or this one."""


def taken_along(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """The entries that go on the card: not what desktop systems left behind, and nothing unreadable."""
    return tuple(entry for entry in entries if not entry.unusable and not is_junk(entry.path))


def as_written(path: str) -> str:
    """The path as it stands on the card: each letter in one piece with its accents (Unicode NFC).

    Disks of macOS tell "e" and its accent apart; Windows and players look for "é" and show nothing else
    well, and macOS itself writes it so on FAT and exFAT (from memory).
    """
    return normalize("NFC", path)


def in_disk_order(entries: Sequence[Entry], keep: bool, wanted: Sequence[str] = ()) -> list[Entry]:
    """The entries as they are to stand on the disk, in the order in which a walk through it meets them.

    By name; with `keep` as they come; in both cases the paths that are wanted first, in that order. WrongUse
    where no disk can have the order that is wanted.
    """
    ordered = list(entries) if keep else sorted(entries, key=lambda entry: (name_order(entry), entry.path))
    wishes = _places(ordered, wanted)
    ordered.sort(key=lambda entry: wishes.get(entry.path, len(wishes)))
    walked = paths_of(tree_of(ordered, (), lambda _: FIXED_TIME))
    places = {path: place for place, path in enumerate(walked)}
    ordered.sort(key=lambda entry: places[entry.path])
    played = (entry.path for entry in ordered if entry.path in wishes or _may_play(entry))
    for met, asked in zip(played, wishes, strict=False):
        if met != asked:
            raise WrongUse(
                f"No card can hold the order that was given: {asked} would come after {met}, since a player "
                "meets the files of a folder before those of the folders in it, and each folder in one go."
            )
    return ordered


def _may_play(entry: Entry) -> bool:
    return kind_by_name(entry.name) in ("video", "still")


def _places(entries: Sequence[Entry], wanted: Sequence[str]) -> dict[str, int]:
    known = {same_name(entry.path): entry.path for entry in entries}
    places: dict[str, int] = {}
    for path in wanted:
        found = known.get(same_name(as_written(path)))
        if found is None:
            raise WrongUse(f"The order that was given names {path}, which is not among the files.")
        if found in places:
            raise WrongUse(f"The order that was given names {path} twice.")
        places[found] = len(places)
    return places


def tree_of(
    entries: Sequence[Entry], folders: Sequence[str], time_of: Callable[[Entry], datetime]
) -> NewFolder:
    """The folders and files, each folder's in the order in which they come."""
    files: dict[str, list[NewFile]] = {"": []}
    below: dict[str, list[str]] = {"": []}
    for entry in entries:
        _add_folder(entry.folder, files, below)
        files[entry.folder].append(NewFile(entry.name, entry.size_bytes, time_of(entry)))
    for folder in folders:
        _add_folder(folder, files, below)
    built: dict[str, NewFolder] = {}
    for path in reversed(files):  # each folder stands there before those in it
        inner = tuple(built[folder] for folder in below[path])
        built[path] = NewFolder(path.rpartition("/")[2], FIXED_TIME, tuple(files[path]), inner)
    return built[""]


def _add_folder(path: str, files: dict[str, list[NewFile]], below: dict[str, list[str]]) -> None:
    """And those above it that are not there yet."""
    missing = []
    while path not in files:
        missing.append(path)
        path = path.rpartition("/")[0]
    for folder in reversed(missing):
        below[folder.rpartition("/")[0]].append(folder)
        files[folder], below[folder] = [], []


def paths_of(root: NewFolder) -> list[str]:
    """The paths of all files, in the order in which they stand on the disk."""
    return [path for folder in walk(root) for path, _ in folder.files]


def time_of(entry: Entry, times: Times) -> datetime:
    """What the card says of the time of this file, in UTC without a zone, in steps of two seconds."""
    if times == "fixed":
        return FIXED_TIME
    found = times if isinstance(times, datetime) else _own_time(entry)
    if found.tzinfo is not None:
        found = found.astimezone(UTC).replace(tzinfo=None)
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        return FIXED_TIME
    return found.replace(second=found.second // 2 * 2, microsecond=0)


def _own_time(entry: Entry) -> datetime:
    if entry.modified is not None:
        return entry.modified
    if isinstance(entry.location, Path):
        with suppress(
            OSError, OverflowError, ValueError
        ):  # gone, as copying will tell, or beyond the year 9999
            return datetime.fromtimestamp(entry.location.stat().st_mtime, UTC)
    return FIXED_TIME
