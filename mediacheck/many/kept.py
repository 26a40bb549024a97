"""What a run notes of each card, so that a later one, or one that goes on, leaves alone what is as it was.

It must not stand in a check's way: what cannot be trusted is "not known", and the card is checked again.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from mediacheck import __version__
from mediacheck.cache import canonical
from mediacheck.card.model import Card, Entry
from mediacheck.deliver import Places
from mediacheck.display_files import DisplayFace
from mediacheck.errors import WrongUse
from mediacheck.many.naming import identity, plain
from mediacheck.measure.model import MEASUREMENTS_VERSION
from mediacheck.names import Depth
from mediacheck.output import write_atomically
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import Report
from mediacheck.report.record import from_record

SCHEMA_NAME = "mediacheck/cards-kept/1"
NOTES_MAX_BYTES = 64 * 1024 * 1024
DIGEST = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Note:
    """Of one card: the name of its files, and what the report followed from."""

    name: str
    key: str | None
    """None: the report is not to be kept, but its name is taken."""
    report_sha256: str


@dataclass(slots=True)
class Notes:
    """Notes by `identity` of the card, in one file that is whole at any moment."""

    path: Path
    by_card: dict[str, Note] = field(default_factory=dict)

    @property
    def names(self) -> dict[str, str]:
        """The name of each card of an earlier run."""
        return {card: note.name for card, note in self.by_card.items()}

    def add(self, card: Path, note: Note) -> None:
        """Write it down. OutputError."""
        self.by_card[identity(card)] = note
        cards = {
            source: {"name": each.name, "key": each.key, "report_sha256": each.report_sha256}
            for source, each in self.by_card.items()
        }
        write_atomically(self.path, canonical({"schema": SCHEMA_NAME, "cards": cards}) + b"\n")

    def report(self, card: Path, key: str | None, places: Places) -> Report | None:
        """The report of an earlier run that followed from this key; None: the card is to be checked."""
        note = self.by_card.get(identity(card))
        if key is None or note is None or note.key != key or not places.json or not places.html:
            return None
        with suppress(OSError, ValueError, WrongUse):
            content = places.json.read_bytes()
            if _sha256(content) == note.report_sha256 and places.html.is_file():
                return from_record(json.loads(content))
        return None


def read_notes(path: Path) -> Notes:
    """The notes of earlier runs; none where the file is missing or is not ours."""
    with suppress(OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        if path.is_file() and path.stat().st_size <= NOTES_MAX_BYTES:
            record = json.loads(path.read_bytes())
            if record["schema"] == SCHEMA_NAME:
                return Notes(path, {card: _note(each) for card, each in record["cards"].items()})
    return Notes(path)


def _note(record: Mapping[str, Any]) -> Note:
    note = Note(record["name"], record["key"], record["report_sha256"])
    if plain(note.name) != note.name or not (note.key is None or DIGEST.fullmatch(note.key)):
        raise ValueError("not a note of ours")  # its name becomes a path
    return note


def note_of(name: str, key: str | None, places: Places) -> Note | None:
    """The note of a report that was just written; None where it cannot be read back."""
    with suppress(OSError):
        if places.json is not None:
            return Note(name, key, _sha256(places.json.read_bytes()))
    return None


def basis_of(loaded: LoadedProfile, display: DisplayFace | None, depth: Depth, ffmpeg: str | None) -> str:
    """What all reports of a run follow from, beside their cards; `ffmpeg` is its version, if it decodes."""
    files = [_content(path) for path in display.display.files] if display else []
    face = display.face.name if display else None
    basis = [__version__, MEASUREMENTS_VERSION, loaded.sha256, depth, ffmpeg, face, files]
    return _sha256(canonical(basis))


def key_of(path: Path, card: Card, basis: str) -> str | None:
    """Everything that the report of this card follows from, as far as a listing tells it.

    None: not to be known. In a drive or device there may be another card by now, a copy with the same files.
    """
    if card.kind not in ("folder", "image"):
        return None
    with suppress(OSError, ValueError):
        state = path.stat()
        image = [state.st_size, state.st_mtime_ns] if card.kind == "image" else None
        entries = [_listed(entry) for entry in card.entries]
        return _sha256(canonical([basis, identity(path), card.source, image, list(card.folders), entries]))
    return None


def _listed(entry: Entry) -> list[object]:
    location = entry.location
    changed_ns = location.stat().st_mtime_ns if isinstance(location, Path) and not entry.unusable else None
    return [entry.path, entry.size_bytes, changed_ns, entry.unusable, str(entry.modified)]


def _content(path: Path) -> str:
    try:
        return _sha256(path.read_bytes())
    except OSError:
        return "not there"


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def known_names(notes: Notes, cards: Iterable[Path]) -> dict[str, str]:
    """Names that are taken: those of earlier cards whose reports still stand, and of these cards."""
    mine = {identity(card) for card in cards}
    there = notes.path.parent
    return {
        card: name
        for card, name in notes.names.items()
        if card in mine or (there / f"{name}.report.json").is_file()
    }
