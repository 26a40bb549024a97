"""The record keeps its schema; page and terminal tell all of it, and are not steered by what files hold."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]  # it has no types
from rich.console import Console

from mediacheck.card.model import Card
from mediacheck.check import judged
from mediacheck.repair.model import Ask, Likeness, Made, NotMade, Same, Wishes
from mediacheck.repair.outcome import Fixed, Planned, Result
from mediacheck.repair.page import as_html
from mediacheck.repair.plan import plan_for
from mediacheck.repair.record import as_record, json_text, known_check
from mediacheck.repair.schema import fix_schema
from mediacheck.repair.told import duration, print_fixed, print_plan
from mediacheck.survey import Surveyed
from tests.repair.bench import loaded
from tests.rules import make

PUBLISHED = Path(__file__).parents[2] / "docs" / "fix-report.schema.json"
EVIL = "<script>alert(1)</script>\x1b[31m.mp4"
MADE = Made(
    "a" * 64,
    1_234_567,
    (("ffmpeg", "-i", "MASTER", "NEW"),),
    (Same("sound", "packets", "b" * 64),),
    Likeness("VMAF", 96.5, 91.25, 90.0, 25, 3),
    -23.1,
    -2.0,
    ("It is short.",),
)


def outcome(name: str = "d.mp4") -> Fixed:
    """Kept, encoded, not made, left out and asked for: one of each."""
    profile = loaded(make.profile())
    films = (
        make.video_file("a.mp4", sha256="1" * 64),
        make.video_file(name, video=make.video_facts(frame_rate=make.TEN_SECONDS * 5), sha256="2" * 64),
        make.video_file("e.mp4", video=make.video_facts(frame_rate=make.TEN_SECONDS * 5), sha256="3" * 64),
        make.unreadable_file("f.mp4"),
        make.junk_file(),
    )
    surveyed = Surveyed(Card("/masters", "folder", tuple(film.entry for film in films)), films, {})
    report = judged(surveyed, profile, "full")
    plan = plan_for(surveyed, report, profile, Wishes())
    by_name = {item.source.entry.path: item for item in plan.items}
    results = (
        Result(by_name["a.mp4"], "1" * 64, 5_000_000),
        Result(by_name[name], MADE.sha256, MADE.size_bytes, MADE),
        Result(by_name["e.mp4"], failed=NotMade("It is too unlike.", "Ask for a better master.")),
    )
    asks = (*plan.asks, Ask("card-full", None, "All files take 40 GB.", "Take a larger card."))
    moment = datetime(2026, 3, 1, 9, 30, tzinfo=UTC)
    return Fixed(Planned(profile, report, plan), Wishes(), Path("ready"), moment, results, report, asks)


def test_the_record_keeps_the_schema_that_is_published() -> None:
    Draft202012Validator.check_schema(fix_schema())
    validator = Draft202012Validator(json.loads(PUBLISHED.read_text("utf-8")))
    for fixed in (outcome(), replace(outcome(), after=None, results=(), asks=())):
        assert [error.message for error in validator.iter_errors(as_record(fixed))] == []
    wrong = as_record(outcome()) | {"verdict": "fine"}
    assert list(validator.iter_errors(wrong)) != []


def test_the_published_schema_is_that_of_the_code() -> None:
    """To renew it: python -m mediacheck.repair.schema > docs/fix-report.schema.json."""
    command = [sys.executable, "-m", "mediacheck.repair.schema"]
    printed = subprocess.run(command, capture_output=True, check=True, text=True, encoding="utf-8").stdout
    assert json.loads(printed) == json.loads(PUBLISHED.read_text("utf-8"))


def test_what_was_made_stands_in_the_record_to_the_digit() -> None:
    items = json.loads(json_text(outcome()))["items"]
    assert [item["sha256"] for item in items] == ["1" * 64, "a" * 64, None]
    assert items[1]["made"]["likeness"] == {
        **{"measure": "VMAF", "value": 96.5, "worst": 91.25, "floor": 90.0, "frames": 25, "every": 3},
        "enough": True,
    }
    assert items[2]["failed"] == {"problem": "It is too unlike.", "ask": "Ask for a better master."}


def test_the_check_of_an_earlier_run_is_believed_only_for_the_same_player(tmp_path: Path) -> None:
    fixed, place = outcome(), tmp_path / "ready.fix-report.json"
    place.write_text(json_text(fixed), "utf-8")
    found = known_check(place, fixed.planned.loaded, Wishes())
    assert found is not None
    assert found.verdict == fixed.after.verdict if fixed.after else False
    assert known_check(place, replace(fixed.planned.loaded, sha256="0" * 64), Wishes()) is None
    assert known_check(place, fixed.planned.loaded, Wishes(prove=False)) is None
    for broken in ("", "{}", "[1]", "[" * 100_000, json.dumps({"schema": "mediacheck/fix-report/1"})):
        place.write_text(broken, "utf-8")
        assert known_check(place, fixed.planned.loaded, Wishes()) is None
    assert known_check(tmp_path / "nothing", fixed.planned.loaded, Wishes()) is None


@pytest.mark.parametrize(
    ("change", "verdict"),
    [
        ({}, "fail"),
        ({"asks": ()}, "fail"),
        ({"after": None, "results": (), "asks": ()}, "fail"),
    ],
)
def test_verdicts(change: dict[str, object], verdict: str) -> None:
    assert replace(outcome(), **change).verdict == verdict  # type: ignore[arg-type]  # any field


def test_a_verdict_is_that_of_the_check_where_nothing_is_missing() -> None:
    fixed = outcome()
    passed = replace(fixed.planned.before, verdict="pass", findings=())
    plan = replace(fixed.planned.plan, left_out=(), asks=())
    whole = replace(
        fixed, planned=replace(fixed.planned, plan=plan), results=fixed.results[:2], after=passed, asks=()
    )
    assert whole.verdict == "pass"
    assert replace(whole, after=replace(passed, verdict="incomplete")).verdict == "incomplete"
    too_much = replace(whole, asks=(Ask("card-full", None, "Too much.", "Take a larger card."),))
    assert too_much.verdict == "fail"


def terminal(fixed: Fixed) -> str:
    console = Console(file=io.StringIO(), width=100, force_terminal=False)
    print_fixed(fixed, console, "ready.fix-report.json", "ready.fix-report.html")
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def test_the_terminal_tells_all_of_it() -> None:
    said = terminal(outcome())
    for words in (
        "NOT ALL FIXED: 2 files",
        "as it is: a.mp4",
        "encoded again: d.mp4",
        "bring it to a frame rate that the player takes (video-frame-rate)",
        "VMAF 96.5 (floor 90.0, worst 91.2, 1 frame in 3)",
        "sound unchanged (packets)",
        "-23.1 LUFS",
        "It is short.",
        "NOT MADE: e.mp4",
        "Ask for a better master.",
        ".DS_Store: a computer left it behind",
        "All files take 40 GB.",
    ):
        assert words in said


def test_a_plan_tells_size_and_time() -> None:
    console = Console(file=io.StringIO(), width=100, force_terminal=False)
    print_plan(outcome().planned, console)
    assert isinstance(console.file, io.StringIO)
    said = console.file.getvalue()
    assert re.search(r"Time +about \d+ (s|min)", said)
    assert re.search(r"Size +about [\d.]+ MB", said)
    assert "encoded again: d.mp4" in said


def test_names_of_files_steer_neither_terminal_nor_page() -> None:
    fixed = outcome(EVIL)
    assert "\x1b" not in terminal(fixed)
    page = as_html(fixed)
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "\x1b" not in page


def test_the_page_stands_alone_and_tells_what_the_terminal_tells() -> None:
    page = as_html(outcome())
    assert "http" not in re.sub(r'http-equiv="[^"]*"', "", page)
    assert not re.search(r"<(script|link|iframe|object)\b", page)
    left = "a computer left it behind"
    for words in ("NOT ALL FIXED", "NOT MADE", "VMAF 96.5", left, "Take a larger card."):
        assert words in page


@pytest.mark.parametrize(
    ("seconds", "said"), [(0.2, "1 s"), (59, "59 s"), (120, "2 min"), (5300, "88 min"), (7200, "2.0 h")]
)
def test_times_as_people_say_them(seconds: float, said: str) -> None:
    assert duration(seconds) == said
