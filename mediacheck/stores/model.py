"""What the ledger of many stores knows: what is planned, what was heard, and what follows for a face.

It must not know where any of it is kept or how it is told.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

from mediacheck.face_names import folded
from mediacheck.names import Severity, VerdictWord

State = Literal["right", "wrong", "outdated", "will-not-play", "not-sure", "not-heard-of"]
STATES: tuple[State, ...] = ("will-not-play", "wrong", "outdated", "not-sure", "not-heard-of", "right")
"""The worst first."""
Kind = Literal["check", "fix", "manifest", "identification", "photo", "sheet"]
TELLING: tuple[Kind, ...] = ("check", "identification")
"""What tells the state of a face; the others say what was prepared, or show it to a person."""
Answer = Literal["match", "one of", "other version", "none", "retake", "not recognised"]
"""Of an identification; the last one of a photo alone, which shows none of the loops or another version for
all that can be told."""


@dataclass(frozen=True, slots=True)
class Store:
    """One store. `due`: when somebody is to be there."""

    number: str
    name: str = ""
    region: str = ""
    place: str = ""
    time_zone: str = "UTC"
    due: date | None = None
    displays: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlannedLoop:
    """A version of a face's loop; see `rollout.DueLoop`."""

    version: str
    starts: date | None = None
    confirm_by: date | None = None
    content: str | None = None
    """By which its files are known, whatever their names (`loop_content.content_key`)."""
    picture: str | None = None
    """Key of its picture in the ledger."""


@dataclass(frozen=True, slots=True)
class PlannedFace:
    """One side of a display, with its loops in no certain order."""

    name: str
    profile: str = ""
    loops: tuple[PlannedLoop, ...] = ()

    @property
    def key(self) -> str:
        """Its name, as names are compared."""
        return folded(self.name)


@dataclass(frozen=True, slots=True)
class PlannedDisplay:
    """A display as it stands in many stores."""

    id: str
    title: str = ""
    faces: tuple[PlannedFace, ...] = ()

    def face(self, name: str) -> PlannedFace | None:
        """The face of this name, whatever its capitals."""
        return next((face for face in self.faces if face.key == folded(name)), None)


@dataclass(frozen=True, slots=True)
class Plan:
    """Displays and stores of one or more rollouts, with the pictures of their loops (JPEG) by key."""

    displays: tuple[PlannedDisplay, ...] = ()
    stores: tuple[Store, ...] = ()
    pictures: dict[str, bytes] = field(default_factory=dict)

    def display(self, id_: str) -> PlannedDisplay | None:
        """The display of this name."""
        return next((display for display in self.displays if display.id == id_), None)

    def face_names(self, number: str) -> tuple[str, ...]:
        """Of the faces in the store of this number, each name once."""
        there = {id_ for store in self.stores if store.number == number for id_ in store.displays}
        displays = (display for display in self.displays if display.id in there)
        return tuple(dict.fromkeys(face.name for display in displays for face in display.faces))


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """One face in one store. `face` is its name as names are compared."""

    store: str
    display: str
    face: str


@dataclass(frozen=True, slots=True)
class Noted:
    """One finding of a report, as far as the ledger keeps it."""

    rule: str
    """Rules that this program does not know yet are kept too."""
    severity: Severity
    message: str


@dataclass(frozen=True, slots=True)
class Said:
    """What one document says. None and empty: it does not say."""

    kind: Kind
    seen_at: datetime
    """UTC, whole seconds."""
    display: str | None = None
    face: str | None = None
    verdict: VerdictWord | None = None
    content: str | None = None
    """Of what was on the card."""
    held: bool = False
    """Whether the check held the card against what belongs on the face, by the display file of its time."""
    answer: Answer | None = None
    shows_display: str | None = None
    shows_face: str | None = None
    version: str | None = None
    """Which loop was recognised: its display, its face, and its version there."""
    profile: str = ""
    card_label: str = ""
    file_system: str = ""
    findings: tuple[Noted, ...] = ()
    """The worst first."""
    picture: bytes | None = None
    """A small JPEG of a photo."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a document says of one face in one store. `document` is its SHA-256."""

    place: Place
    document: str
    said: Said


@dataclass(frozen=True, slots=True)
class Document:
    """A file that was added: its bytes as they are kept, and what it is called."""

    sha256: str
    """Of the bytes as they came: the same file is taken once."""
    kind: Kind
    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class FaceState:
    """What is known of one face in one store, and why."""

    state: State
    reason: str
    """One sentence."""
    version: str | None = None
    """Of the loop that was seen last, where that is known."""
    due_version: str | None = None
    """Of the loop that belongs there now."""
