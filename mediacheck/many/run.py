"""Checks many cards side by side with one pool of workers, and writes a report of each and a summary.

It must not print; a card that cannot be opened costs no other.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Protocol

from mediacheck import __version__
from mediacheck.card.folder import printable
from mediacheck.card.opening import open_card
from mediacheck.check import check_card
from mediacheck.deliver import Places, deliver
from mediacheck.display_files import DisplayFace
from mediacheck.errors import ClusterError, MediacheckError, OutputError
from mediacheck.inspection import Decoded, inspect
from mediacheck.many.kept import Notes, basis_of, key_of, known_names, note_of, read_notes
from mediacheck.many.model import Line, Summary, line_of
from mediacheck.many.naming import identity, names_for
from mediacheck.many.once import FirstAlone
from mediacheck.many.places import Folder
from mediacheck.many.record import csv_text, json_text
from mediacheck.output import claim, write_atomically
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import ProfileName, Report
from mediacheck.survey import Inspector, Options, Watcher
from mediacheck.which_ffmpeg import find_ffmpeg

TICK_S = 0.2
"""A longer wait would hold Ctrl-C back on Windows."""
OURS = "a mistake of ours; check this card alone, with --debug"


class CardsWatcher(Protocol):
    """Told how far the work is, in one thread; the terminal draws it."""

    def begin(self, cards: int) -> None:
        """So many cards are to be checked."""

    def listed(self, place: int, size_bytes: int) -> None:
        """The card at this place is listed: so much of it is to be looked at. Not told where nothing is."""

    def looked_at(self, place: int, size_bytes: int) -> None:
        """One more file of it, of this size, was looked at."""

    def checked(self, place: int) -> None:
        """This card is through."""

    def waiting(self) -> None:
        """Nothing new for a moment."""


@dataclass(frozen=True, slots=True)
class Order:
    """Which cards to check, for whom, how, and where the reports go."""

    cards: tuple[Path, ...]
    loaded: LoadedProfile
    display: DisplayFace | None
    options: Options
    out: Path

    @property
    def distinct(self) -> tuple[Path, ...]:
        """Each card once, though it was named twice."""
        found: dict[str, Path] = {}
        for card in self.cards:
            found.setdefault(identity(card), card)
        return tuple(found.values())

    @property
    def read(self) -> tuple[Path, ...]:
        """Everything that is only read."""
        files = self.display.display.files if self.display else (Path(self.loaded.source),)
        return (*self.cards, *files)


@dataclass(frozen=True, slots=True)
class _News:
    """What a card's thread tells: work on it that is known or done, or its line; `error` ends the run."""

    place: int
    size_bytes: int = 0
    looked_at: bool = False
    line: Line | None = None
    error: BaseException | None = None


@dataclass(slots=True)
class _Run:
    """What the threads of one run share."""

    order: Order
    folder: Folder
    basis: str
    notes: Notes
    pool: Executor
    inspector: Inspector
    news: SimpleQueue[_News] = field(default_factory=SimpleQueue)
    guard: threading.Lock = field(default_factory=threading.Lock)
    """Held while notes are written, and while it is asked whether the run was stopped."""
    stopped: bool = False


@dataclass(frozen=True, slots=True)
class _CardWatcher:
    """Passes on what the survey of one card tells."""

    news: SimpleQueue[_News]
    place: int

    def begin(self, files: int, size_bytes: int) -> None:
        self.news.put(_News(self.place, size_bytes))

    def decoded(self, path: str, size_bytes: int, so_far: Decoded) -> None:
        """Too fine for many cards."""

    def done(self, path: str, size_bytes: int) -> None:
        self.news.put(_News(self.place, size_bytes, looked_at=True))

    def waiting(self) -> None:
        """The run notices by itself."""


class _Stopped(Exception):
    """Nobody waits for this card any more."""


def check_all(
    order: Order, pool: Executor, watcher: CardsWatcher, at_once: int, inspector: Inspector = inspect
) -> Summary:
    """Check them, write reports and summary, and give the summary.

    `pool` does the inspections and stays at work; `at_once` cards are open at the same time; `inspector` as
    for `survey`.
    Raises OutputError, WrongUse, ClusterError; whatever is wrong with a card is in its line.
    """
    cards = order.distinct
    folder = Folder(order.out)
    folder.require(order.read)
    with claim(folder.path, folder.notes.name):
        return _check_into(folder, cards, order, pool, watcher, at_once, inspector)


def _check_into(
    folder: Folder,
    cards: tuple[Path, ...],
    order: Order,
    pool: Executor,
    watcher: CardsWatcher,
    at_once: int,
    inspector: Inspector,
) -> Summary:
    """The same, in a folder that no other run writes into: two would give one name to two cards."""
    notes = read_notes(folder.notes)
    names = names_for(cards, known_names(notes, cards))
    basis = basis_of(order.loaded, order.display, order.options.depth, _decoder(order.options))
    run = _Run(order, folder, basis, notes, FirstAlone(pool), inspector)
    watcher.begin(len(cards))
    lines: dict[int, Line] = {}
    with _threads(run, list(zip(cards, names, strict=True)), at_once):
        while len(lines) < len(cards):
            _hear(run.news, watcher, lines)
    summary = _summary(order, tuple(lines[place] for place in range(len(cards))))
    write_atomically(folder.table, csv_text(summary))
    write_atomically(folder.summary, json_text(summary))
    return summary


