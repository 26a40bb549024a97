"""What two cards differ in: the contract between those who find differences and those who show them.

It must not find anything out, and must not word anything.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from mediacheck.card.model import Volume
from mediacheck.names import CardKind, Depth, RuleName, Severity
from mediacheck.report.model import ProfileName

Subject = Literal[
    "card", "layout", "order", "name", "item", "container", "picture", "sound", "still", "loop"
]  # fmt: skip
"""What a difference is about; the rule, where there is one, says it more closely."""
How = Literal["same bytes", "same picture, encoded again", "same name"]
"""By what a file of the one card was known again on the other."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing in which the bad card is not as the good one. A path of None: not about a file there."""

    subject: Subject
    severity: Severity
    """How much it weighs: `fail` could stop playback, `warn` could change what shows."""
    rule: RuleName | None
    """The rule of the catalogue that is about this thing, if one is."""
    good_path: str | None
    bad_path: str | None
    good: str
    """What is there on the good card."""
    bad: str
    """What is there on the bad card."""
    message: str
    """One sentence: what differs, and what that may do on the screen."""
    action: str
    """One sentence: what to do."""
    matters: bool | None = None
    """Whether the profile's check finds it on the bad card and not on the good one; None: no profile."""
    variety: float = 0.0
    """0 where all other files of both cards agree and only this one differs; up to 2 where they vary anyway
    or share what the bad one has."""


@dataclass(frozen=True, slots=True)
class Match:
    """A file of the good card and the one that stands for it on the bad card."""

    good_path: str
    bad_path: str
    how: How


@dataclass(frozen=True, slots=True)
class NotCompared:
    """What was left out, and why. `expected`: it follows from the depth or from what was handed over."""

    what: str
    reason: str
    expected: bool
    good_path: str | None = None
    bad_path: str | None = None


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two cards, in short."""

    source: str
    kind: CardKind
    volume: Volume | None
    files: int
    items: int
    """How many videos and stills."""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Comparison:
    """The record of one comparison of two cards."""

    version: str
    compared_at: datetime
    """UTC, whole seconds."""
    depth: Depth
    profile: ProfileName | None
    good: Side
    bad: Side
    differences: tuple[Difference, ...]
    """The likeliest to stop playback first."""
    matched: tuple[Match, ...]
    """In the order of the good card."""
    same: tuple[str, ...]
    """What was compared and found alike, in short sentences."""
    not_compared: tuple[NotCompared, ...]
