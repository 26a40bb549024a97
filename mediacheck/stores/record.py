"""The summary of many stores as JSON, version 1, and as a table (CSV, RFC 4180).

It must not word anything anew: both hold what the status holds, under names that other programs read.
"""

from __future__ import annotations

import csv
import io
from datetime import date

from mediacheck import __version__
from mediacheck.report.facts_record import JsonObject
from mediacheck.report.record import record_text, time_text
from mediacheck.stores.model import STATES
from mediacheck.stores.status import Change, Common, Row, Status, Trait, Visit

SCHEMA_NAME = "mediacheck/stores/1"
COLUMNS = (
    "store", "name", "region", "place", "display", "face", "profile", "state", "reason", "version",
    "due_version", "seen_at", "age_days", "evidence", "document", "photo_at", "visit_due",
)  # fmt: skip
FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""A cell that begins so is reckoned out by spreadsheets, whoever wrote it."""


def as_record(status: Status) -> JsonObject:
    """The summary as plain JSON values."""
    return {
        "schema": SCHEMA_NAME,
        "tool": {"name": "mediacheck", "version": __version__},
        "made_at": time_text(status.made_at),
        "stores": status.stores,
        "totals": {state: status.totals.get(state, 0) for state in STATES},
        "faces": [row_record(row) for row in status.rows],
        "common_findings": [_common(common) for common in status.common],
        "call_today": [_visit(visit) for visit in status.call_today],
        "overdue": [_visit(visit) for visit in status.overdue],
        "since": _day(status.since),
        "changes": [_change(change) for change in status.changes],
    }


def json_text(status: Status) -> str:
    """The record indented by two, with one line feed at its end."""
    return record_text(as_record(status))


def row_record(row: Row) -> JsonObject:
    """One face in one store."""
    evidence = row.evidence
    return {
        "store": row.store.number,
        "name": row.store.name,
        "region": row.store.region,
        "place": row.store.place,
        "display": row.display,
        "face": row.face.name,
        "profile": row.profile,
        "state": row.state.state,
        "reason": row.state.reason,
        "rule": "loop-outdated" if row.state.state == "outdated" else None,
        "version": row.state.version,
        "due_version": row.state.due_version,
        "seen_at": time_text(evidence.said.seen_at) if evidence else None,
        "age_days": row.age_days,
        "evidence": evidence.said.kind if evidence else None,
        "document": evidence.document if evidence else None,
        "photo_at": time_text(row.photo[0]) if row.photo else None,
        "visit_due": _day(row.store.due),
    }


def csv_text(status: Status) -> str:
    """One line for each face, below a line of headings; lines end with CR LF."""
    table = io.StringIO(newline="")
    writer = csv.writer(table, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for row in status.rows:
        record = row_record(row)
        writer.writerow([_cell(record[column]) for column in COLUMNS])
    return table.getvalue()


def _cell(value: object) -> object:
    """Text from outside that would be taken for a formula gets a quote in front."""
    if isinstance(value, str) and value.startswith(FORMULA):
        return f"'{value}"
    return "" if value is None else value


def _common(common: Common) -> JsonObject:
    return {
        "rule": common.rule,
        "severity": common.severity,
        "faces": common.faces,
        "message": common.message,
        "traits": [_trait(trait) for trait in common.traits],
    }


def _trait(trait: Trait) -> JsonObject:
    return {
        "name": trait.name,
        "value": trait.value,
        "count": trait.count,
        "of": trait.of,
        "others": trait.others,
        "of_others": trait.of_others,
    }


def _visit(visit: Visit) -> JsonObject:
    not_right = sum(row.state.state != "right" for row in visit.faces)
    return {
        "store": visit.store.number,
        "name": visit.store.name,
        "day": visit.day.isoformat(),
        "faces": len(visit.faces),
        "not_right": not_right,
    }


def _change(change: Change) -> JsonObject:
    row = change.row
    return {
        "store": row.store.number,
        "display": row.display,
        "face": row.face.name,
        "before": change.before.state,
        "after": row.state.state,
        "reason": row.state.reason,
    }


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None
