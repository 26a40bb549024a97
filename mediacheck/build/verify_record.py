"""The record of holding a card against its manifest: as JSON, version 1.

It must not word anything: it holds what was found out, under names that other programs read.
"""

from __future__ import annotations

from dataclasses import asdict

from mediacheck.build.verify_model import Verified
from mediacheck.report.facts_record import JsonObject
from mediacheck.report.record import record_text, time_text

SCHEMA_NAME = "mediacheck/verify/1"
SECONDS_DIGITS = 3


def as_record(verified: Verified) -> JsonObject:
    """The record as plain JSON values."""
    found = asdict(verified)
    return {
        "schema": SCHEMA_NAME,
        "tool": {"name": "mediacheck", "version": found.pop("version")},
        "verified_at": time_text(found.pop("verified_at")),
        "verdict": verified.verdict,
        "manifest": {"source": found.pop("manifest"), "sha256": found.pop("manifest_sha256")},
        "card": {"source": found.pop("source"), "kind": found.pop("kind")},
        **{key: list(value) if isinstance(value, tuple) else value for key, value in found.items()},
        "seconds": round(verified.seconds, SECONDS_DIGITS),
    }


def json_text(verified: Verified) -> str:
    """The record indented by two, with one line feed at its end."""
    return record_text(as_record(verified))
