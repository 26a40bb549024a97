"""An identification as JSON, version 1.

It must not word anything: it holds what was found out, under names that other programs read.
"""

from __future__ import annotations

from mediacheck import __version__
from mediacheck.identify.model import Identified, LoopFound
from mediacheck.report.facts_record import JsonObject
from mediacheck.report.record import record_text, time_text

SCHEMA_NAME = "mediacheck/identification/1"


def as_record(found: Identified) -> JsonObject:
    """The record as plain JSON values."""
    return {
        "schema": SCHEMA_NAME,
        "tool": {"name": "mediacheck", "version": __version__},
        "identified_at": time_text(found.identified_at),
        "taken_at": time_text(found.taken_at) if found.taken_at else None,
        "looked_at": found.looked_at,
        "files": list(found.files),
        "answer": found.answer,
        "reason": found.reason,
        "display": found.display,
        "face": found.face,
        "right_face": found.right_face,
        "loops": [_loop(loop) for loop in found.loops],
    }


def json_text(found: Identified) -> str:
    """The record indented by two, with one line feed at its end."""
    return record_text(as_record(found))


def _loop(loop: LoopFound) -> JsonObject:
    return {
        "name": loop.name,
        "display": loop.display,
        "face": loop.face,
        "version": loop.version,
        "from_s": _rounded(loop.from_s),
        "until_s": _rounded(loop.until_s),
        "probability": round(loop.sure, 4),
        "differing": [[_rounded(start), _rounded(end)] for start, end in loop.differing],
    }


def _rounded(second: float | None) -> float | None:
    return None if second is None else round(second, 2)
