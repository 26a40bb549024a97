"""The JSON Schema of the report, held against real records and against the published file."""

from __future__ import annotations

import copy
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]  # it has no types

from mediacheck.report.model import Report
from mediacheck.report.record import as_record
from mediacheck.report.schema import report_schema
from tests.report.make import BAD_CARD, GOOD, crowded
from tests.report.strategies import reports

PUBLISHED = Path(__file__).parents[2] / "docs" / "report.schema.json"
VALIDATOR = Draft202012Validator(report_schema())


def complaints(record: Any) -> list[str]:
    return [error.message for error in VALIDATOR.iter_errors(record)]


def test_the_schema_is_itself_valid() -> None:
    Draft202012Validator.check_schema(report_schema())


@pytest.mark.parametrize("made", [GOOD, BAD_CARD, crowded(30)])
def test_real_records_keep_the_schema(made: Report) -> None:
    assert complaints(as_record(made)) == []


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=40, deadline=None)
@given(reports)
def test_any_report_keeps_the_schema(any_report: Report) -> None:
    assert complaints(as_record(any_report)) == []


Break = Callable[[Any], object]
BREAKS: dict[str, Break] = {
    "another schema": lambda r: r.update(schema="mediacheck/report/2"),
    "an unknown verdict": lambda r: r.update(verdict="ok"),
    "an unknown depth": lambda r: r.update(depth="deep"),
    "an unknown key": lambda r: r.update(score=1),
    "local time": lambda r: r.update(checked_at="2026-01-31T09:30:00+01:00"),
    "a path that is no text": lambda r: r["play_order"].append(None),
    "a length below 0": lambda r: r.update(loop_seconds=-1),
    "an unknown severity": lambda r: r["findings"][0].update(severity="error"),
    "an unknown rule": lambda r: r["findings"][0].update(rule="video-smell"),
    "a finding with no action": lambda r: r["findings"][0].pop("action"),
    "a gap with no reason": lambda r: r["not_checked"][0].pop("reason"),
    "a count below 0": lambda r: r["checks"].update(passed=-1),
    "an unknown kind of card": lambda r: r["card"].update(kind="tape"),
    "an unknown file system": lambda r: r["card"].update(file_system="FAT"),
    "an unknown kind of file": lambda r: r["files"][0].update(kind="film"),
    "a short hash": lambda r: r["files"][0].update(sha256="e3b0"),
    "facts with no sound": lambda r: r["files"][0]["facts"].pop("audio"),
    "a video with no codec": lambda r: r["files"][0]["facts"]["video"].pop("codec"),
    "an aspect that is no ratio": lambda r: r["files"][0]["facts"]["video"].update(pixel_aspect=1),
    "an unknown scan": lambda r: r["files"][0]["facts"]["video"].update(scan="mixed"),
    "zero for what was not measured": lambda r: r["files"][0]["measurements"].update(black=0),
    "a stretch with no end": lambda r: r["files"][0]["measurements"].update(frozen=[[1.5]]),
    "bars on three sides": lambda r: r["files"][0]["measurements"]["bars"].pop("left"),
    "half a flash": lambda r: r["files"][0]["measurements"].update(flashes_per_second_max=2.5),
    "a share above 1": lambda r: r["files"][0]["measurements"]["combed"].update(share=1.5),
    "an unknown leader": lambda r: r["files"][0]["measurements"].update(leader_kinds=["bars"]),
    "measurements with no frames": lambda r: r["files"][0]["measurements"].pop("frames"),
    "facts beside unreadable": lambda r: r["files"][3]["facts"].update(container="MP4"),
    "a screen at an angle": lambda r: r["screen"].update(turned_degrees=45),
}


@pytest.mark.parametrize("name", BREAKS)
def test_a_broken_record_is_rejected(name: str) -> None:
    record = copy.deepcopy(as_record(BAD_CARD))
    BREAKS[name](record)
    assert complaints(record) != []


@pytest.mark.parametrize(
    "key", sorted(set(as_record(GOOD)) - {"items", "order_known", "disk_order", "screen", "notes"})
)
def test_every_key_of_the_contract_is_required(key: str) -> None:
    record = as_record(GOOD)
    del record[key]
    assert complaints(record) == [f"'{key}' is a required property"]


@pytest.mark.parametrize("key", ["items", "order_known", "disk_order", "screen", "notes"])
def test_our_own_additions_may_be_missing(key: str) -> None:
    record = as_record(GOOD)
    del record[key]
    assert complaints(record) == []


def test_the_published_schema_is_the_generated_one() -> None:
    """To renew it: python -m mediacheck.report.schema > docs/report.schema.json."""
    assert json.loads(PUBLISHED.read_text(encoding="utf-8")) == report_schema()


def test_the_module_prints_the_published_file() -> None:
    command = [sys.executable, "-m", "mediacheck.report.schema"]
    printed = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout
    assert printed == PUBLISHED.read_text(encoding="utf-8")
