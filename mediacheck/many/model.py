"""What a run over many cards found out: one line for each card, and what they have in common.

It must not hold more of a card than its line: the reports hold the rest.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Literal

from mediacheck.names import Depth, RuleName, Severity, VerdictWord
from mediacheck.report.model import Finding, ProfileName, Report

Outcome = VerdictWord | Literal["unreadable"]
OUTCOMES: tuple[Outcome, ...] = ("pass", "warn", "fail", "incomplete", "unreadable")
SEVERITIES: tuple[Severity, ...] = ("fail", "warn", "note")


@dataclass(frozen=True, slots=True)
class Line:
    """One card. Where it is unreadable, `problem` says why, and nothing else is known of it."""

    source: str
    outcome: Outcome
    name: str
    """Of its files in the folder of reports, without their endings."""
    problem: str | None = None
    """One sentence."""
    checked_at: datetime | None = None
    kept: bool = False
    """Whether the report is that of an earlier run: nothing had changed."""
    items: int = 0
    loop_seconds: Fraction | None = None
    rules: tuple[tuple[RuleName, Severity], ...] = ()
    """Of every finding, the worst first."""
    gaps: int = 0
    """Checks that should have been made and could not be."""
    worst: Finding | None = None

    def count(self, severity: Severity) -> int:
        """How many findings of this severity."""
        return sum(each == severity for _, each in self.rules)


@dataclass(frozen=True, slots=True)
class Common:
    """One rule at one severity: on how many cards it was found, and how often."""

    rule: RuleName
    severity: Severity
    cards: int
    findings: int


@dataclass(frozen=True, slots=True)
class Summary:
    """The record of one run over many cards, in the order in which they were named."""

    version: str
    checked_at: datetime
    """UTC, whole seconds: when the last card was through."""
    depth: Depth
    profile: ProfileName
    display: str | None
    face: str | None
    lines: tuple[Line, ...]

    @property
    def totals(self) -> dict[Outcome, int]:
        """How many cards came out how."""
        found = Counter(line.outcome for line in self.lines)
        return {outcome: found[outcome] for outcome in OUTCOMES}

    @property
    def common(self) -> tuple[Common, ...]:
        """Every rule that found something: the one on most cards first, of equals the worst."""
        findings = Counter(pair for line in self.lines for pair in line.rules)
        cards = Counter(pair for line in self.lines for pair in set(line.rules))
        found = [Common(*pair, cards[pair], findings[pair]) for pair in cards]
        return tuple(sorted(found, key=lambda one: (-one.cards, SEVERITIES.index(one.severity), one.rule)))


def line_of(report: Report, name: str, kept: bool) -> Line:
    """The line of a card that was checked."""
    return Line(
        source=report.source,
        outcome=report.verdict,
        name=name,
        checked_at=report.checked_at,
        kept=kept,
        items=len(report.items),
        loop_seconds=report.loop_seconds,
        rules=tuple((finding.rule, finding.severity) for finding in report.findings),
        gaps=sum(not gap.expected for gap in report.not_checked),
        worst=report.findings[0] if report.findings else None,
    )
