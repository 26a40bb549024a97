"""Fills a library from a folder of loops: cards, images of cards, folders, and files that are a loop each.

It must not read again what has not changed.
"""

from __future__ import annotations

import os
import stat
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from mediacheck.card.junk import is_junk
from mediacheck.card.opening import open_card
from mediacheck.card.within import Within
from mediacheck.errors import CardError, ManifestError, WorkerError
from mediacheck.face_names import folded
from mediacheck.identify.footage import footage
from mediacheck.identify.index import index_of
from mediacheck.identify.library import LIST, ItemNamed, Library, LoopNamed, Seen, open_library
from mediacheck.identify.packing import packed
from mediacheck.inspection import decode_limit_s, sha256_of
from mediacheck.loop import name_order
from mediacheck.manifest.record import read_manifest
from mediacheck.media.extensions import kind_by_name
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from mediacheck.output import claim, refusal, write_atomically

SHOWN = ("video", "still")
IMAGES = (".img", ".iso", ".bin", ".dd", ".raw")
MANIFEST = ".manifest.json"
WRITTEN_EVERY_S = 10.0


@dataclass(frozen=True, slots=True)
class Material:
    """One file of a loop. `key`: by which it is known not to have changed."""

    path: str
    location: Path | Within
    key: str
    size_bytes: int
    changed_ns: int


@dataclass(frozen=True, slots=True)
class LoopSource:
    """A loop as it was found. `order`: paths of its manifest, in play order; empty where there is none."""

    name: str
    files: tuple[Material, ...]
    order: tuple[str, ...] = ()
    unusable: tuple[tuple[str, str], ...] = ()
    """Videos and stills that cannot be read as files, each with the reason."""


@dataclass(frozen=True, slots=True)
class Looked:
    """What a worker found in one file. `content`: what is to be kept; None: it is in the library already."""

    sha256: str
    seconds: float
    content: bytes | None
    why: str = ""
    """Why nothing can be kept of it."""


@dataclass(frozen=True, slots=True)
class Indexed:
    """What became of a folder."""

    library: Library
    read: int
    """Files that were read."""
    unchanged: int
    refused: tuple[tuple[str, str], ...]
    """What could not be taken, and why, as a clause."""
    elsewhere: tuple[str, ...]
    """Loops of the library that were not in the folder."""


def sources_in(folder: Path) -> tuple[list[LoopSource], list[tuple[str, str]]]:
    """Every loop below a folder, in the order of their names; and what is none. CardError: nothing there."""
    try:
        if not folder.is_dir():
            place = _card_beside(folder) if folder.name.endswith(MANIFEST) else folder
            return [_source(place) or card_of(place, place.name)], []
        places = sorted(folder.iterdir(), key=lambda one: one.name)
    except OSError as error:
        raise CardError(f"{folder} cannot be read: {error.strerror or error}") from error
    found: dict[str, LoopSource] = {}
    refused: list[tuple[str, str]] = []
    for place in places:
        try:
            source = _source(place)
        except CardError as error:
            refused.append((place.name, str(error).rstrip(".")))
            continue
        if source is not None and folded(source.name) in found:
            refused.append((place.name, f"another loop is called {source.name} here: rename one of them"))
        elif source is not None:
            found[folded(source.name)] = source
    if not found and not refused:
        raise CardError(f"There is no loop in {folder}: no folder, image of a card, video or still")
    return list(found.values()), refused


def _card_beside(manifest: Path) -> Path:
    """The card that a manifest was written for. CardError: it is not beside it."""
    name = manifest.name.removesuffix(MANIFEST)
    places = (manifest.with_name(name + end) for end in ("", *IMAGES))
    found = next((place for place in places if place.exists()), None)
    if found is None:
        raise CardError(f"{manifest} is a manifest, and its card {name} is not beside it")
    return found


def _source(place: Path) -> LoopSource | None:
    """A folder, an image or a file that may be a loop; None for anything else. CardError."""
    if is_junk(place.name) or place.name.startswith("."):
        return None
    if place.is_dir() or place.suffix.casefold() in IMAGES:
        source = card_of(place, place.name)
        return source if source.files or source.unusable else None
    if kind_by_name(place.name) in SHOWN:
        try:
            found = place.stat()
        except OSError as error:
            raise CardError(f"{place} cannot be read: {error.strerror or error}") from error
        if not stat.S_ISREG(found.st_mode):
            raise CardError(f"{place} is a device or pipe, not a file")
        file = Material(place.name, place.absolute(), place.name, found.st_size, found.st_mtime_ns)
        return LoopSource(place.stem, (file,))
    return None


def card_of(place: Path, key: str = "") -> LoopSource:
    """The files of a card that are shown, in the order in which they lie on it. CardError."""
    card = open_card(place)
    shown = [entry for entry in card.entries if kind_by_name(entry.name) in SHOWN and not is_junk(entry.path)]
    entries = [entry for entry in shown if entry.unusable is None]
    unusable = tuple((entry.path, entry.unusable) for entry in shown if entry.unusable is not None)
    if not card.order_known:
        entries.sort(key=name_order)
    whole = place.stat() if place.is_file() else None
    files = []
    for entry in entries:
        changed = _changed_ns(entry.location, whole)
        files.append(Material(entry.path, entry.location, f"{key}/{entry.path}", entry.size_bytes, changed))
    name = place.stem if place.is_file() else place.resolve().name or "card"
    return LoopSource(name, tuple(files), _order_of(place, name), unusable)


