"""What stands in a store: a display with its faces, and which loop belongs on each: the model of the YAML.

It must not open the profiles and manifests that it names: that is for `display_files`.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from mediacheck.face_names import folded
from mediacheck.profile_values import CardPath, Name, Part, Some, impossible

FACES_MAX = 16
"""More than any display has: with more, somebody has taken a list of stores for one display (common practice,
no source)."""
LINE_MAX = 120
"""Longer text does not fit on one line of a sheet, a label or a report (common practice, no source)."""

NOT_IN_A_LINE = ("Cc", "Cs", "Zl", "Zp")
"""Control characters, halves of characters, ends of lines and paragraphs (Unicode general categories). The
joiners of Persian and Hindi are none of these."""


def _one_line(text: str) -> str:
    if len(text) > LINE_MAX or any(unicodedata.category(letter) in NOT_IN_A_LINE for letter in text):
        raise ValueError(f"one line of text, with at most {LINE_MAX} characters")
    return text.strip()


def _some_words(text: str) -> str:
    if not text:
        raise ValueError("a name, such as aisle side")
    return text


def _some_path(path: str) -> str:
    if not path.strip():
        raise ValueError("a path, such as loops/aisle.manifest.json")
    return path


def _file_on_card(path: str) -> str:
    if not path.strip("/"):
        raise ValueError("the path of a file on the card, such as 01-seeds.mp4")
    return path.strip("/")


def _sha256(text: str) -> str:
    if not re.fullmatch("[0-9A-Fa-f]{64}", text):
        raise ValueError("a SHA-256, which has 64 digits and letters from a to f")
    return text.lower()


def _path_alone(value: object) -> object:
    """`earlier: [old.manifest.json]` means the same as `earlier: [{manifest: old.manifest.json}]`."""
    return {"manifest": value} if isinstance(value, str) else value


Line = Annotated[str, AfterValidator(_one_line), Field(json_schema_extra={"maxLength": LINE_MAX})]
Words = Annotated[Line, AfterValidator(_some_words), Field(json_schema_extra={"minLength": 1})]
FilePath = Annotated[str, AfterValidator(_some_path), Field(json_schema_extra={"minLength": 1})]
FileOnCard = Annotated[CardPath, AfterValidator(_file_on_card)]
Sha256 = Annotated[str, AfterValidator(_sha256), Field(json_schema_extra={"pattern": "^[0-9A-Fa-f]{64}$"})]


class LoopItem(Part):
    """One video or still that belongs on the card."""

    name: FileOnCard
    """Its path on the card, such as 01-seeds.mp4."""
    title: Line = ""
    """What it shows, in the words of the store."""
    sha256: Sha256 | None = None
    """SHA-256 of the file; without it, the file can be told by its name only."""


class EarlierLoop(Part):
    """A version of the loop that was shown before."""

    version: Line = ""
    """How people call that version; left out: it is called by its manifest."""
    manifest: FilePath
    """Path of its manifest, relative to this file."""

    @property
    def name(self) -> str:
        """What that version is called."""
        return self.version or self.manifest.removesuffix(".manifest.json")


class FaceLoop(Part):
    """The loop that belongs on a face: by its manifest, or by its items where there is none yet."""

    title: Line = ""
    """What the loop is called."""
    version: Line = ""
    """How people call the version that belongs there now."""
    manifest: FilePath | None = None
    """Path of the manifest that `mediacheck build` wrote (.manifest.json), relative to this file."""
    earlier: tuple[
        Annotated[EarlierLoop, BeforeValidator(_path_alone, json_schema_input_type=str | EarlierLoop)], ...
    ] = ()
    """Earlier versions, by which an outdated card is known: each the path of its manifest, or both keys."""
    items: tuple[LoopItem, ...] = ()
    """What is on the card, in play order. Beside a manifest, it gives the files their titles."""
    library: Line = ""
    """Name of the loop in a loop library."""

    @model_validator(mode="after")
    def _each_file_once(self) -> FaceLoop:
        twice = _more_than_one([item.name for item in self.items])
        if twice is not None:
            raise impossible("items", "each file once", f'more than one "{twice}"')
        return self


class Face(Part):
    """One side of the display, with one screen and one player."""

    name: Words
    """What people in the store call it, such as aisle side; each name once in a display."""
    place: Line = ""
    """How to find it, such as towards the tills."""
    profile: FilePath
    """What its player and screen take: a bundled profile's name, or a path relative to this file."""
    card_label: Line = ""
    """What stands on the card for this face."""
    input: Line = ""
    """The input of the screen that the player is plugged into, such as HDMI 1."""
    notes: str = ""
    """What else there is to know about this face."""
    loop: FaceLoop = Field(default_factory=FaceLoop)


class Display(Part):
    """A display in a store, and what belongs on each of its faces."""

    id: Name = ""
    """The display's name: letters, digits, dots, hyphens and underscores. Left out: the file's name."""
    title: Line = ""
    """What it is, in a few words."""
    version: Line = ""
    """How people call this state of the display, such as spring 2026."""
    notes: str = ""
    """What else there is to know about the display."""
    faces: Annotated[tuple[Face, ...], Some, Field(max_length=FACES_MAX)]
    """Its faces, in the order in which they stand."""

    @model_validator(mode="after")
    def _each_name_once(self) -> Display:
        twice = _more_than_one([face.name for face in self.faces])
        if twice is not None:
            raise impossible("faces", "each name once, whatever its capitals", f'more than one "{twice}"')
        return self


def _more_than_one(names: Sequence[str]) -> str | None:
    counts = Counter(map(folded, names))
    return next((name for name in names if counts[folded(name)] > 1), None)
