"""What holding a card against its manifest found, as JSON and on a terminal."""

from __future__ import annotations

import copy
import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]  # it has no types
from rich.console import Console

from mediacheck.build.verify_model import Changed, LeftBehind, NotRead, NotVerified, Verified
from mediacheck.build.verify_record import as_record, json_text
from mediacheck.build.verify_schema import verify_schema
from mediacheck.build.verify_terminal import PATHS_MAX, print_verified
from tests.report.make import one_line

PUBLISHED = Path(__file__).parents[2] / "docs" / "verify.schema.json"
VALIDATOR = Draft202012Validator(verify_schema())

RIGHT = Verified(
    version="1.2.3",
    verified_at=datetime(2026, 1, 31, 9, 30, tzinfo=UTC),
    source="card.img",
    kind="image",
    manifest="card.manifest.json",
    manifest_sha256="ef" * 32,
    is_another_card=False,
    right=("a.mp4", "b.mp4"),
    missing=(),
    changed=(),
    extra=(),
    not_read=(),
    left_behind=(),
    warnings=(),
    not_verified=(),
    by_files=True,
    image_right=True,
    past_cache=True,
    files_read=2,
    bytes_read=40_000_000,
    seconds=0.5,
)
WRONG = replace(
    RIGHT,
    right=("a.mp4",),
    missing=("b.mp4", "Spring/"),
    changed=(
        Changed("c.mp4", "size", "5 bytes", "7 bytes"),
        Changed("d.mp4", "contents", "ab" * 32, "cd" * 32),
    ),
    extra=("e\u202e4pm.mp4",),
    not_read=(NotRead("f.mp4", "it ends after 5 of 7 bytes"),),
    left_behind=(LeftBehind(".DS_Store", "macOS leaves it"),),
    warnings=("The order is another.",),
    not_verified=(
        NotVerified("the bytes outside the files", "they could not be read", expected=False),
        NotVerified("the order", "a folder does not tell it", expected=True),
    ),
    image_right=None,
    past_cache=False,
)


def printed(verified: Verified, width: int = 200) -> str:
    stream = StringIO()
    print_verified(verified, Console(file=stream, width=width, no_color=True))
    return stream.getvalue()


def complaints(record: Any) -> list[str]:
    return [error.message for error in VALIDATOR.iter_errors(record)]


def test_the_record_is_what_programs_rely_on() -> None:
    assert as_record(WRONG) == {
        "schema": "mediacheck/verify/1",
        "tool": {"name": "mediacheck", "version": "1.2.3"},
        "verified_at": "2026-01-31T09:30:00Z",
        "verdict": "fail",
        "manifest": {"source": "card.manifest.json", "sha256": "ef" * 32},
        "card": {"source": "card.img", "kind": "image"},
        "is_another_card": False,
        "right": ["a.mp4"],
        "missing": ["b.mp4", "Spring/"],
        "changed": [
            {"path": "c.mp4", "what": "size", "found": "5 bytes", "wanted": "7 bytes"},
            {"path": "d.mp4", "what": "contents", "found": "ab" * 32, "wanted": "cd" * 32},
        ],
        "extra": ["e\u202e4pm.mp4"],
        "not_read": [{"path": "f.mp4", "reason": "it ends after 5 of 7 bytes"}],
        "left_behind": [{"path": ".DS_Store", "who": "macOS leaves it"}],
        "warnings": ["The order is another."],
        "not_verified": [
            {"what": "the bytes outside the files", "reason": "they could not be read", "expected": False},
            {"what": "the order", "reason": "a folder does not tell it", "expected": True},
        ],
        "by_files": True,
        "image_right": None,
        "past_cache": False,
        "files_read": 2,
        "bytes_read": 40_000_000,
        "seconds": 0.5,
    }
    assert json.loads(json_text(WRONG)) == as_record(WRONG)


def test_the_schema_is_itself_valid_and_records_keep_it() -> None:
    Draft202012Validator.check_schema(verify_schema())
    assert complaints(json.loads(json_text(RIGHT))) == []
    assert complaints(json.loads(json_text(WRONG))) == []


@pytest.mark.parametrize("key", sorted(as_record(RIGHT)))
def test_every_key_is_required(key: str) -> None:
    record = json.loads(json_text(RIGHT))
    del record[key]
    assert complaints(record) == [f"'{key}' is a required property"]


Break = Callable[[Any], object]
BREAKS: dict[str, Break] = {
    "an unknown key": lambda r: r.update(score=1),
    "an unknown verdict": lambda r: r.update(verdict="ok"),
    "an unknown change": lambda r: r["changed"][0].update(what="time"),
    "a file with no reason": lambda r: r["not_read"][0].pop("reason"),
    "a count below 0": lambda r: r.update(bytes_read=-1),
    "an unknown kind of card": lambda r: r["card"].update(kind="tape"),
}


@pytest.mark.parametrize("name", BREAKS)
def test_a_broken_record_is_rejected(name: str) -> None:
    record = copy.deepcopy(json.loads(json_text(WRONG)))
    BREAKS[name](record)
    assert complaints(record) != []


def test_the_published_schema_is_what_the_module_prints() -> None:
    """To renew it: python -m mediacheck.build.verify_schema > docs/verify.schema.json."""
    command = [sys.executable, "-m", "mediacheck.build.verify_schema"]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout == PUBLISHED.read_text(encoding="utf-8")


