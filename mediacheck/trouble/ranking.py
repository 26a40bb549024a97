"""The causes of a symptom in the order in which to try them, by what is known of player and card.

It must not print. Every cause of the symptom stands in the answer once, whatever is known.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from mediacheck.names import WORST_FIRST
from mediacheck.profile import Profile, Setting
from mediacheck.report.model import Finding, Report
from mediacheck.trouble.book import symptoms
from mediacheck.trouble.evidence import Evidence, State, evidence_of
from mediacheck.trouble.model import Cause, Symptom
from mediacheck.trouble.points import Point, said
from mediacheck.trouble.report_file import profile_of

FOUND_FIRST: tuple[State, ...] = ("found", "unknown", "ruled out")
"""What was not checked is as unknown as what cannot be checked."""


@dataclass(frozen=True, slots=True)
class RankedCause:
    """One cause, with what is known of it here."""

    cause: Cause
    state: State
    why: str
    """What the state rests on, as a sentence; empty where there is no report."""
    findings: tuple[Finding, ...]
    """Of the check of this card, the worst first."""
    settings: tuple[Setting, ...]
    """What the profile says has to be set by hand."""
    points: tuple[str, ...]
    """What else the profile says of it, as sentences."""


@dataclass(frozen=True, slots=True)
class Ranking:
    """All causes of a symptom: found ones first, struck ones last."""

    symptom: Symptom
    causes: tuple[RankedCause, ...]

    def in_state(self, *states: State) -> tuple[RankedCause, ...]:
        """The causes that are in one of these states, in order."""
        return tuple(ranked for ranked in self.causes if ranked.state in states)


def ranked(symptom: Symptom, profile: Profile | None = None, report: Report | None = None) -> Ranking:
    """Order the causes of a symptom.

    First those that the check found, the worst first; then those that it did not check or cannot tell; last
    those that it ruled out. Within them, what the profile points at comes first and what it speaks against
    last; for the rest the order of the symptom stands.

    `profile` must be the one that the check went by, if there is a report; without it, a bundled one is known
    by the report.
    """
    profile, checked_by = _profiles(profile, report)
    causes = [
        _known(cause, profile, evidence_of(cause.rules, report, checked_by)) for cause in symptom.causes
    ]
    return Ranking(symptom, tuple(sorted(causes, key=lambda each: _place(each, profile))))


def found_in(report: Report | None) -> frozenset[str]:
    """The ids of the symptoms for which a report found a cause."""
    rules = {finding.rule for finding in report.findings} if report else set()
    return frozenset(
        symptom.id
        for symptom in symptoms()
        if any(not rules.isdisjoint(cause.rules) for cause in symptom.causes)
    )


def _profiles(given: Profile | None, report: Report | None) -> tuple[Profile | None, Profile | None]:
    """The profile to take words from, and the one that the check went by."""
    if report is None or (given is not None and given.id == report.profile.id):
        return given, given
    loaded = profile_of(report)
    checked_by = loaded.profile if loaded else None
    return given or checked_by, checked_by


def _known(cause: Cause, profile: Profile | None, evidence: Evidence) -> RankedCause:
    points = (*_points(cause), *cause.tells, *cause.unlikelier)
    return RankedCause(
        cause,
        evidence.state,
        evidence.why,
        evidence.findings,
        _settings(cause, profile),
        tuple(sentence for point in points if (sentence := _said(profile, point))),
    )


def _points(cause: Cause) -> tuple[Point, ...]:
    """What makes a cause likelier, besides its settings."""
    return tuple(point for point in cause.likelier if point != "setting")


def _said(profile: Profile | None, point: Point) -> str:
    return said(profile, point) if profile else ""


def _settings(cause: Cause, profile: Profile | None) -> tuple[Setting, ...]:
    """The settings of a profile that belong to a cause: all words of one entry stand in their names."""
    entries = [set(_words(entry)) for entry in cause.settings]
    settings = profile.player.settings if profile else ()
    return tuple(each for each in settings if any(entry <= set(_words(each.name)) for entry in entries))


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", text.casefold())


def _place(known: RankedCause, profile: Profile | None) -> tuple[int, int, int]:
    """What the order goes by; what is equal in all of it stays as it stands in the symptom."""
    state = "unknown" if known.state == "not checked" else known.state
    worst = min((WORST_FIRST.index(finding.severity) for finding in known.findings), default=0)
    named = "setting" in known.cause.likelier and bool(known.settings)
    for_it = named or any(_said(profile, point) for point in _points(known.cause))
    against = any(_said(profile, point) for point in known.cause.unlikelier)
    return FOUND_FIRST.index(state), worst, against - for_it
