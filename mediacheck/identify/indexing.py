"""Fills a library from a folder of loops: cards, images of cards, folders, and files that are a loop each.

It must not read again what has not changed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass, replace
from pathlib import Path

from mediacheck.card.junk import is_junk
from mediacheck.card.opening import open_card
from mediacheck.card.within import Within
from mediacheck.errors import CardError, ManifestError, WorkerError
from mediacheck.identify.footage import footage
from mediacheck.identify.index import index_of
from mediacheck.identify.library import ItemNamed, Library, LoopNamed, Seen
from mediacheck.identify.packing import packed
from mediacheck.inspection import decode_limit_s, sha256_of
from mediacheck.loop import name_order
from mediacheck.manifest.record import read_manifest
from mediacheck.media.extensions import kind_by_name
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from mediacheck.output import write_atomically

SHOWN = ("video", "still")
IMAGES = (".img", ".iso", ".bin", ".dd", ".raw")
MANIFEST = ".manifest.json"


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


def sources_in(folder: Path) -> tuple[list[LoopSource], list[tuple[str, str]]]:
    """Every loop below a folder, in the order of their names; and what is none. CardError: nothing there."""
    if not folder.is_dir():
        return [_source(folder) or card_of(folder, folder.name)], []
    found: list[LoopSource] = []
    refused: list[tuple[str, str]] = []
    for place in sorted(folder.iterdir(), key=lambda one: one.name):
        try:
            source = _source(place)
        except CardError as error:
            refused.append((place.name, str(error).rstrip(".")))
            continue
        if source is not None:
            found.append(source)
    return found, refused


def _source(place: Path) -> LoopSource | None:
    """A folder, an image or a file that may be a loop; None for anything else."""
    if is_junk(place.name) or place.name.startswith("."):
        return None
    if place.is_dir() or place.suffix.casefold() in IMAGES:
        source = card_of(place, place.name)
        return source if source.files else None
    if kind_by_name(place.name) in SHOWN:
        stat = place.stat()
        file = Material(place.name, place.absolute(), place.name, stat.st_size, stat.st_mtime_ns)
        return LoopSource(place.stem, (file,))
    return None


def card_of(place: Path, key: str = "") -> LoopSource:
    """The files of a card that are shown, in the order in which they lie on it. CardError."""
    card = open_card(place)
    entries = [
        entry
        for entry in card.entries
        if entry.unusable is None and kind_by_name(entry.name) in SHOWN and not is_junk(entry.path)
    ]
    if not card.order_known:
        entries.sort(key=name_order)
    whole = place.stat() if place.is_file() else None
    files = []
    for entry in entries:
        stat = entry.location.stat() if isinstance(entry.location, Path) else whole
        changed = stat.st_mtime_ns if stat else 0
        files.append(Material(entry.path, entry.location, f"{key}/{entry.path}", entry.size_bytes, changed))
    name = place.stem if place.is_file() else place.resolve().name or "card"
    return LoopSource(name, tuple(files), _order_of(place, name))


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
    """Take every loop below a folder into the library, and write it. CardError; OutputError; ClusterError."""
    sources, refused = sources_in(folder)
    seen = dict(library.seen)
    known = frozenset(one.sha256 for one in seen.values() if library.has(one.sha256))
    lengths = {one.sha256: one.seconds for one in seen.values()}
    waiting: dict[str, Future[Looked]] = {}
    for file in _changed(sources, library, known):
        waiting[file.key] = pool.submit(look_at, file.location, file.path, known)
    for file in (file for source in sources for file in source.files if file.key in waiting):
        looked = _result(waiting[file.key])
        done(file.key)
        if looked.why:
            refused.append((file.key, looked.why))
            continue
        if looked.content is not None:
            _keep(library, looked)
            lengths[looked.sha256] = looked.seconds
        length = lengths.get(looked.sha256, 0.0)
        seen[file.key] = Seen(file.size_bytes, file.changed_ns, looked.sha256, length)
    library = replace(library, seen=seen)
    for source in sources:
        loop = _loop(source, library)
        library = library.with_loop(loop) if loop else library
    library.folder.mkdir(parents=True, exist_ok=True)
    library.write()
    total = sum(len(source.files) for source in sources)
    return Indexed(library, len(waiting), total - len(waiting), tuple(refused))


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
    path.parent.mkdir(parents=True, exist_ok=True)
    write_atomically(path, looked.content or b"")


def _loop(source: LoopSource, library: Library) -> LoopNamed | None:
    """The loop with its items in play order; None where none of its files could be taken."""
    places = {path: number for number, path in enumerate(source.order)}
    files = sorted(source.files, key=lambda file: places.get(file.path, len(places)))
    items = []
    for file in files:
        seen = library.seen.get(file.key)
        if seen is not None and library.has(seen.sha256):
            items.append(ItemNamed(file.path, seen.sha256, seen.seconds))
    return LoopNamed(source.name, tuple(items)) if items else None
