"""The main job: a card and a profile in, a report out.

It must not print or decide about exit codes; each step is one call into the room that does it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Protocol

from mediacheck import __version__
from mediacheck.card.folder import open_folder
from mediacheck.card.junk import is_junk
from mediacheck.card.model import Card, Entry
from mediacheck.errors import WorkerError
from mediacheck.inspection import Inspection, Wanted, inspect, time_limit_s
from mediacheck.judge import Judgement, judge
from mediacheck.loop import File, Loop, item_seconds, loop_of
from mediacheck.measure.model import NotMeasured, Picture
from mediacheck.media.extensions import kind_by_name
from mediacheck.media.facts import Unreadable
from mediacheck.names import Depth
from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile
from mediacheck.programs import find_ffmpeg
from mediacheck.report.model import PlayItem, ProfileName, Report, ScreenShape
from mediacheck.rules.catalogue import RULES
from mediacheck.workers import FileWorkers

Inspector = Callable[[Path, str, int, Wanted], Inspection]


class Watcher(Protocol):
    """Told how far the work is; the terminal draws it."""

    def begin(self, files: int, size_bytes: int) -> None:
        """The card is listed: this much is to be looked at."""

    def done(self, size_bytes: int) -> None:
        """One file of this size was looked at."""


class NoWatcher:
    """For callers that do not show progress."""

    def begin(self, files: int, size_bytes: int) -> None:
        """Nothing to show."""

    def done(self, size_bytes: int) -> None:
        """Nothing to show."""


def no_pictures(items: int) -> int:
    """For checks that need no sheet."""
    return 0


@dataclass(frozen=True, slots=True)
class Options:
    """How deep to look, with how many processes, and what to bring back for sheets."""

    depth: Depth = "full"
    jobs: int = 2
    pictures: Callable[[int], int] = no_pictures
    """How many frames to bring back of each of so many items."""


@dataclass(frozen=True, slots=True)
class Checked:
    """The report, and the pictures for its sheet by path."""

    report: Report
    pictures: Mapping[str, tuple[Picture, ...]]


def check(
    source: Path,
    loaded: LoadedProfile,
    options: Options,
    watcher: Watcher | None = None,
    inspector: Inspector = inspect,
    executor: Callable[[int], Executor] | None = None,
) -> Checked:
    """Check one card. Raises CardError where there is none; whatever is wrong on it is in the report.

    `executor` makes the pool that inspections run in (default: local worker processes with a time
    limit), so that the pool of a cluster can take its place.
    """
    card = open_folder(source)
    inspections = _inspect_all(card, options, watcher or NoWatcher(), inspector, executor or _local_workers)
    files = tuple(_file(entry, inspections[entry.path]) for entry in card.entries)
    loop = loop_of(files, loaded.profile, card.order_known)
    judgement = judge(RULES, card, loop, loaded.profile, options.depth)
    report = _report(card, loop, judgement, loaded, options)
    return Checked(report, {path: found.pictures for path, found in inspections.items() if found.pictures})


def _local_workers(jobs: int) -> Executor:
    return FileWorkers(jobs, time_limit_s)


def _inspect_all(
    card: Card,
    options: Options,
    watcher: Watcher,
    inspector: Inspector,
    executor: Callable[[int], Executor],
) -> dict[str, Inspection]:
    """Every entry's inspection by path; a worker that crashes or hangs costs one file, not the run."""
    readable = [entry for entry in card.entries if entry.unusable is None]
    found = {e.path: _unusable(e, e.unusable) for e in card.entries if e.unusable is not None}
    watcher.begin(len(readable), sum(entry.size_bytes for entry in readable))
    if not readable:
        return found
    wanted = _wanted(readable, options)
    finished: SimpleQueue[tuple[Future[Inspection], Entry]] = SimpleQueue()
    with executor(options.jobs) as pool:
        for entry in readable:
            task = pool.submit(inspector, entry.location, entry.path, entry.size_bytes, wanted[entry.path])
            task.add_done_callback(partial(_note, finished, entry))
        for _ in readable:
            task, entry = _next(finished)
            found[entry.path] = _result(task, entry)
            watcher.done(entry.size_bytes)
    return found


def _note(
    finished: SimpleQueue[tuple[Future[Inspection], Entry]], entry: Entry, task: Future[Inspection]
) -> None:
    finished.put((task, entry))


def _next(finished: SimpleQueue[tuple[Future[Inspection], Entry]]) -> tuple[Future[Inspection], Entry]:
    """The next task that is done. Short waits, since a long one holds Ctrl-C back on Windows."""
    while True:
        try:
            return finished.get(timeout=0.2)
        except Empty:
            continue


def _wanted(entries: Sequence[Entry], options: Options) -> dict[str, Wanted]:
    """At quick depth only files of equal size are hashed: only they can be duplicates."""
    full = options.depth == "full"
    ffmpeg = find_ffmpeg().path if full else None
    sizes = Counter(entry.size_bytes for entry in entries)
    pictures = options.pictures(sum(kind_by_name(entry.name) in ("video", "still") for entry in entries))
    return {
        entry.path: Wanted(
            options.depth,
            full or (sizes[entry.size_bytes] > 1 and entry.size_bytes > 0),
            pictures,
            ffmpeg,
        )
        for entry in entries
    }


def _result(task: Future[Inspection], entry: Entry) -> Inspection:
    try:
        return task.result()
    except WorkerError as error:
        return _unusable(entry, f"looking at it did not end well: {error}")


def _unusable(entry: Entry, reason: str) -> Inspection:
    if is_junk(entry.path):
        return Inspection("junk")
    kind = kind_by_name(entry.name)
    return Inspection(kind, Unreadable(kind, reason), NotMeasured(reason, expected=False))


def _file(entry: Entry, found: Inspection) -> File:
    return File(entry, found.kind, found.facts, found.measurements, found.sha256)


def _report(card: Card, loop: Loop, judgement: Judgement, loaded: LoadedProfile, options: Options) -> Report:
    profile = loaded.profile
    failed = {finding.path for finding in judgement.findings if finding.severity == "fail"}
    return Report(
        version=__version__,
        checked_at=datetime.now(UTC).replace(microsecond=0),
        depth=options.depth,
        profile=ProfileName(profile.id, profile.title, loaded.sha256),
        screen=_screen(profile),
        verdict=judgement.verdict,
        source=card.source,
        kind=card.kind,
        volume=card.volume,
        order_known=card.order_known,
        disk_order=profile.player.order == "disk",
        files=loop.files,
        items=tuple(
            PlayItem(item.entry.path, item_seconds(item, profile), item.entry.path in failed)
            for item in loop.items
        ),
        loop_seconds=loop.seconds,
        findings=judgement.findings,
        checks=judgement.checks,
        not_checked=judgement.not_checked,
    )


def _screen(profile: Profile) -> ScreenShape:
    screen = profile.screen
    return ScreenShape(screen.width, screen.height, screen.overscan_percent, screen.turned_degrees)