def _decoder(options: Options) -> str | None:
    return find_ffmpeg().version if options.depth == "full" else None


@contextmanager
def _threads(run: _Run, cards: Sequence[tuple[Path, str]], at_once: int) -> Iterator[None]:
    """Threads that take one card after the other, in order. They are left behind when the run is stopped:
    what they still do writes nothing."""
    waiting = iter(list(enumerate(cards)))

    def work() -> None:
        while (following := _following(run, waiting)) is not None:
            place, (card, name) = following
            watcher = _CardWatcher(run.news, place)
            _tell(run, place, partial(_line, run, card, name, watcher))

    for number in range(min(at_once, len(cards))):
        threading.Thread(target=work, name=f"mediacheck-card-{number + 1}", daemon=True).start()
    try:
        yield
    finally:
        with run.guard:
            run.stopped = True


def _following(
    run: _Run, waiting: Iterator[tuple[int, tuple[Path, str]]]
) -> tuple[int, tuple[Path, str]] | None:
    with run.guard:
        return None if run.stopped else next(waiting, None)


def _tell(run: _Run, place: int, work: Callable[[], Line]) -> None:
    try:
        run.news.put(_News(place, line=work()))
    except BaseException as error:  # the run would wait for this card for ever
        run.news.put(_News(place, error=error))


def _hear(news: SimpleQueue[_News], watcher: CardsWatcher, lines: dict[int, Line]) -> None:
    try:
        told = news.get(timeout=TICK_S)
    except Empty:
        watcher.waiting()
        return
    if told.error is not None:
        raise told.error
    if told.line is not None:
        lines[told.place] = told.line
        watcher.checked(told.place)
    elif told.looked_at:
        watcher.looked_at(told.place, told.size_bytes)
    else:
        watcher.listed(told.place, told.size_bytes)


def _line(run: _Run, card: Path, name: str, watcher: Watcher) -> Line:
    """One card, from its path to its report."""
    try:
        return _checked(run, card, name, watcher)
    except (OutputError, ClusterError, _Stopped):
        raise
    except MediacheckError as error:
        problem = str(error)
    except OSError as error:
        problem = f"it cannot be read: {error.strerror or error}"
    except Exception as error:
        if run.stopped:
            raise
        problem = f"{OURS} ({type(error).__name__}: {error})"
    return Line(printable(str(card)), "unreadable", name, problem)


def _checked(run: _Run, path: Path, name: str, watcher: Watcher) -> Line:
    card = open_card(path)
    places = run.folder.of(name)
    key = key_of(path, card, run.basis)
    if known := _known(run, path, key, places):
        return line_of(known, name, kept=True)
    options = replace(run.order.options, pictures=places.pictures)
    checked = check_card(
        card,
        run.order.loaded,
        options,
        watcher,
        run.inspector,
        executor=lambda _: run.pool,
        display=run.order.display,
    )
    with run.guard:
        if run.stopped:  # workers that were ended left files unread: no report says so
            raise _Stopped
    deliver(checked, places)
    _remember(run, path, name, key, checked.report)
    return line_of(checked.report, name, kept=False)


def _known(run: _Run, path: Path, key: str | None, places: Places) -> Report | None:
    """The report of an earlier run, unless everything is to be looked at again."""
    if not run.order.options.use_cache:
        return None
    with run.guard:
        return run.notes.report(path, key, places)


def _remember(run: _Run, path: Path, name: str, key: str | None, report: Report) -> None:
    with run.guard:
        if note := note_of(name, key if _lasts(report) else None, run.folder.of(name)):
            run.notes.add(path, note)


def _lasts(report: Report) -> bool:
    """Whether another look could find nothing else.

    It could where something was not checked, as when a worker died, and where a decoder found damage: that
    may have been the reader's or the network's, once, and so is not kept in the cache either.
    """
    damaged = any(finding.rule == "picture-damaged" for finding in report.findings)
    return not damaged and all(gap.expected for gap in report.not_checked)


def _summary(order: Order, lines: tuple[Line, ...]) -> Summary:
    profile, display = order.loaded.profile, order.display
    return Summary(
        version=__version__,
        checked_at=datetime.now(UTC).replace(microsecond=0),
        depth=order.options.depth,
        profile=ProfileName(profile.id, profile.title, order.loaded.sha256),
        display=display.display.display.id if display else None,
        face=display.face.name if display else None,
        lines=lines,
    )


def exit_code(summary: Summary, strict: bool) -> int:
    """1 where a card fails (with `strict`: or has a warning), 3 where one was not checked to the end, 2 where
    none could be read at all, else 0."""
    totals = summary.totals
    if totals["unreadable"] == len(summary.lines):
        return 2
    if totals["fail"] or (strict and any(line.count("warn") for line in summary.lines)):
        return 1
    return 3 if totals["incomplete"] or totals["unreadable"] else 0
