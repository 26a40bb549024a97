"""The record: its keys are the contract, and a report survives JSON and back."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction
from io import BytesIO, StringIO, TextIOWrapper
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from mediacheck.card.model import Entry
from mediacheck.errors import WrongUse
from mediacheck.loop import File
from mediacheck.measure.model import Measurements, NotMeasured
from mediacheck.report.facts_record import exact_rate
from mediacheck.report.measurements_record import measurements_record
from mediacheck.report.model import PlayItem, Report, ScreenShape
from mediacheck.report.record import as_record, from_record, write_json
from tests.report.make import BAD_CARD, CLIP, EMPTY_SHA256, GOOD, MEASURED, VIDEO, clip, report
from tests.report.strategies import reports

CONTRACT = [
    "schema",
    "tool",
    "checked_at",
    "depth",
    "profile",
    "display",
    "face",
    "verdict",
    "card",
    "play_order",
    "loop_seconds",
    "files",
    "findings",
    "checks",
    "not_checked",
]


def record(of: Report) -> dict[str, Any]:
    return as_record(of)


def json_text(of: Report) -> str:
    stream = StringIO()
    write_json(of, stream)
    return stream.getvalue()


def test_the_keys_of_version_1_come_first_and_in_their_order() -> None:
    assert list(record(BAD_CARD)) == [*CONTRACT, "items", "order_known", "disk_order", "screen", "notes"]


def test_the_head_of_a_record() -> None:
    made = record(BAD_CARD)
    assert {key: made[key] for key in CONTRACT[:8]} == {
        "schema": "mediacheck/report/1",
        "tool": {"name": "mediacheck", "version": "0.1.0"},
        "checked_at": "2026-01-31T09:30:00Z",
        "depth": "quick",
        "profile": {"id": "basic-1080p", "title": "Basic player, 1080p", "sha256": EMPTY_SHA256},
        "display": "Bee aisle",
        "face": "seed range",
        "verdict": "fail",
    }


def test_a_card_with_a_file_system_and_one_handed_over_as_a_folder() -> None:
    assert record(BAD_CARD)["card"] == {
        "source": "card-watering",
        "kind": "image",
        "file_system": "FAT32",
        "partition_table": "MBR",
        "label": "GARDEN-A",
        "serial": "1234-ABCD",
        "capacity_bytes": 31_900_000_000,
        "cluster_bytes": 32_768,
        "used_bytes": 9_000_000,
        "free_bytes": None,
    }
    folder = record(GOOD)["card"]
    assert {key: value for key, value in folder.items() if value is not None} == {
        "source": "card-watering",
        "kind": "folder",
    }


def test_a_video_with_all_its_facts_and_measurements() -> None:
    assert record(GOOD)["files"][0] == {
        "path": "a.mp4",
        "size_bytes": 6_000_000,
        "sha256": EMPTY_SHA256,
        "kind": "video",
        "facts": {
            "container": "MP4",
            "video": {
                "codec": "H.264",
                "profile": "High",
                "level": "4.1",
                "width": 1920,
                "height": 1080,
                "pixel_aspect": "1:1",
                "rotation": 0,
                "frame_rate": 29.97003,
                "frame_rate_mode": "constant",
                "bit_depth": 8,
                "chroma": "4:2:0",
                "scan": "progressive",
                "bit_rate": 8_000_000,
                "duration": 12,
                "colour_primaries": "bt709",
                "colour_transfer": "bt709",
                "level_needed": "4",
                "level_reason": "the size of its pictures",
                "reference_frames": 4,
            },
            "audio": [
                {
                    "codec": "AAC",
                    "profile": "LC",
                    "sample_rate": 48_000,
                    "channels": 2,
                    "bit_rate": 128_000,
                    "duration": 12,
                }
            ],
            "still": None,
            "duration": 12,
            "index": "first",
            "truncated": None,
            "fragmented": False,
            "encrypted": False,
            "extra_video_streams": 0,
            "other_streams": [],
            "disagreements": [{"fact": "frame rate", "libavformat": "29.97", "libmediainfo": "30"}],
        },
        "measurements": measurements_record(MEASURED),
    }


def test_files_that_are_no_media_or_could_not_be_read() -> None:
    broken, notes = record(BAD_CARD)["files"][3:]
    assert broken["facts"] == {
        "container": None,
        "video": None,
        "audio": [],
        "unreadable": "The file is empty.",
    }
    assert (notes["facts"], notes["measurements"], notes["sha256"]) == ({}, None, None)


@pytest.mark.parametrize("unmeasured", [None, NotMeasured("the quick check does not decode", True)])
def test_what_was_not_measured_is_null_and_never_zero(unmeasured: NotMeasured | None) -> None:
    file = replace(clip("a.mp4"), measurements=unmeasured)
    assert record(report(files=(file,)))["files"][0]["measurements"] is None


def test_all_complaints_of_the_decoder_are_counted_not_only_the_kept_ones() -> None:
    file = replace(clip("a.mp4"), measurements=Measurements(3, 0.1, (), 1234))
    assert record(report(files=(file,)))["files"][0]["measurements"]["decode_errors"] == 1234


def test_order_and_lengths() -> None:
    made = record(report(loop_seconds=Fraction(277, 3)))
    assert (made["play_order"], made["loop_seconds"]) == (["a.mp4", "b.mp4"], 92.333)
    assert record(BAD_CARD)["loop_seconds"] is None
    assert record(BAD_CARD)["items"][:2] == [
        {"path": "a.mp4", "seconds": 12.5, "skipped": False},
        {"path": "b.mp4", "seconds": 80, "skipped": True},
    ]


def test_findings_counts_and_gaps_stand_word_for_word() -> None:
    made = record(BAD_CARD)
    assert made["findings"][0] == {
        "rule": "video-codec",
        "severity": "fail",
        "path": "b.mp4",
        "found": "found by video-codec",
        "wanted": "wanted by video-codec",
        "message": "video-codec shows up on the screen.",
        "action": "Put video-codec right.",
        "fixable": True,
        "source": "the profile",
    }
    assert made["checks"] == {"passed": 60, "failed": 5, "not_applicable": 20, "not_checked": 3}
    assert made["not_checked"][-1] == {
        "rule": "video-codec",
        "path": "broken.mp4",
        "reason": "the file could not be read",
        "expected": False,
    }


@pytest.mark.parametrize(
    "moment",
    [
        datetime(2026, 1, 31, 9, 30, tzinfo=UTC),
        datetime(2026, 1, 31, 10, 30, tzinfo=timezone(timedelta(hours=1))),
        datetime(2026, 1, 31, 9, 30),
    ],
)
def test_the_time_of_the_check_is_in_utc(moment: datetime) -> None:
    assert record(report(checked_at=moment))["checked_at"] == "2026-01-31T09:30:00Z"


def test_values_that_json_cannot_hold_are_null() -> None:
    file = replace(clip("a.mp4"), measurements=Measurements(1, float("nan")))
    assert json.loads(json_text(report(files=(file,))))["files"][0]["measurements"]["seconds"] is None


@pytest.mark.parametrize("path", ["größe/花.mp4", 'a"b\\c.mp4', "\x1b[2J.mp4", "\udc80.mp4", "\u202egpj.exe"])
def test_any_path_can_be_written_as_utf_8_and_read_back(path: str) -> None:
    stream = TextIOWrapper(BytesIO(), encoding="utf-8", newline="\n")
    write_json(report(source=path, items=(PlayItem(path, None, False),)), stream)
    stream.seek(0)
    read = json.loads(stream.read())
    assert (read["card"]["source"], read["play_order"]) == (path, [path])


def test_text_is_written_as_it_is_read_with_an_indent_of_two() -> None:
    lines = json_text(report(source="Gießkannen")).splitlines()
    assert lines[1] == '  "schema": "mediacheck/report/1",'
    assert '    "source": "Gießkannen",' in lines


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=60, deadline=None)
@given(reports)
def test_a_report_survives_json_and_back(any_report: Report) -> None:
    once = record(any_report)
    read = json.loads(json_text(any_report))
    assert read == once
    assert as_record(from_record(read)) == once


def test_reading_gives_back_the_report_itself() -> None:
    """Whatever the record holds comes back as the same value, exact rates included."""
    read = from_record(record(BAD_CARD))
    assert replace(read, files=()) == replace(BAD_CARD, files=())
    facts = replace(CLIP, video=replace(VIDEO, packets=None))
    stored = Entry("a.mp4", 6_000_000, 0, Path("card-watering", "a.mp4"))
    assert read.files[0] == File(stored, "video", facts, MEASURED, EMPTY_SHA256)
    assert [file.facts for file in read.files[2:]] == [file.facts for file in BAD_CARD.files[2:]]


def test_a_record_with_the_keys_of_the_contract_alone_can_be_read() -> None:
    bare = {key: value for key, value in record(BAD_CARD).items() if key in CONTRACT}
    read = from_record(bare)
    assert read.items == tuple(replace(item, seconds=None) for item in BAD_CARD.items)
    assert (read.screen, read.order_known) == (ScreenShape(None, None, 0, 0), False)


@pytest.mark.parametrize(
    ("value", "rate"),
    [
        (23.976024, Fraction(24000, 1001)),
        (29.97003, Fraction(30000, 1001)),
        (59.94006, Fraction(60000, 1001)),
        (25, Fraction(25)),
        (12.345678, Fraction(12345678, 10**6)),
        (None, None),
    ],
)
def test_a_frame_rate_is_read_back_as_the_exact_fraction(value: float | None, rate: Fraction | None) -> None:
    assert exact_rate(value) == rate


@pytest.mark.parametrize(
    "broken",
    [
        {},
        {"schema": "mediacheck/report/2"},
        {"schema": "mediacheck/report/1"},
        {**as_record(GOOD), "findings": None},
        {**as_record(GOOD), "checked_at": "yesterday"},
        {**as_record(GOOD), "checks": {"passed": 1}},
        {**as_record(GOOD), "items": [{"path": "a.mp4", "seconds": "long", "skipped": False}]},
        [],
    ],
)
def test_what_is_no_record_is_refused_in_one_sentence(broken: Any) -> None:
    with pytest.raises(WrongUse, match=r"\.$"):
        from_record(broken)