def _changed_ns(location: Path | Within, whole: os.stat_result | None) -> int:
    """Of a file in an image, when the image was changed; 0 where nothing says it."""
    with suppress(OSError):
        whole = location.stat() if isinstance(location, Path) else whole
    return whole.st_mtime_ns if whole else 0


def _order_of(place: Path, name: str) -> tuple[str, ...]:
    """As the manifest beside a card has it."""
    manifest = place.parent / f"{name}{MANIFEST}"
    if not manifest.is_file():
        return ()
    try:
        return read_manifest(manifest).play_order
    except ManifestError:
        return ()


def look_at(location: Path | Within, name: str, known: frozenset[str]) -> Looked:
    """In a worker process: all that is to be kept of one file."""
    try:
        sha256 = sha256_of(location)
    except OSError as error:
        return Looked("", 0.0, None, f"it cannot be read: {error.strerror or error}")
    if sha256 in known:
        return Looked(sha256, 0.0, None)
    facts = read_facts(location, name)
    if not isinstance(facts, MediaFacts) or facts.kind == "audio":
        return Looked(sha256, 0.0, None, "no picture in it can be read")
    item = index_of(footage(location, facts))
    if not item.keyframes:
        return Looked(sha256, 0.0, None, "nothing of it can be decoded")
    return Looked(sha256, item.seconds, packed(item))


def limit_s(location: Path | Within, *_: object) -> float:
    """For one file, as for a full decode."""
    size = location.size_bytes if isinstance(location, Within) else location.stat().st_size
    return decode_limit_s(size)


def index_folder(
    folder: Path, library: Library, pool: Executor, done: Callable[[str], None] = lambda name: None
) -> Indexed:
    """Take every loop below a folder into the library, and write it. CardError; OutputError; ClusterError;
    LibraryError."""
    sources, refused = sources_in(folder)
    _made(library.folder)
    with claim(library.folder, LIST):
        filling = _Filling(open_library(library.folder, create=True), refused, done)
        waiting = filling.begin(sources, pool)
        for source in sources:
            filling.take(source, waiting)
        filling.library.write()
    total, names = sum(len(source.files) for source in sources), {source.name for source in sources}
    elsewhere = tuple(loop.name for loop in filling.library.loops if loop.name not in names)
    read = filling.read
    return Indexed(filling.library, read, total - read, tuple(filling.refused), elsewhere)


def _made(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise refusal(folder, error) from error


class _Filling:
    """A library that loops are taken into, one after the other."""

    def __init__(self, library: Library, refused: list[tuple[str, str]], done: Callable[[str], None]) -> None:
        self.library, self.refused, self.read = library, refused, 0
        self._done = done
        self._seen = dict(library.seen)
        self._lengths = {one.sha256: one.seconds for one in self._seen.values()}
        self._known = frozenset(sha256 for sha256 in self._lengths if library.holds(sha256))
        self._written_s = time.monotonic()

    def begin(self, sources: Sequence[LoopSource], pool: Executor) -> dict[str, Future[Looked]]:
        """Have every file read that was not yet, or has changed."""
        changed = _changed(sources, self.library, self._known)
        waiting = {file.key: pool.submit(look_at, file.location, file.path, self._known) for file in changed}
        self.read = len(waiting)
        return waiting

    def take(self, source: LoopSource, waiting: dict[str, Future[Looked]]) -> None:
        """The loop with all its files, or not at all: nobody can say of half a loop that a card holds it."""
        refused = [(f"{source.name}/{path}", why) for path, why in source.unusable]
        for file in (file for file in source.files if file.key in waiting):
            looked = _result(waiting.pop(file.key))
            self._done(file.key)
            if looked.why:
                refused.append((file.key, looked.why))
                self._seen.pop(file.key, None)
                continue
            if looked.content is not None:
                _keep(self.library, looked)
                self._lengths[looked.sha256] = looked.seconds
            length = self._lengths.get(looked.sha256, 0.0)
            self._seen[file.key] = Seen(file.size_bytes, file.changed_ns, looked.sha256, length)
        if refused and len(source.files) + len(source.unusable) > 1:
            refused.append((source.name, "the loop was left out, since not all of it could be taken"))
        self.refused += refused
        self.library = replace(self.library, seen=self._seen).without_loop(source.name)
        if not refused:
            self.library = self.library.with_loop(_loop(source, self.library))
        if time.monotonic() - self._written_s > WRITTEN_EVERY_S:  # what a stopped run has done is kept
            self.library.write()
            self._written_s = time.monotonic()


def _changed(sources: Sequence[LoopSource], library: Library, known: frozenset[str]) -> Iterator[Material]:
    for source in sources:
        for file in source.files:
            before = library.seen.get(file.key)
            same = before is not None and (before.size_bytes, before.changed_ns) == (
                file.size_bytes,
                file.changed_ns,
            )
            if before is None or not same or before.sha256 not in known:
                yield file


def _result(future: Future[Looked]) -> Looked:
    try:
        return future.result()
    except WorkerError as error:
        return Looked("", 0.0, None, f"looking at it did not end well: {error}")


def _keep(library: Library, looked: Looked) -> None:
    path = library.item_path(looked.sha256)
    _made(path.parent)
    write_atomically(path, looked.content or b"")


def _loop(source: LoopSource, library: Library) -> LoopNamed:
    """The loop with its items in play order."""
    places = {path: number for number, path in enumerate(source.order)}
    files = sorted(source.files, key=lambda file: places.get(file.path, len(places)))
    seen = [library.seen[file.key] for file in files]
    items = (ItemNamed(file.path, one.sha256, one.seconds) for file, one in zip(files, seen, strict=True))
    return LoopNamed(source.name, tuple(items))
