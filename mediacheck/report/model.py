"""The report: one model from which JSON, terminal and HTML are drawn.

It must not decide anything; it holds what `check` found out.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from mediacheck.card.model import Volume
from mediacheck.loop import File
from mediacheck.names import CardKind, Depth, RuleName, Severity, VerdictWord


@dataclass(frozen=True, slots=True)
class Finding:
    """One defect, said by one rule. `path` is None where it is about the card or the loop."""

    rule: RuleName
    severity: Severity
    path: str | None
    found: str
    wanted: str
    message: str
    action: str
    fixable: bool
    source: str


@dataclass(frozen=True, slots=True)
class Unchecked:
    """A rule that applied and was not checked. `expected`: it follows from the depth or the source."""

    rule: RuleName
    path: str | None
    reason: str
    expected: bool


@dataclass(frozen=True, slots=True)
class Counts:
    """Outcomes: one for each enabled rule and each thing that it applies to."""

    passed: int
    failed: int
    not_applicable: int
    not_checked: int


@dataclass(frozen=True, slots=True)
class ProfileName:
    """Which profile was applied; `sha256` is that of its file."""

    id: str
    title: str
    sha256: str


@dataclass(frozen=True, slots=True)
class PlayItem:
    """One item of the loop as it will play. `skipped` when a finding of severity fail stands on it."""

    path: str
    seconds: Fraction | None
    skipped: bool


@dataclass(frozen=True, slots=True)
class ScreenShape:
    """What a sheet needs to know of the screen; see `profile.Screen`."""

    width: int | None
    height: int | None
    overscan_percent: float
    turned_degrees: int


@dataclass(frozen=True, slots=True)
class Report:
    """The record of one check of one card."""

    version: str
    checked_at: datetime
    """UTC, whole seconds."""
    depth: Depth
    profile: ProfileName
    screen: ScreenShape
    verdict: VerdictWord
    source: str
    kind: CardKind
    volume: Volume | None
    order_known: bool
    """Whether the on-disk order could be read; else items stand in name order."""
    disk_order: bool
    """Whether this player goes by on-disk order."""
    files: tuple[File, ...]
    items: tuple[PlayItem, ...]
    loop_seconds: Fraction | None
    findings: tuple[Finding, ...]
    """The worst first."""
    checks: Counts
    not_checked: tuple[Unchecked, ...]
    display: str | None = None
    face: str | None = None
    notes: tuple[str, ...] = ()
    """What a person should know of the card and is no fault, as `Card.notes`."""
