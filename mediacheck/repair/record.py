"""The record of a repair: as JSON, version 1.

It must not word anything: it holds what was planned, done and proved, under names that other programs read.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

from mediacheck import __version__
from mediacheck.errors import WrongUse
from mediacheck.profile_files import LoadedProfile
from mediacheck.repair.model import Ask, Item, LeftOut, Made, Step, Wishes
from mediacheck.repair.outcome import Fixed, Result
from mediacheck.report.facts_record import JsonObject
from mediacheck.report.model import Report
from mediacheck.report.record import as_record as report_record
from mediacheck.report.record import from_record, profile_record, record_text, time_text

SCHEMA_NAME = "mediacheck/fix-report/1"


def as_record(fixed: Fixed) -> JsonObject:
    """The record as plain JSON values."""
    planned = fixed.planned
    return {
        "schema": SCHEMA_NAME,
        "tool": {"name": "mediacheck", "version": __version__},
        "fixed_at": time_text(fixed.fixed_at),
        "verdict": fixed.verdict,
        "source": planned.before.source,
        "profile": profile_record(planned.before.profile),
        "wishes": _wishes(fixed.wishes),
        "capacity_bytes": planned.plan.capacity_bytes,
        "items": [_result(result) for result in fixed.results],
        "left_out": [_left_out(left) for left in planned.plan.left_out],
        "asks": [_ask(ask) for ask in fixed.asks],
        "notes": list(planned.plan.notes),
        "findings_before": [
            {"rule": finding.rule, "severity": finding.severity, "path": finding.path}
            for finding in planned.before.findings
        ],
        "check": report_record(fixed.after) if fixed.after else None,
    }


def json_text(fixed: Fixed) -> str:
    """The record indented by two, with one line feed at its end."""
    return record_text(as_record(fixed))


def known_check(record: Path, loaded: LoadedProfile, wishes: Wishes) -> Report | None:
    """The check that a record of the same program, profile and wishes tells of; None where there is none."""
    try:
        found = json.loads(record.read_bytes())
        same = found["schema"] == SCHEMA_NAME and found["tool"]["version"] == __version__
        same = same and found["profile"]["sha256"] == loaded.sha256 and found["wishes"] == _wishes(wishes)
        if same and found["check"] is not None:
            return from_record(found["check"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError, WrongUse):
        return None
    return None


def _wishes(wishes: Wishes) -> JsonObject:
    return asdict(wishes)


def _result(result: Result) -> JsonObject:
    item, there = result.item, result.failed is None
    return {
        **_item(item),
        "sha256": result.sha256 if there else None,
        "size_bytes": result.size_bytes if there else None,
        "made": _made(result.made) if result.made else None,
        "failed": asdict(result.failed) if result.failed else None,
    }


def _item(item: Item) -> JsonObject:
    return {
        "source": item.source.entry.path,
        "source_sha256": item.source.sha256,
        "source_bytes": item.source.entry.size_bytes,
        "path": item.path,
        "change": item.change,
        "steps": [_step(step) for step in item.steps],
    }


def _step(step: Step) -> JsonObject:
    return {"change": step.change, "what": step.what, "rules": list(step.rules)}


def _made(made: Made) -> JsonObject:
    return {
        "commands": [list(command) for command in made.commands],
        "same": [asdict(same) for same in made.same],
        "likeness": None
        if made.likeness is None
        else {**asdict(made.likeness), "enough": made.likeness.enough},
        "loudness_lufs": made.loudness_lufs,
        "true_peak_dbtp": made.true_peak_dbtp,
        "notes": list(made.notes),
    }


def _left_out(left: LeftOut) -> JsonObject:
    return {"path": left.path, "why": left.why, "rules": list(left.rules)}


def _ask(ask: Ask) -> JsonObject:
    return {"rule": ask.rule, "path": ask.path, "problem": ask.problem, "ask": ask.ask}
