"""The record of a comparison: as JSON, version 1.

It must not word anything: it holds what the comparison holds, under names that other programs read.
"""

from __future__ import annotations

from mediacheck.compare.model import Comparison, Difference, Match, NotCompared, Side
from mediacheck.report.facts_record import JsonObject
from mediacheck.report.record import medium_record, profile_record, record_text, time_text

SCHEMA_NAME = "mediacheck/compare/1"
VARIETY_DIGITS = 3


def as_record(comparison: Comparison) -> JsonObject:
    """The record as plain JSON values."""
    profile = comparison.profile
    return {
        "schema": SCHEMA_NAME,
        "tool": {"name": "mediacheck", "version": comparison.version},
        "compared_at": time_text(comparison.compared_at),
        "depth": comparison.depth,
        "profile": profile_record(profile) if profile else None,
        "good": _side_record(comparison.good),
        "bad": _side_record(comparison.bad),
        "differences": [_difference_record(each) for each in comparison.differences],
        "matched": [_match_record(each) for each in comparison.matched],
        "same": list(comparison.same),
        "not_compared": [_gap_record(each) for each in comparison.not_compared],
    }


def json_text(comparison: Comparison) -> str:
    """The record indented by two, with one line feed at its end."""
    return record_text(as_record(comparison))


def _side_record(side: Side) -> JsonObject:
    return {
        **medium_record(side.source, side.kind, side.volume),
        "files": side.files,
        "items": side.items,
        "notes": list(side.notes),
    }


def _difference_record(difference: Difference) -> JsonObject:
    return {
        "subject": difference.subject,
        "severity": difference.severity,
        "rule": difference.rule,
        "good_path": difference.good_path,
        "bad_path": difference.bad_path,
        "good": difference.good,
        "bad": difference.bad,
        "message": difference.message,
        "action": difference.action,
        "matters": difference.matters,
        "variety": round(difference.variety, VARIETY_DIGITS),
    }


def _match_record(match: Match) -> JsonObject:
    return {"good_path": match.good_path, "bad_path": match.bad_path, "how": match.how}


def _gap_record(gap: NotCompared) -> JsonObject:
    return {
        "what": gap.what,
        "reason": gap.reason,
        "expected": gap.expected,
        "good_path": gap.good_path,
        "bad_path": gap.bad_path,
    }
