"""The summary of many cards as JSON, version 1, and as CSV (RFC 4180).

It must not word anything: both hold what the summary holds, under names that other programs read.
"""

from __future__ import annotations

import csv
import io

from mediacheck.many.model import OUTCOMES, SEVERITIES, Line, Summary
from mediacheck.report.facts_record import JsonObject, number
from mediacheck.report.model import Finding
from mediacheck.report.record import SECONDS_DIGITS, profile_record, record_text, time_text

SCHEMA_NAME = "mediacheck/cards/1"
COLUMNS = (
    "source",
    "verdict",
    *SEVERITIES,
    "could_not_be_checked",
    "items",
    "loop_seconds",
    "worst_rule",
    "worst_path",
    "worst_message",
    "problem",
    "report",
    "checked_at",
)


def as_record(summary: Summary) -> JsonObject:
    """The summary as plain JSON values."""
    totals = summary.totals
    return {
        "schema": SCHEMA_NAME,
        "tool": {"name": "mediacheck", "version": summary.version},
        "checked_at": time_text(summary.checked_at),
        "depth": summary.depth,
        "profile": profile_record(summary.profile),
        "display": summary.display,
        "face": summary.face,
        "totals": {"cards": len(summary.lines), **{str(one): totals[one] for one in OUTCOMES}},
        "cards": [_line_record(line) for line in summary.lines],
        "common": [
            {"rule": one.rule, "severity": one.severity, "cards": one.cards, "findings": one.findings}
            for one in summary.common
        ],
    }


def _line_record(line: Line) -> JsonObject:
    read = line.outcome != "unreadable"
    return {
        "source": line.source,
        "verdict": line.outcome,
        "problem": line.problem,
        "report": f"{line.name}.report.json" if read else None,
        "page": f"{line.name}.report.html" if read else None,
        "checked_at": time_text(line.checked_at) if line.checked_at else None,
        "kept": line.kept,
        "items": line.items if read else None,
        "loop_seconds": number(line.loop_seconds, SECONDS_DIGITS),
        "findings": {severity: line.count(severity) for severity in SEVERITIES} if read else None,
        "could_not_be_checked": line.gaps if read else None,
        "worst": _worst_record(line.worst) if line.worst else None,
    }


def _worst_record(worst: Finding) -> JsonObject:
    return {
        "rule": worst.rule,
        "severity": worst.severity,
        "path": worst.path,
        "message": worst.message,
    }


def json_text(summary: Summary) -> str:
    """The record indented by two, with one line feed at its end."""
    return record_text(as_record(summary))


def csv_text(summary: Summary) -> str:
    """One line a card under the names of the columns, ended by CR LF; an empty field is not known."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\r\n")
    table.writerow(COLUMNS)
    table.writerows(_fields(line) for line in summary.lines)
    return text.getvalue().encode("utf-8", "backslashreplace").decode()


def _fields(line: Line) -> list[object]:
    known = _line_record(line)
    if line.outcome != "unreadable":
        known |= {severity: line.count(severity) for severity in SEVERITIES}
    if line.worst is not None:
        known |= {f"worst_{key}": value for key, value in _worst_record(line.worst).items()}
    return [known.get(column) for column in COLUMNS]
