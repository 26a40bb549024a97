"""What is to stand in many stores: displays with their faces, the loop of each and its date, and the stores.

It must not open the display files, manifests and pictures that it names: that is for `rollout_files`.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema, model_validator

from mediacheck.display import FACES_MAX, FilePath, Line, Sha256, Words
from mediacheck.face_names import folded
from mediacheck.profile_values import Name, Part, impossible

NUMBER_MAX = 40
"""A longer store number is a sentence in the wrong column (common practice, no source)."""


def _date(value: object) -> object:
    if isinstance(value, date):
        return value
    if not isinstance(value, str) or not re.fullmatch(r"\d{4}-\d\d-\d\d", value.strip()):
        raise ValueError("a date as year-month-day, such as 2026-03-01")
    try:
        return date.fromisoformat(value.strip())
    except ValueError:
        raise ValueError("a date that is in the calendar, such as 2026-03-01") from None


NO_PLACES = ("localtime", "posixrules", "posix", "right")
"""What systems keep beside time zones: another clock on each computer, or one with leap seconds."""


def _time_zone(text: str) -> str:
    try:
        if text.partition("/")[0] in NO_PLACES:
            raise ValueError
        ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError("a time zone by place, such as Europe/London") from None
    return text


def _store_number(text: str) -> str:
    found = text.strip()
    if not found or len(found) > NUMBER_MAX:
        raise ValueError(f"the number of a store, such as 0117, with at most {NUMBER_MAX} characters")
    return found


Day = Annotated[date, BeforeValidator(_date), WithJsonSchema({"type": "string", "format": "date"})]
TimeZone = Annotated[str, AfterValidator(_time_zone)]
StoreNumber = Annotated[Line, AfterValidator(_store_number), Field(json_schema_extra={"minLength": 1})]


class DueLoop(Part):
    """One version of a face's loop, and from when it belongs there."""

    version: Words
    """How people call it; each version once for a face."""
    starts: Day | None = Field(default=None, alias="from")
    """The day from which it belongs there, by the clock of each store; left out: an earlier version, which is
    only to be known when it is seen, or keeps the day that a plan before this one gave it."""
    confirm_by: Day | None = None
    """The last day on which a store may still show the version before; left out: the day before `from`."""
    manifest: FilePath | None = None
    """Path of the manifest that `mediacheck build` wrote, relative to this file: by it the loop is known."""
    sha256: tuple[Sha256, ...] = ()
    """SHA-256 of each of its videos and stills, where there is no manifest."""
    picture: FilePath | None = None
    """A picture of it for the summary: a photo, a still or a video, relative to this file."""

    @model_validator(mode="after")
    def _dates_agree(self) -> DueLoop:
        if self.confirm_by is not None and self.starts is None:
            raise impossible("confirm_by", "a date beside `from`", "none there")
        if self.confirm_by is not None and self.starts is not None and self.confirm_by < self.starts:
            raise impossible("confirm_by", f"no day before {self.starts}", str(self.confirm_by))
        if self.manifest is not None and self.sha256:
            raise impossible("sha256", "either this or a manifest", "both")
        return self


class RolloutFace(Part):
    """One side of a display, and its loops over time."""

    name: Words
    """What people in the store call it, such as aisle side; each name once in a display."""
    profile: Line = ""
    """Name of what its player and screen take, by which the summary can be filtered."""
    loops: tuple[DueLoop, ...] = ()
    """Its loops, each from its date on."""

    @model_validator(mode="after")
    def _each_once(self) -> RolloutFace:
        names = [folded(loop.version) for loop in self.loops]
        days = [loop.starts for loop in self.loops if loop.starts is not None]
        if len(set(names)) < len(names):
            raise impossible("loops", "each version once", "one that stands there twice")
        if len(set(days)) < len(days):
            raise impossible("loops", "one version from each day on", "two from the same day on")
        return self


class RolloutDisplay(Part):
    """A display, as it stands in many stores: by its display file, or with its faces."""

    id: Name = ""
    """Its name, which reports give; with `file`, that of the display file."""
    title: Line = ""
    """What it is, in a few words."""
    file: FilePath | None = None
    """Path of its display file, relative to this one: faces, profiles and present loops come from there."""
    starts: Day | None = Field(default=None, alias="from")
    """With `file`: the day from which its present loops belong on the faces; earlier versions keep the day
    that a plan before this one gave them."""
    confirm_by: Day | None = None
    """With `file`: the last day on which a store may still show the versions before."""
    faces: Annotated[tuple[RolloutFace, ...], Field(max_length=FACES_MAX)] = ()
    """Its faces, where there is no display file."""

    @model_validator(mode="after")
    def _one_way(self) -> RolloutDisplay:
        if self.file is not None and self.faces:
            raise impossible("faces", "either these or a display file", "both")
        if self.file is None and not self.faces:
            raise impossible("faces", "faces, or a display file", "neither")
        if self.file is None and not self.id:
            raise impossible("id", "a name, such as loam-and-lantern", "none")
        if self.file is not None and self.starts is None:
            raise impossible("from", "the day from which its loops belong there", "none")
        if self.file is None and (self.starts or self.confirm_by):
            raise impossible("from", "dates beside each loop", "dates beside the display")
        if self.starts and self.confirm_by and self.confirm_by < self.starts:
            raise impossible("confirm_by", f"no day before {self.starts}", str(self.confirm_by))
        names = [folded(face.name) for face in self.faces]
        if len(set(names)) < len(names):
            raise impossible("faces", "each name once, whatever its capitals", "one that stands there twice")
        return self


class RolloutStore(Part):
    """One store."""

    number: StoreNumber
    """Its number, by which everybody knows it; each number once."""
    name: Line = ""
    """What it is called."""
    region: Line = ""
    """By which the summary can be filtered."""
    place: Line = ""
    """Where the display stands, such as by the tills."""
    time_zone: TimeZone = "UTC"
    """By whose clock the dates hold there, such as Europe/London."""
    due: Day | None = None
    """When somebody is to be there."""
    displays: tuple[Name, ...] = ()
    """Names of the displays that stand there."""


class Rollout(Part):
    """Many stores, each with displays."""

    id: Name = ""
    """Its name. Left out: the file's name."""
    title: Line = ""
    """What it is, in a few words."""
    notes: str = ""
    """What else there is to know."""
    displays: tuple[RolloutDisplay, ...] = ()
    """The displays that are in these stores."""
    stores: tuple[RolloutStore, ...] = ()
    """The stores; those of a table (CSV) come beside these."""
