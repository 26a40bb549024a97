"""The summary as JSON and as CSV, and its schema, held against real records and the published file."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]  # it has no types

from mediacheck.many.model import Line, Summary, line_of
from mediacheck.many.record import COLUMNS, as_record, csv_text, json_text
from mediacheck.many.schema import cards_schema
from mediacheck.report.model import ProfileName, Report
from tests.report.make import BAD_CARD, GOOD
from tests.report.strategies import reports

PUBLISHED = Path(__file__).parents[2] / "docs" / "cards.schema.json"
VALIDATOR = Draft202012Validator(cards_schema())
GONE = Line("store-0119/aisle.img", "unreadable", "aisle", "there is nothing at store-0119/aisle.img")


def summary(*lines: Line, **changes: Any) -> Summary:
    """For the window side of the garden centre."""
    made = Summary(
        "0.1.0",
        datetime(2026, 1, 31, 9, 30, tzinfo=UTC),
        "full",
        ProfileName("portrait-1080p", "Portrait", "0" * 64),
        None,
        None,
        lines,
    )
    return replace(made, **changes)


SUMMARY = summary(
    line_of(GOOD, "good", kept=True),
    line_of(BAD_CARD, "bad", kept=False),
    GONE,
    display="loam-and-lantern",
    face="window side",
)


def complaints(record: Any) -> list[str]:
    return [error.message for error in VALIDATOR.iter_errors(record)]


def test_the_schema_is_itself_valid_and_real_records_keep_it() -> None:
    Draft202012Validator.check_schema(cards_schema())
    for made in (SUMMARY, summary(), summary(GONE)):
        assert complaints(json.loads(json_text(made))) == []


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=30, deadline=None)
@given(st.lists(reports, max_size=3))
def test_any_summary_keeps_the_schema_and_its_numbers_balance(made: list[Report]) -> None:
    record = json.loads(json_text(summary(*(line_of(each, "card", kept=False) for each in made))))
    assert complaints(record) == []
    totals = record["totals"]
    assert sum(count for name, count in totals.items() if name != "cards") == totals["cards"] == len(made)
    found = sum(sum(card["findings"].values()) for card in record["cards"])
    assert found == sum(len(each.findings) for each in made) == sum(c["findings"] for c in record["common"])


@pytest.mark.parametrize("key", sorted(as_record(SUMMARY)))
def test_every_key_is_required(key: str) -> None:
    record = json.loads(json_text(SUMMARY))
    del record[key]
    assert complaints(record) == [f"'{key}' is a required property"]


def test_a_line_holds_what_the_report_holds() -> None:
    card = json.loads(json_text(SUMMARY))["cards"][1]
    worst = BAD_CARD.findings[0]
    assert card["verdict"] == BAD_CARD.verdict
    assert card["report"] == "bad.report.json"
    assert sum(card["findings"].values()) == len(BAD_CARD.findings)
    assert card["worst"] == {
        "rule": worst.rule,
        "severity": worst.severity,
        "path": worst.path,
        "message": worst.message,
    }


def test_of_a_card_that_cannot_be_read_nothing_is_said_but_why() -> None:
    card = json.loads(json_text(SUMMARY))["cards"][2]
    known = {key: value for key, value in card.items() if value is not None and value is not False}
    assert known == {"source": GONE.source, "verdict": "unreadable", "problem": GONE.problem}


def test_the_table_keeps_rfc_4180() -> None:
    """Section 2: lines end in CR LF, as many fields in each, quotes around what holds a comma or a quote."""
    odd = replace(GONE, source='shelf "A", left.img', problem="line\r\nbreak")
    text = csv_text(summary(line_of(BAD_CARD, "bad", kept=False), odd))
    assert text.startswith(",".join(COLUMNS) + "\r\n")
    assert text.endswith("\r\n")
    assert '"shelf ""A"", left.img"' in text
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert [len(row) for row in rows] == [len(COLUMNS)] * 3
    assert dict(zip(COLUMNS, rows[2], strict=True))["problem"] == "line\r\nbreak"
    assert dict(zip(COLUMNS, rows[1], strict=True))["fail"] == str(SUMMARY.lines[1].count("fail"))


def test_a_name_that_is_not_unicode_can_be_written() -> None:
    assert "\\udcff" in csv_text(summary(replace(GONE, source="x\udcff")))
    json_text(summary(replace(GONE, source="x\udcff"))).encode()


def test_the_published_schema_is_what_the_module_prints() -> None:
    """To renew it: python -m mediacheck.many.schema > docs/cards.schema.json."""
    command = [sys.executable, "-m", "mediacheck.many.schema"]
    printed = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout
    assert printed == PUBLISHED.read_text(encoding="utf-8")
    assert json.loads(printed) == cards_schema()
