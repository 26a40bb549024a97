"""Fills a mounted card so that the order on it is the play order, and reads every file back.

It must not remove anything but what a manifest of ours lists, and gives a file its name only when whole.

Files are copied one after the other into a folder of their own, and moved to their places in play order at
the end: a file system gives a new name the next free place in its folder, so that they stand in that order.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path

from mediacheck.build.plan import Content
from mediacheck.build.source import changed, fill_view, opened
from mediacheck.build.tree import Times, time_of
from mediacheck.card.junk import is_junk
from mediacheck.card.limits import same_name
from mediacheck.card.opening import open_card
from mediacheck.card.uncached import forget
from mediacheck.errors import CardError, OutputError
from mediacheck.loop import File
from mediacheck.manifest.model import Manifest
from mediacheck.manifest.record import read_manifest
from mediacheck.output import refusal, sync_folder, write_all
from mediacheck.rules.wording import exact, listed
from mediacheck.watching import ByteWatcher

STAGING = "mediacheck.partial"
"""The folder on the card that holds what is not complete."""
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
    manifest = read_manifest(earlier) if earlier else None
    kept, old = _what_is_there(target, manifest)
    _require_room(content, target, old)
    staging = target / STAGING
    try:
        _clear(target, old, manifest)
        staging.mkdir()
        past_cache = _copy_all(content, staging, times, watcher)
        _into_place(content, staging, target)
        staging.rmdir()
        sync_folder(target)
    except OSError as error:
        raise refusal(target, error) from error
    finally:
        with suppress(OSError):
            _remove_staging(target)
    return Filled(past_cache, _order(content, target), kept, tuple(old))


def _what_is_there(target: Path, manifest: Manifest | None) -> tuple[tuple[str, ...], list[str]]:
    """What computers left on the card, and the files of the manifest that are to go. OutputError: more."""
    found = [path for path in _files_below(target) if not path.startswith(f"{STAGING}/")]
    kept = tuple(path for path in found if is_junk(path))
    rest = [path for path in found if not is_junk(path)]
    listed_sizes = {same_name(file.path): file.size_bytes for file in manifest.files} if manifest else {}
    ours = [path for path in rest if listed_sizes.get(same_name(path)) == (target / path).stat().st_size]
    foreign = [path for path in rest if path not in set(ours)]
    if foreign and manifest is None:
        raise OutputError(
            f"{target} is not empty ({listed(foreign)}): format the card, or use --replace to remove what "
            "its manifest lists"
        )
    if foreign:
        raise OutputError(
            f"{target} holds what its manifest does not list, and nothing was removed: {listed(foreign)}"
        )
    return kept, ours


def _files_below(target: Path) -> Iterator[str]:
    try:
        card = open_card(target)
    except CardError as error:
        raise OutputError(str(error)) from error
    yield from (entry.path for entry in card.entries)


def _require_room(content: Content, target: Path, old: list[str]) -> None:
    usage = shutil.disk_usage(target)
    cluster = getattr(os, "statvfs", None)
    unit = os.statvfs(target).f_frsize if cluster else 32768
    need = sum(-(-file.entry.size_bytes // unit) * unit for file in content.files)
    room = usage.free + sum((target / path).stat().st_size for path in old)
    if need > room:
        raise OutputError(f"The files take {exact(need)}, and {target} has {exact(room)} left")


def _clear(target: Path, old: list[str], manifest: Manifest | None) -> None:
    """Remove what an earlier run left unfinished, and the files and emptied folders of the manifest."""
    _remove_staging(target)
    for path in old:
        (target / path).unlink()
    for folder in sorted(manifest.folders if manifest else (), key=len, reverse=True):
        with suppress(OSError):
            (target / folder).rmdir()


def _remove_staging(target: Path) -> None:
    staging = target / STAGING
    if staging.is_dir() and not staging.is_symlink():
        for left in staging.iterdir():
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
        error = OutputError(f"{file.entry.path} reads back from the card other than it was written")
        error.advice = "Do not use this card: test it with `mediacheck capacity`, or take another one."
        raise error
    return proven


def _into_place(content: Content, staging: Path, target: Path) -> None:
    """In the order of the disk: the files of a folder, then its folders one after the other."""
    moved: list[Path] = []
    try:
        for number, file in enumerate(content.files):
            place = target / file.entry.path
            place.parent.mkdir(parents=True, exist_ok=True)
            moved.append(_staged(staging, number).rename(place))
        for folder in content.folders:
            (target / folder).mkdir(parents=True, exist_ok=True)
    except BaseException:
        with suppress(OSError):
            for place in moved:
                place.unlink()
        raise
    for folder in ("", *content.folders):
        sync_folder(target / folder)


def _order(content: Content, target: Path) -> bool | None:
    card = open_card(target)
    wanted = [file.entry.path for file in content.files]
    found = [entry.path for entry in card.entries if not is_junk(entry.path)]
    if sorted(found) != sorted(wanted):
        raise OutputError(f"{target} does not list the files that were written to it")
    return found == wanted if card.order_known else None
