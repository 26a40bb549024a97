"""The record: a report as JSON, version 1, and back.

It must not word anything: the record holds what the report holds, under names that other programs read.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TextIO

from mediacheck.card.model import Entry, Volume
from mediacheck.errors import WrongUse
from mediacheck.loop import File
from mediacheck.names import CardKind
from mediacheck.report.facts_record import (
    JsonObject,
    exact,
    facts_of,
    facts_record,
    number,
)
from mediacheck.report.measurements_record import measurements_of, measurements_record
from mediacheck.report.model import (
    Counts,
    Finding,
    PlayItem,
    ProfileName,
    Report,
    ScreenShape,
    Unchecked,
)

SCHEMA_NAME = "mediacheck/report/1"
VOLUME_KEYS = (
    "file_system",
    "partition_table",
    "label",
    "serial",
    "capacity_bytes",
    "cluster_bytes",
    "used_bytes",
    "free_bytes",
)
SECONDS_DIGITS = 3


def write_json(report: Report, stream: TextIO) -> None:
    """Write the record, indented by two, with one line feed at its end."""
    stream.write(record_text(as_record(report)))


def record_text(record: JsonObject) -> str:
    """A record of ours as JSON, indented by two, with one line feed at its end."""
    text = json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False)
    return _encodable(text) + "\n"


def _encodable(text: str) -> str:
    """Lone surrogates, which a path of the system may hold and UTF-8 cannot, as JSON escapes."""
    return re.sub("[\ud800-\udfff]", lambda lone: f"\\u{ord(lone[0]):04x}", text)


def as_record(report: Report) -> JsonObject:
    """The record as plain JSON values: the keys of version 1, then what only our own faces need."""
    return {
        "schema": SCHEMA_NAME,
        "tool": {"name": "mediacheck", "version": report.version},
        "checked_at": time_text(report.checked_at),
        "depth": report.depth,
        "profile": profile_record(report.profile),
        "display": report.display,
        "face": report.face,
        "verdict": report.verdict,
        "card": medium_record(report.source, report.kind, report.volume),
        "play_order": [item.path for item in report.items],
        "loop_seconds": number(report.loop_seconds, SECONDS_DIGITS),
        "files": [_file_record(file) for file in report.files],
        "findings": [_finding_record(finding) for finding in report.findings],
        "checks": _counts_record(report.checks),
        "not_checked": [_unchecked_record(gap) for gap in report.not_checked],
        "items": [_item_record(item) for item in report.items],
        "order_known": report.order_known,
        "disk_order": report.disk_order,
        "screen": _screen_record(report.screen),
        "notes": list(report.notes),
    }


def time_text(moment: datetime) -> str:
    """A moment as records have it: in UTC, to the second."""
    utc = moment.astimezone(UTC) if moment.tzinfo else moment
    return utc.replace(tzinfo=None).isoformat(timespec="seconds") + "Z"


def profile_record(profile: ProfileName) -> JsonObject:
    """Which profile a record is about."""
    return {"id": profile.id, "title": profile.title, "sha256": profile.sha256}


def medium_record(source: str, kind: CardKind, volume: Volume | None) -> JsonObject:
    """A card, with null for what was not found out of its file system."""
    known = volume or Volume()
    return {"source": source, "kind": kind, **{key: getattr(known, key) for key in VOLUME_KEYS}}


def _file_record(file: File) -> JsonObject:
    return {
        "path": file.entry.path,
        "size_bytes": file.entry.size_bytes,
        "sha256": file.sha256,
        "kind": file.kind,
        "facts": facts_record(file),
        "measurements": measurements_record(file.measurements),
    }


def _finding_record(finding: Finding) -> JsonObject:
    return {
        "rule": finding.rule,
        "severity": finding.severity,
        "path": finding.path,
        "found": finding.found,
        "wanted": finding.wanted,
        "message": finding.message,
        "action": finding.action,
        "fixable": finding.fixable,
        "source": finding.source,
    }


def _counts_record(checks: Counts) -> JsonObject:
    return {
        "passed": checks.passed,
        "failed": checks.failed,
        "not_applicable": checks.not_applicable,
        "not_checked": checks.not_checked,
    }


def _unchecked_record(gap: Unchecked) -> JsonObject:
    return {"rule": gap.rule, "path": gap.path, "reason": gap.reason, "expected": gap.expected}


def _item_record(item: PlayItem) -> JsonObject:
    return {
        "path": item.path,
        "seconds": number(item.seconds, SECONDS_DIGITS),
        "skipped": item.skipped,
    }


def _screen_record(screen: ScreenShape) -> JsonObject:
    return {
        "width": screen.width,
        "height": screen.height,
        "overscan_percent": number(screen.overscan_percent, 6),
        "turned_degrees": screen.turned_degrees,
    }


def from_record(record: Mapping[str, Any]) -> Report:
    """The report that a record was made from, as far as the record holds it.

    Packets and names that are not Unicode are not in the record.
    Keys outside version 1 may be missing. Raises WrongUse for anything that is no such record.
    """
    if not isinstance(record, Mapping) or record.get("schema") != SCHEMA_NAME:
        raise WrongUse(f"This is no report that `mediacheck check --json` has written ({SCHEMA_NAME}).")
    try:
        return _report_of(record)
    except (KeyError, TypeError, ValueError, AttributeError, ArithmeticError) as error:
        raise WrongUse(f"This report does not hold what {SCHEMA_NAME} says it must ({error!r}).") from error


def _report_of(record: Mapping[str, Any]) -> Report:
    card = record["card"]
    findings = tuple(Finding(**finding) for finding in record["findings"])
    return Report(
        version=record["tool"]["version"],
        checked_at=datetime.fromisoformat(record["checked_at"]),
        depth=record["depth"],
        profile=ProfileName(**record["profile"]),
        screen=ScreenShape(**(record.get("screen") or _NO_SCREEN)),
        verdict=record["verdict"],
        source=card["source"],
        kind=card["kind"],
        volume=_volume_of(card),
        order_known=record.get("order_known", False),
        disk_order=record.get("disk_order", False),
        files=tuple(_file_of(file, place, card["source"]) for place, file in enumerate(record["files"])),
        items=_items_of(record, findings),
        loop_seconds=exact(record["loop_seconds"]),
        findings=findings,
        checks=Counts(**record["checks"]),
        not_checked=tuple(Unchecked(**gap) for gap in record["not_checked"]),
        display=record["display"],
        face=record["face"],
        notes=tuple(record.get("notes", ())),
    )


_NO_SCREEN = {"width": None, "height": None, "overscan_percent": 0, "turned_degrees": 0}


def _volume_of(card: Mapping[str, Any]) -> Volume | None:
    known = {key: card[key] for key in VOLUME_KEYS}
    return None if all(value is None for value in known.values()) else Volume(**known)


def _file_of(record: Mapping[str, Any], place: int, source: str) -> File:
    path = record["path"]
    return File(
        Entry(path, record["size_bytes"], place, Path(source, *path.split("/"))),
        record["kind"],
        facts_of(record["facts"], record["kind"]),
        measurements_of(record["measurements"]),
        record["sha256"],
    )


def _items_of(record: Mapping[str, Any], findings: tuple[Finding, ...]) -> tuple[PlayItem, ...]:
    if "items" in record:
        return tuple(
            PlayItem(item["path"], exact(item["seconds"]), item["skipped"]) for item in record["items"]
        )
    failing = {finding.path for finding in findings if finding.severity == "fail"}
    return tuple(PlayItem(path, None, path in failing) for path in record["play_order"])
