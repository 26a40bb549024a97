"""Fills a mounted card so that the order on it is the play order, and reads every file back.

It must not remove anything but what a manifest of ours lists, and gives a file its name only when whole.

Files are copied one after the other into a folder of their own, and moved to their places in play order at
the end: a file system gives a new name the next free place in its folder, so that they stand in that order.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sys
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path

from mediacheck.build.matching import left_by
from mediacheck.build.plan import Content
from mediacheck.build.source import changed, fill_view, opened
from mediacheck.build.there import FORMAT_IT, STAGING, There, opened_card, refused, what_is_there
from mediacheck.build.tree import Times, time_of
from mediacheck.card.folder import whole_drive
from mediacheck.card.uncached import forget
from mediacheck.loop import File
from mediacheck.manifest.expected import matched, tells_case_apart
from mediacheck.output import refusal, sync_folder, write_all
from mediacheck.rules.wording import exact, listed
from mediacheck.watching import ByteWatcher

BLOCK_BYTES = 4 << 20


@dataclass(frozen=True, slots=True)
class Filled:
    """A card that was filled and read back."""

    past_cache: bool
    """Whether it is proven that what was read back came from the card and not from memory."""
    order: bool | None
    """Whether the order on the disk is the order that was wanted; None: it cannot be read here."""
    left_by_computers: tuple[str, ...]
    """What was on the card and stays there."""
    removed: tuple[str, ...]


def fill(content: Content, target: Path, times: Times, earlier: Path | None, watcher: ByteWatcher) -> Filled:
    """Copy the files to the card. `earlier` is the manifest of what may be removed; None: it must be empty.

    CardError: a source is not what it was. OutputError: the card is not empty, too small, or fails.
    """
    target = whole_drive(target)
    there = what_is_there(target, earlier)
    staging = target / STAGING
    try:
        _require_room(content, target, there)
        _remove_staging(target)
        _remove(target, there.old, there.old_folders)
        staging.mkdir()
        past_cache = _copy_all(content, staging, times, watcher)
        kept, order = _into_place(content, staging, target)
    except OSError as error:
        raise refusal(target, error) from error
    finally:
        with suppress(OSError):
            _remove_staging(target)
    return Filled(past_cache, order, kept, there.old)


def _require_room(content: Content, target: Path, there: There) -> None:
    usage = shutil.disk_usage(target)
    unit = os.statvfs(target).f_frsize if sys.platform != "win32" else 32768
    need = sum(-(-file.entry.size_bytes // unit) * unit for file in content.files)
    room = usage.free + there.old_bytes
    if need > room:
        raise refused(
            f"The files take {exact(need)}, and {target} has {exact(room)} left", "Use a larger card."
        )


def _remove(target: Path, files: Iterable[str], folders: Iterable[str]) -> None:
    """Remove the files, and those of the folders that are empty then."""
    for path in files:
        (target / path).unlink(missing_ok=True)
    for folder in sorted(folders, key=len, reverse=True):
        with suppress(OSError):
            (target / folder).rmdir()


def _remove_staging(target: Path) -> None:
    staging = target / STAGING
    if staging.is_dir() and not staging.is_symlink():
        for left in staging.glob("*.partial"):
            left.unlink()
        staging.rmdir()


def _copy_all(content: Content, staging: Path, times: Times, watcher: ByteWatcher) -> bool:
    """Copy, then read back. True: it is proven that all that was read back came from the card."""
    watcher.begin(2 * content.size_bytes, "copying")
    try:
        for number, file in enumerate(content.files):
            _copy(file, _staged(staging, number), times, watcher)
        sync_folder(staging)
        proven = [
            _read_back(file, _staged(staging, number), watcher) for number, file in enumerate(content.files)
        ]
    finally:
        watcher.end()
    return all(proven)


def _staged(staging: Path, number: int) -> Path:
    return staging / f"{number:05}.partial"


def _copy(file: File, place: Path, times: Times, watcher: ByteWatcher) -> None:
    sha256, block = hashlib.sha256(), memoryview(bytearray(BLOCK_BYTES))
    with opened(file) as source, place.open("xb", buffering=0) as target:
        while found := fill_view(source, block, file, least=0):
            sha256.update(block[:found])
            write_all(target, block[:found])
            watcher.advanced(found)
        os.fsync(target.fileno())
    if sha256.hexdigest() != file.sha256:
        raise changed(file)
    stamp = time_of(file.entry, times).replace(tzinfo=UTC).timestamp()
    os.utime(place, (stamp, stamp))


def _read_back(file: File, place: Path, watcher: ByteWatcher) -> bool:
    sha256, block = hashlib.sha256(), memoryview(bytearray(BLOCK_BYTES))
    with place.open("rb", buffering=0) as copy:
        proven = forget(copy.fileno(), file.entry.size_bytes)
        while found := copy.readinto(block):
            sha256.update(block[:found])
            watcher.advanced(found)
    if sha256.hexdigest() != file.sha256:
        raise refused(
            f"{file.entry.path} reads back from the card other than it was written",
            "Do not use this card: test it with `mediacheck capacity`, or take another one.",
        )
    return proven


def _into_place(content: Content, staging: Path, target: Path) -> tuple[tuple[str, ...], bool | None]:
    """Give the files their names, and see what the card then lists: left by computers, and whether in order.

    In the order of the disk: the files of a folder, then its folders one after the other. Where that fails or
    is stopped, what was moved is removed again.
    """
    moved: list[str] = []
    try:
        for number, file in enumerate(content.files):
            place = target / file.entry.path
            place.parent.mkdir(parents=True, exist_ok=True)
            moved.append(file.entry.path)
            _staged(staging, number).rename(place)
        for folder in content.folders:
            (target / folder).mkdir(parents=True, exist_ok=True)
        staging.rmdir()
        for folder in ("", *content.folders):
            sync_folder(target / folder)
        return _listed_back(content, target)
    except BaseException:
        with suppress(OSError):
            _remove(target, moved, content.folders)
        raise


def _listed_back(content: Content, target: Path) -> tuple[tuple[str, ...], bool | None]:
    card = opened_card(target)
    wanted = [file.entry.path for file in content.files]
    there = [entry.path for entry in card.entries if not left_by(entry.path)]
    found = matched(wanted, there, tells_case_apart(card))
    other = [*(wanted[number] for number in found.missing), *(there[place] for place in found.extra)]
    if other:
        raise refused(f"{target} lists other files than were written to it: {listed(other)}", FORMAT_IT)
    numbers = [number for number, _ in found.pairs]
    kept = tuple(entry.path for entry in card.entries if left_by(entry.path))
    return kept, numbers == sorted(numbers) if card.order_known else None
