"""The likely causes as JSON, version 1, for other programs.

It must not decide or word anything: order and states come from `ranking`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from mediacheck import __version__
from mediacheck.profile import Profile
from mediacheck.report.facts_record import JsonObject
from mediacheck.report.model import Report
from mediacheck.report.record import record_text, time_text
from mediacheck.trouble.ranking import RankedCause, Ranking

SCHEMA_NAME = "mediacheck/trouble/1"


def as_record(rankings: Sequence[Ranking], profile: Profile | None, report: Report | None) -> JsonObject:
    """The record as plain JSON values: of the symptoms that were asked for, or of all."""
    checked = {"source": report.source, "checked_at": time_text(report.checked_at)} if report else None
    return {
        "schema": SCHEMA_NAME,
        "tool": {"name": "mediacheck", "version": __version__},
        "profile": profile.id if profile else None,
        "report": checked,
        "symptoms": [_symptom_record(ranking) for ranking in rankings],
    }


def json_text(rankings: Sequence[Ranking], profile: Profile | None, report: Report | None) -> str:
    """The record indented by two, with one line feed at its end."""
    return record_text(as_record(rankings, profile, report))


def _symptom_record(ranking: Ranking) -> JsonObject:
    symptom = ranking.symptom
    return {
        "id": symptom.id,
        "number": symptom.number,
        "title": symptom.title,
        "cautions": list(symptom.cautions),
        "why_this_order": symptom.why_this_order,
        "causes": [_cause_record(known) for known in ranking.causes],
    }


def _cause_record(known: RankedCause) -> JsonObject:
    cause = known.cause
    return {
        "id": cause.id,
        "state": known.state,
        "why": known.why,
        "what": cause.what,
        "tell_apart": cause.tell_apart,
        "do": cause.do,
        "rules": list(cause.rules),
        "findings": [asdict(finding) for finding in known.findings],
        "settings": [{"name": one.name, "value": one.value, "why": one.why} for one in known.settings],
        "points": list(known.points),
        "command": cause.command,
        "source": cause.source,
    }
