"""The page for an agency as data: what to deliver, and the lines that make it.

It must not know how it is drawn: as text and as HTML it says the same.
"""

from __future__ import annotations

from dataclasses import dataclass

from mediacheck.encoding.model import Reason


@dataclass(frozen=True, slots=True)
class Row:
    """One thing asked for, and what it has to be."""

    name: str
    text: str


@dataclass(frozen=True, slots=True)
class Section:
    """Things asked for that belong together."""

    heading: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Recipe:
    """One ready line. `makes` is what comes out, `notes` what to mind."""

    heading: str
    makes: str
    command: str
    notes: tuple[str, ...]
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class NoRecipe:
    """A kind of item for which no line can be given, and why."""

    heading: str
    reason: str


@dataclass(frozen=True, slots=True)
class Page:
    """The whole page."""

    title: str
    id: str
    sha256: str
    origin: tuple[str, ...]
    sections: tuple[Section, ...]
    recipes: tuple[Recipe, ...]
    without: tuple[NoRecipe, ...]
    using: tuple[str, ...]
    """How to use the lines."""
    unwanted: tuple[str, ...]
    cautions: tuple[str, ...]
