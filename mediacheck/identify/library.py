"""A library of loops: one folder that can be carried about, with what is kept of each item under its SHA-256.

It must not look at a picture: that is for `index`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from mediacheck.errors import LibraryError
from mediacheck.identify.gallery import Entry
from mediacheck.identify.index import ItemIndex
from mediacheck.identify.packing import unpacked
from mediacheck.loop_content import content_key
from mediacheck.output import write_atomically
from mediacheck.report.facts_record import JsonObject
from mediacheck.report.record import record_text

FAMILY = "mediacheck/library/"
SCHEMA_NAME = f"{FAMILY}1"
LIST = "library.json"
ITEMS = "items"
LIST_MAX_BYTES = 64_000_000
ITEM_MAX_BYTES = 200_000_000


@dataclass(frozen=True, slots=True)
class ItemNamed:
    """One video or still of a loop. `path`: on the card."""

    path: str
    sha256: str
    seconds: float


@dataclass(frozen=True, slots=True)
class LoopNamed:
    """A loop of the library. `name`: each once."""

    name: str
    items: tuple[ItemNamed, ...]
    version: str = ""

    @property
    def content(self) -> str | None:
        """By which its files are known, whatever their names."""
        return content_key(item.sha256 for item in self.items)


@dataclass(frozen=True, slots=True)
class Seen:
    """A file that was read for the library, by which it is told that it has not changed."""

    size_bytes: int
    changed_ns: int
    sha256: str
    seconds: float
    """How long it plays."""


@dataclass(frozen=True, slots=True)
class Library:
    """What is in a library. `seen`: by path below the folder that was indexed."""

    folder: Path
    loops: tuple[LoopNamed, ...] = ()
    seen: Mapping[str, Seen] = field(default_factory=dict)

    def item_path(self, sha256: str) -> Path:
        """Where what is kept of an item lies."""
        return self.folder / ITEMS / sha256[:2] / f"{sha256}.npz"

    def holds(self, sha256: str) -> bool:
        """Whether an item is here and can be used; what is damaged is read again from its loop."""
        try:
            self.item(sha256)
        except LibraryError:
            return False
        return True

    def item(self, sha256: str) -> ItemIndex:
        """What is kept of an item. LibraryError."""
        path = self.item_path(sha256)
        try:
            if path.stat().st_size > ITEM_MAX_BYTES:
                raise LibraryError(f"{path} is too large to be what is kept of an item.")
            return unpacked(path.read_bytes(), str(path))
        except OSError as error:
            raise LibraryError(f"{path} cannot be read: {error.strerror or error}.") from error

    def entries(self, loops: Sequence[LoopNamed]) -> tuple[Entry, ...]:
        """These loops with all that is kept of their items. LibraryError."""
        known: dict[str, ItemIndex] = {}
        for loop in loops:
            for item in loop.items:
                if item.sha256 not in known:
                    known[item.sha256] = self.item(item.sha256)
        return tuple(Entry(loop.name, tuple(known[item.sha256] for item in loop.items)) for loop in loops)

    def with_loop(self, loop: LoopNamed) -> Library:
        """The same with this loop in place of one of its name."""
        others = self.without_loop(loop.name).loops
        return replace(self, loops=tuple(sorted((*others, loop), key=lambda one: one.name)))

    def without_loop(self, name: str) -> Library:
        """The same without the loop of this name, if there is one."""
        return replace(self, loops=tuple(one for one in self.loops if one.name != name))

    def write(self) -> None:
        """Write the list; what is kept of items is there already. OutputError."""
        record: JsonObject = {
            "schema": SCHEMA_NAME,
            "loops": [_loop_record(loop) for loop in self.loops],
            "seen": {
                path: [one.size_bytes, one.changed_ns, one.sha256, one.seconds]
                for path, one in sorted(self.seen.items())
            },
        }
        write_atomically(self.folder / LIST, record_text(record))


def open_library(folder: Path, create: bool = False) -> Library:
    """The library in a folder. LibraryError; with `create`, an empty one where there is none."""
    place = folder / LIST
    if create and not place.exists():
        return Library(folder)
    try:
        if place.stat().st_size > LIST_MAX_BYTES:
            raise LibraryError(f"{place} is too large to be the list of a library.")
        record = json.loads(place.read_bytes())
    except FileNotFoundError:
        raise LibraryError(f"{folder} holds no library of loops.") from None
    except OSError as error:
        raise LibraryError(f"{place} cannot be read: {error.strerror or error}.") from error
    except (ValueError, RecursionError):
        raise LibraryError(f"{place} is damaged: it is no JSON.") from None
    return _library(folder, place, record)


def _library(folder: Path, place: Path, record: Any) -> Library:
    schema = record.get("schema") if isinstance(record, dict) else None
    if isinstance(schema, str) and schema.startswith(FAMILY) and schema != SCHEMA_NAME:
        raise LibraryError(f"{place} was made by another version of mediacheck.")
    if schema != SCHEMA_NAME:
        raise LibraryError(f"{place} does not say of itself that it is a library ({SCHEMA_NAME}).")
    try:
        loops = tuple(_loop(one) for one in record["loops"])
        seen = {
            str(path): Seen(int(one[0]), int(one[1]), _sha256(one[2]), _seconds(one[3]))
            for path, one in record["seen"].items()
        }
        if len({loop.name for loop in loops}) < len(loops):
            raise ValueError("a name twice")
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, OverflowError):
        raise LibraryError(f"{place} is damaged: something in it is missing or wrong.") from None
    return Library(folder, loops, seen)


def _loop(record: Mapping[str, Any]) -> LoopNamed:
    items = tuple(
        ItemNamed(str(item["path"]), _sha256(item["sha256"]), _seconds(item["seconds"]))
        for item in record["items"]
    )
    return LoopNamed(str(record["name"]), items, str(record.get("version", "")))


def _sha256(text: object) -> str:
    if not isinstance(text, str) or len(text) != 64 or not set(text) <= set("0123456789abcdef"):
        raise ValueError("no SHA-256")
    return text


def _seconds(value: object) -> float:
    seconds = float(value)  # type: ignore[arg-type]  # what is no number raises
    if not 0 <= seconds < float("inf"):
        raise ValueError("no length")
    return seconds


def _loop_record(loop: LoopNamed) -> dict[str, Any]:
    items = [{"path": item.path, "sha256": item.sha256, "seconds": item.seconds} for item in loop.items]
    return {"name": loop.name, "version": loop.version, "items": items}
