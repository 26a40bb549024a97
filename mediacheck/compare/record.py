"""The record of a comparison: as JSON, version 1.

It must not word anything: it holds what the comparison holds, under names that other programs read.
"""

from __future__ import annotations

import json
import re

from mediacheck.card.model import Volume
from mediacheck.compare.model import Comparison, Difference, Match, NotCompared, Side
from mediacheck.report.facts_record import JsonObject
from mediacheck.report.record import VOLUME_KEYS

SCHEMA_NAME = "mediacheck/compare/1"
VARIETY_DIGITS = 3


def as_record(comparison: Comparison) -> JsonObject:
    """The record as plain JSON values."""
    profile = comparison.profile
    named = {"id": profile.id, "title": profile.title, "sha256": profile.sha256} if profile else None
    return {
        "schema": SCHEMA_NAME,
        "tool": {"name": "mediacheck", "version": comparison.version},
        "compared_at": comparison.compared_at.replace(tzinfo=None).isoformat(timespec="seconds") + "Z",
        "depth": comparison.depth,
        "profile": named,
        "good": _side_record(comparison.good),
        "bad": _side_record(comparison.bad),
        "differences": [_difference_record(each) for each in comparison.differences],
        "matched": [_match_record(each) for each in comparison.matched],
        "same": list(comparison.same),
        "not_compared": [_gap_record(each) for each in comparison.not_compared],
    }


def json_text(comparison: Comparison) -> str:
    """The record indented by two, with one line feed at its end."""
    text = json.dumps(as_record(comparison), indent=2, ensure_ascii=False, allow_nan=False)
    return _encodable(text) + "\n"


def _encodable(text: str) -> str:
    """Lone surrogates, which a path of the system may hold and UTF-8 cannot, as JSON escapes."""
    return re.sub("[\ud800-\udfff]", lambda lone: f"\\u{ord(lone[0]):04x}", text)


def _side_record(side: Side) -> JsonObject:
    volume = side.volume or Volume()
    return {
        "source": side.source,
        "kind": side.kind,
        **{key: getattr(volume, key) for key in VOLUME_KEYS},
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
