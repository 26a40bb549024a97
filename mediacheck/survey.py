"""A card, opened and every file on it looked at: what there is, before any profile is held against it.

It must not judge: the same survey serves every player.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Protocol

from mediacheck.cache import usual_cache
from mediacheck.card.junk import is_junk
from mediacheck.card.model import Card, Entry
from mediacheck.card.opening import open_card
from mediacheck.card.within import Within
from mediacheck.errors import WorkerError
from mediacheck.inspection import Decoded, Inspection, Wanted, inspect, time_limit_s
from mediacheck.loop import File
from mediacheck.measure.model import NotMeasured, Picture
from mediacheck.media.extensions import kind_by_name
from mediacheck.media.facts import Unreadable
from mediacheck.names import Depth
from mediacheck.which_ffmpeg import find_ffmpeg
from mediacheck.workers import FileWorkers

Inspector = Callable[[Path | Within, str, int, Wanted], Inspection]
News = SimpleQueue[tuple[Future[Inspection], Decoded | None]]
"""What the workers report: how far one has decoded its file, or None when it is through with it."""


class Watcher(Protocol):
    """Told how far the work is; the terminal draws it."""

    def begin(self, files: int, size_bytes: int) -> None:
        """The card is listed: this much is to be looked at."""

    def decoded(self, path: str, size_bytes: int, so_far: Decoded) -> None:
        """So much of this file, of this size, is decoded: told over and over, at full depth only."""

    def done(self, path: str, size_bytes: int) -> None:
        """This file, of this size, was looked at."""

    def waiting(self) -> None:
        """Nothing new for a moment."""


class NoWatcher:
    """For callers that do not show progress."""

    def begin(self, files: int, size_bytes: int) -> None:
        """Nothing to show."""

    def decoded(self, path: str, size_bytes: int, so_far: Decoded) -> None:
        """Nothing to show."""

    def done(self, path: str, size_bytes: int) -> None:
        """Nothing to show."""

    def waiting(self) -> None:
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
    use_cache: bool = True
    """Whether a decode's numbers may come from an earlier run, and are kept for later ones."""
    hash_all: bool = False
    """Whether every SHA-256 is wanted at quick depth too: to compare with a manifest, or to make one."""
    decode: bool = True
    """Whether a video is decoded of which nothing is known from before."""


@dataclass(frozen=True, slots=True)
class Surveyed:
    """A card and all its files, in on-disk order where the card knows it; pictures for sheets by path."""

    card: Card
    files: tuple[File, ...]
    pictures: Mapping[str, tuple[Picture, ...]]


def survey(
    source: Path,
    options: Options,
    watcher: Watcher | None = None,
    inspector: Inspector = inspect,
    executor: Callable[[int], Executor] | None = None,
) -> Surveyed:
    """Look at every file of one card. Raises CardError where there is none.

    `executor` makes the pool that inspections run in (default: local worker processes with a time
    limit), so that the pool of a cluster can take its place; then the watcher hears of whole files only.
    """
    return survey_card(open_card(source), options, watcher, inspector, executor)


def survey_card(
    card: Card,
    options: Options,
    watcher: Watcher | None = None,
    inspector: Inspector = inspect,
    executor: Callable[[int], Executor] | None = None,
) -> Surveyed:
    """The same for a card that is open, or for a file that stands for one."""
    with surveying(card, options, watcher, inspector, executor) as seen:
        return seen()


@contextmanager
def surveying(
    card: Card,
    options: Options,
    watcher: Watcher | None = None,
    inspector: Inspector = inspect,
    executor: Callable[[int], Executor] | None = None,
) -> Iterator[Callable[[], Surveyed]]:
    """Begin to look at all files; the function that comes back waits for them, once.

    Meanwhile the caller can load what it needs next. What the block raises ends the work.
    """
    watcher = watcher or NoWatcher()
    readable = [entry for entry in card.entries if entry.unusable is None]
    watcher.begin(len(readable), sum(entry.size_bytes for entry in readable))
    if not readable:
        yield lambda: _surveyed(card, {})
        return
    wanted = _wanted(readable, options)
    with (executor or _local_workers)(options.jobs) as pool:
        begun = _begun(pool, readable, inspector, wanted)
        yield lambda: _surveyed(card, _inspected(*begun, watcher))


def _surveyed(card: Card, inspections: Mapping[str, Inspection]) -> Surveyed:
    unusable = {
        entry.path: _unusable(entry, entry.unusable) for entry in card.entries if entry.unusable is not None
    }
    found = {**unusable, **inspections}
    files = tuple(_file(entry, found[entry.path]) for entry in card.entries)
    pictures = {entry.path: found[entry.path].pictures for entry in card.entries}
    return Surveyed(card, files, {path: some for path, some in pictures.items() if some})


def _local_workers(jobs: int) -> Executor:
    return FileWorkers(jobs, time_limit_s)


def _pass_on(news: News, task: Future[Inspection], told: object) -> None:
    if isinstance(told, Decoded):
        news.put((task, told))


def _begun(
    pool: Executor, entries: Sequence[Entry], inspector: Inspector, wanted: Mapping[str, Wanted]
) -> tuple[News, dict[Future[Inspection], Entry]]:
    """What the workers will report, and the task of each entry."""
    news: News = SimpleQueue()
    if isinstance(pool, FileWorkers):
        pool.on_told = partial(_pass_on, news)
    tasks: dict[Future[Inspection], Entry] = {}
    for entry in entries:
        task = pool.submit(inspector, entry.location, entry.path, entry.size_bytes, wanted[entry.path])
        tasks[task] = entry
        task.add_done_callback(partial(_note, news))
    return news, tasks


def _inspected(news: News, tasks: dict[Future[Inspection], Entry], watcher: Watcher) -> dict[str, Inspection]:
    """Every entry's inspection by path; a worker that crashes or hangs costs one file, not the run."""
    found = {}
    for task, entry in _finished(news, tasks, watcher):
        found[entry.path] = _result(task, entry)
        watcher.done(entry.path, entry.size_bytes)
    return found


def _note(news: News, task: Future[Inspection]) -> None:
    news.put((task, None))


def _finished(
    news: News, entries: dict[Future[Inspection], Entry], watcher: Watcher
) -> Iterator[tuple[Future[Inspection], Entry]]:
    """Tasks as they are done, taken out of `entries`; the watcher hears what comes in between."""
    while entries:
        task, so_far = _next(news, watcher)
        if so_far is None:
            yield task, entries.pop(task)
        else:
            watcher.decoded(entries[task].path, entries[task].size_bytes, so_far)


def _next(news: News, watcher: Watcher) -> tuple[Future[Inspection], Decoded | None]:
    """What comes next. Short waits, since a long one holds Ctrl-C back on Windows."""
    while True:
        try:
            return news.get(timeout=0.2)
        except Empty:
            watcher.waiting()


def _wanted(entries: Sequence[Entry], options: Options) -> dict[str, Wanted]:
    """At quick depth only files of equal size need be hashed: only they can be duplicates."""
    full = options.depth == "full"
    ffmpeg = find_ffmpeg() if full else None
    cache = usual_cache(ffmpeg.version) if ffmpeg and options.use_cache else None
    sizes = Counter(entry.size_bytes for entry in entries)
    pictures = options.pictures(sum(kind_by_name(entry.name) in ("video", "still") for entry in entries))
    return {
        entry.path: Wanted(
            options.depth,
            full or options.hash_all or (sizes[entry.size_bytes] > 1 and entry.size_bytes > 0),
            pictures,
            ffmpeg.path if ffmpeg else None,
            cache,
            options.decode,
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
