"""The record and its JSON Schema, held against each other and against the published file."""

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

from mediacheck.compare.record import as_record, json_text
from mediacheck.compare.schema import compare_schema
from mediacheck.profile import Profile
from mediacheck.survey import Surveyed
from tests.compare.make import clip, compared, encoded_again
from tests.compare.test_laws import PROFILES, cards
from tests.rules import make

PUBLISHED = Path(__file__).parents[2] / "docs" / "compare.schema.json"
VALIDATOR = Draft202012Validator(compare_schema())
FOUND = compared([clip(), clip("in/b.mp4")], [encoded_again(video=make.video_facts(codec="VP9"))])
KEYS = (
    *("schema", "tool", "compared_at", "depth", "profile", "good", "bad"),
    *("differences", "matched", "same", "not_compared"),
)


def complaints(record: Any) -> list[str]:
    return [error.message for error in VALIDATOR.iter_errors(record)]


def test_the_schema_is_itself_valid() -> None:
    Draft202012Validator.check_schema(compare_schema())


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=30)
@given(cards(), cards(), PROFILES)
def test_any_comparison_keeps_the_schema(good: Surveyed, bad: Surveyed, profile: Profile | None) -> None:
    found = compared(good, bad, profile)
    record = json.loads(json_text(found))
    assert complaints(record) == []
    assert record == as_record(found)


def test_the_record_holds_all_of_a_difference() -> None:
    record: Any = as_record(FOUND)
    assert (record["schema"], tuple(record)) == ("mediacheck/compare/1", KEYS)
    first = FOUND.differences[0]
    assert first.rule == "folder-missing"
    codec = next(each for each in record["differences"] if each["rule"] == "video-codec")
    assert codec == {
        "subject": "picture",
        "severity": "fail",
        "rule": "video-codec",
        "good_path": "a.mp4",
        "bad_path": "a.mp4",
        "good": "H.264",
        "bad": "VP9",
        "message": "Its picture is packed as VP9 (on the good card: H.264): a player that cannot unpack that "
        "shows black or skips the file.",
        "action": "Encode this file again as the one on the good card is.",
        "matters": None,
        "variety": 0.0,
    }
    assert record["matched"] == [{"good_path": "a.mp4", "bad_path": "a.mp4", "how": "same name"}]


def test_a_name_that_utf_8_cannot_hold_is_escaped() -> None:
    text = json_text(compared([clip("a\udcff.mp4")], []))
    assert "\\udcff" in text.encode("utf-8").decode("utf-8")


Break = Callable[[Any], object]
BREAKS: dict[str, Break] = {
    "another schema": lambda r: r.update(schema="mediacheck/compare/2"),
    "an unknown key": lambda r: r.update(score=1),
    "an unknown depth": lambda r: r.update(depth="deep"),
    "an unknown subject": lambda r: r["differences"][0].update(subject="smell"),
    "an unknown severity": lambda r: r["differences"][0].update(severity="error"),
    "an unknown rule": lambda r: r["differences"][0].update(rule="video-smell"),
    "a difference with no action": lambda r: r["differences"][0].pop("action"),
    "a doubtful matter": lambda r: r["differences"][0].update(matters="maybe"),
    "an unknown way to match": lambda r: r["matched"][0].update(how="by chance"),
    "a gap with no reason": lambda r: r["not_compared"][0].pop("reason"),
    "an unknown kind of card": lambda r: r["good"].update(kind="tape"),
}


@pytest.mark.parametrize("name", BREAKS)
def test_a_broken_record_is_rejected(name: str) -> None:
    record = copy.deepcopy(as_record(FOUND))
    BREAKS[name](record)
    assert complaints(record) != []


@pytest.mark.parametrize("key", KEYS)
def test_every_key_is_required(key: str) -> None:
    record = as_record(FOUND)
    del record[key]
    assert complaints(record) == [f"'{key}' is a required property"]


def test_the_published_schema_is_what_the_module_prints() -> None:
    """To renew it: python -m mediacheck.compare.schema > docs/compare.schema.json."""
    command = [sys.executable, "-m", "mediacheck.compare.schema"]
    printed = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout
    assert printed == PUBLISHED.read_text(encoding="utf-8")
    assert json.loads(printed) == compare_schema()