def test_a_right_card_is_told_in_three_lines() -> None:
    assert printed(RIGHT) == (
        "RIGHT: both files and every byte of the card are right.\n"
        "\n"
        "Card      card.img\n"
        "Manifest  card.manifest.json\n"
        "Read      2 files, 40.0 MB in 0.5 s, 80.0 MB a second\n"
    )


def test_a_wrong_card_is_told_with_everything_that_is_wrong_and_what_to_do() -> None:
    assert printed(WRONG) == (
        "NOT RIGHT: 2 things are missing, 2 files are changed, 1 thing is extra, 1 file cannot be read; "
        "1 file is right.\n"
        "\n"
        "Card      card.img\n"
        "Manifest  card.manifest.json\n"
        "Read      2 files, 40.0 MB in 0.5 s, 80.0 MB a second\n"
        "\n"
        "What is wrong\n"
        "MISSING  b.mp4\n"
        "MISSING  Spring/\n"
        "  What to do: Copy it to the card again.\n"
        "CHANGED  c.mp4 (it has 5 bytes, and 7 bytes belong there)\n"
        "CHANGED  d.mp4 (it has the right size and other contents)\n"
        "  What to do: Delete it from the card and copy it again from where the card was built.\n"
        "EXTRA  e\\u202e4pm.mp4\n"
        "  What to do: Delete it from the card: the player may show it or stop.\n"
        "NOT READ  f.mp4 (it ends after 5 of 7 bytes)\n"
        "  What to do: Use another card: this one, or its reader, is worn or loose.\n"
        "\n"
        "What to know\n"
        "- The order is another.\n"
        "LEFT BY A COMPUTER  .DS_Store (macOS leaves it)\n"
        "  Most players pass over these; some show or stop at them.\n"
        "\n"
        "What was not checked\n"
        "- NOT SURE  the bytes outside the files: they could not be read\n"
        "- the order: a folder does not tell it\n"
        "- The computer may have told some of it from its memory and not from the card. To be sure, "
        "take the card out, put it in again, and run this again.\n"
    )


GAP = NotVerified("the bytes outside the files", "they could not be read", expected=False)
ANSWERS = {
    "one file": (
        replace(RIGHT, right=("a.mp4",), image_right=None),
        "RIGHT: the only file is right.",
    ),
    "a warning": (
        replace(RIGHT, image_right=False, warnings=("Bytes outside differ.",)),
        "RIGHT: both files are right; 1 warning.",
    ),
    "left by a computer": (
        replace(RIGHT, left_behind=(LeftBehind(".DS_Store", "macOS leaves it"),)),
        "RIGHT: both files and every byte of the card are right; 1 thing left by a computer.",
    ),
    "not all read": (
        replace(RIGHT, image_right=None, not_verified=(GAP,)),
        "NOT SURE: both files are right; 1 thing could not be compared.",
    ),
    "the image alone": (
        replace(RIGHT, right=(), by_files=False),
        "RIGHT: every byte of the card is right.",
    ),
    "another image": (
        replace(RIGHT, right=(), by_files=False, image_right=False),
        "NOT RIGHT: the bytes of this card are not those of the image.",
    ),
    "nothing": (
        replace(RIGHT, right=(), by_files=False, image_right=None, not_verified=(GAP,)),
        "NOT SURE: nothing could be compared.",
    ),
    "all missing": (
        replace(RIGHT, right=(), missing=("a.mp4",), image_right=None),
        "NOT RIGHT: 1 thing is missing; 0 files are right.",
    ),
}


@pytest.mark.parametrize("name", ANSWERS)
def test_the_first_line_is_the_answer(name: str) -> None:
    verified, line = ANSWERS[name]
    assert printed(verified).split("\n")[0] == line


def test_another_image_is_told_with_what_to_do() -> None:
    text = one_line(printed(ANSWERS["another image"][0]))
    assert "What is wrong The bytes of the whole card differ from those of the image." in text
    assert "What to do: Write the image to the card again." in text


def test_the_card_of_another_face_is_not_to_be_emptied() -> None:
    lines = printed(replace(WRONG, right=(), is_another_card=True)).split("\n")
    assert lines[0] == (
        "NOT RIGHT: this is another card, with nothing that is to play by the manifest; 2 things are "
        "missing, 2 files are changed, 1 thing is extra, 1 file cannot be read."
    )
    begin = lines.index("What is wrong")
    assert lines[begin + 1 : begin + 4] == [
        "  It is the card of another face or of another version, or the manifest is that of another card.",
        "  What to do: Compare the card's label with the face, and look for the right card or the right "
        "manifest; until then, delete nothing from this card.",
        "MISSING  b.mp4",
    ]
    assert sum("What to do" in line for line in lines) == 1


def test_a_name_of_a_manifest_steers_no_terminal() -> None:
    assert "\u202e" not in printed(replace(RIGHT, manifest="e\u202e4pm.json"))


def test_many_files_are_cut_short_and_counted() -> None:
    many = replace(WRONG, missing=tuple(f"{number}.mp4" for number in range(PATHS_MAX + 7)))
    lines = printed(many).split("\n")
    assert sum(line.startswith("MISSING") for line in lines) == PATHS_MAX
    assert "  and 7 more" in lines


@pytest.mark.parametrize("width", [20, 40, 80])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    assert max(map(len, printed(WRONG, width).split("\n"))) <= width
