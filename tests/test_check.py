"""The main job from card to report: what reaches the report, and that nothing is lost on the way."""

from __future__ import annotations

import os
import time
from concurrent.futures import Executor, ThreadPoolExecutor
from fractions import Fraction
from pathlib import Path

import pytest

from mediacheck.card.within import Within
from mediacheck.check import check
from mediacheck.errors import CardError
from mediacheck.inspection import Inspection, Wanted, inspect
from mediacheck.measure.model import Measurements
from mediacheck.media.facts import Unreadable
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import Report
from mediacheck.survey import Options
from mediacheck.workers import FileWorkers
from tests.rules import make

QUICK = Options(depth="quick", jobs=2)
FULL = Options(depth="full", jobs=2)


def loaded(**sections: object) -> LoadedProfile:
    """The hand-made profile, as if read from a file."""
    return LoadedProfile(make.profile(**sections), "by hand", "0" * 64)


def card_of(folder: Path, *names: str) -> Path:
    """A folder with files of different sizes under these names."""
    for number, name in enumerate(names):
        place = folder / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(b"x" * (number + 1))
    return folder


def good_clip(location: Path | Within, path: str, size_bytes: int, wanted: Wanted) -> Inspection:
    """As if every file were a conforming clip."""
    file = make.video_file(path=path)
    measured = Measurements(300, 10.0) if wanted.depth == "full" else None
    return Inspection("video", file.facts, measured, "a" * 64 if wanted.sha256 else None)


def crash_on_two(location: Path | Within, path: str, size_bytes: int, wanted: Wanted) -> Inspection:
    """As if a decoder crashed on one file."""
    if path == "2.mp4":
        os._exit(139)
    return good_clip(location, path, size_bytes, wanted)


def hang_on_two(location: Path | Within, path: str, size_bytes: int, wanted: Wanted) -> Inspection:
    """As if a decoder never came back from one file."""
    if path == "2.mp4":
        time.sleep(600)
    return good_clip(location, path, size_bytes, wanted)


def threads(jobs: int) -> Executor:
    """A pool of another kind: whatever is a `concurrent.futures.Executor` can do the work."""
    return ThreadPoolExecutor(jobs)


def checked(folder: Path, options: Options = QUICK, **sections: object) -> Report:
    """Check with the good clip for every file, in threads."""
    return check(folder, loaded(**sections), options, inspector=good_clip, executor=threads).report


def test_every_file_stands_in_the_report_in_order(tmp_path: Path) -> None:
    report = checked(card_of(tmp_path, "2.mp4", "1.mp4", "3.mp4"))
    assert [file.entry.path for file in report.files] == ["1.mp4", "2.mp4", "3.mp4"]
    assert [item.path for item in report.items] == ["1.mp4", "2.mp4", "3.mp4"]
    assert report.loop_seconds == Fraction(30)
    assert (report.verdict, report.findings) == ("pass", ())


def test_the_report_does_not_depend_on_how_many_work_at_it(tmp_path: Path) -> None:
    folder = card_of(tmp_path, *(f"{number:02}.mp4" for number in range(20)))
    one = check(folder, loaded(), Options("quick", 1), inspector=good_clip, executor=threads).report
    many = check(folder, loaded(), Options("quick", 8), inspector=good_clip, executor=threads).report
    assert (one.files, one.items, one.findings) == (many.files, many.items, many.findings)


@pytest.mark.parametrize(
    ("inspector", "says"), [(crash_on_two, "ended by itself"), (hang_on_two, "went over")]
)
def test_a_file_that_kills_or_stalls_its_reader_costs_one_finding(
    tmp_path: Path, inspector: object, says: str
) -> None:
    def impatient(jobs: int) -> Executor:
        return FileWorkers(jobs, 3.0)

    folder = card_of(tmp_path, "1.mp4", "2.mp4", "3.mp4")
    report = check(folder, loaded(), QUICK, inspector=inspector, executor=impatient).report  # type: ignore[arg-type]
    assert [(f.rule, f.path) for f in report.findings] == [("file-unreadable", "2.mp4")]
    assert "did not end well" in report.findings[0].message
    assert report.verdict == "fail"
    assert [item.skipped for item in report.items] == [False, True, False]


def test_a_crash_that_no_rule_may_call_a_failure_leaves_the_verdict_open(tmp_path: Path) -> None:
    def impatient(jobs: int) -> Executor:
        return FileWorkers(jobs, 5.0)

    folder = card_of(tmp_path, "1.mp4", "2.mp4")
    profile = loaded(rules={"file-unreadable": "off"})
    report = check(folder, profile, QUICK, inspector=crash_on_two, executor=impatient).report
    assert report.verdict == "incomplete"
    assert {gap.path for gap in report.not_checked if not gap.expected} == {"2.mp4", None}


def test_at_quick_depth_only_files_of_equal_size_are_hashed(tmp_path: Path) -> None:
    folder = card_of(tmp_path, "1.mp4", "2.mp4")
    (folder / "3.mp4").write_bytes(b"yy")
    hashes = {file.entry.path: file.sha256 for file in checked(folder).files}
    assert hashes == {"1.mp4": None, "2.mp4": "a" * 64, "3.mp4": "a" * 64}
    assert all(file.sha256 for file in checked(folder, FULL).files)


def test_an_empty_card_is_a_report_and_not_an_error(tmp_path: Path) -> None:
    report = checked(tmp_path)
    assert [(f.rule, f.severity) for f in report.findings if f.severity == "fail"] == [("loop-count", "fail")]
    assert report.verdict == "fail"


def test_a_folder_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(CardError, match="there is nothing at"):
        checked(tmp_path / "gone")


def test_counts_balance_with_what_was_asked(tmp_path: Path) -> None:
    report = checked(card_of(tmp_path, "1.mp4", "2.mp4", "notes.txt"), FULL)
    counts = report.checks
    assert counts.not_checked == len(report.not_checked)
    assert counts.failed == len({(f.rule, f.path) for f in report.findings})
    assert min(counts.passed, counts.not_applicable) > 0


def test_nothing_decoded_is_never_a_pass(tmp_path: Path) -> None:
    def nothing_seen(location: Path | Within, path: str, size_bytes: int, wanted: Wanted) -> Inspection:
        found = good_clip(location, path, size_bytes, wanted)
        return Inspection("video", found.facts, Measurements(0, 0.0), found.sha256)

    folder = card_of(tmp_path, "1.mp4")
    report = check(folder, loaded(), FULL, inspector=nothing_seen, executor=threads).report
    assert [f.rule for f in report.findings if f.severity == "fail"] == ["picture-damaged"]


def test_ten_thousand_files_in_one_folder(tmp_path: Path) -> None:
    for number in range(10_000):
        (tmp_path / f"note{number:05}.txt").write_bytes(b"")
    report = check(tmp_path, loaded(), QUICK).report
    assert len(report.files) == 10_000
    assert {file.kind for file in report.files} == {"other"}
    assert "loop-count" in {finding.rule for finding in report.findings}


def test_a_link_that_leads_outside_is_not_followed(tmp_path: Path) -> None:
    outside = tmp_path / "outside.mp4"
    outside.write_bytes(b"secret")
    card = card_of(tmp_path / "card", "1.mp4")
    (card / "2.mp4").symlink_to(outside)
    report = checked(card)
    facts = {file.entry.path: file.facts for file in report.files}
    assert isinstance(facts["2.mp4"], Unreadable)
    assert "outside" in facts["2.mp4"].reason
    assert [(f.rule, f.path) for f in report.findings if f.severity == "fail"] == [
        ("file-unreadable", "2.mp4")
    ]


@pytest.mark.skipif(os.name == "nt", reason="Windows has no names that are not Unicode")
def test_a_name_that_is_not_unicode_is_shown_and_judged(tmp_path: Path) -> None:
    (tmp_path / os.fsdecode(b"caf\xe9.mp4")).write_bytes(b"x")
    report = checked(tmp_path)
    assert report.files[0].entry.path == "caf\\xe9.mp4"
    assert "file-name" in {finding.rule for finding in report.findings}


def test_a_real_file_is_inspected_in_place(tmp_path: Path) -> None:
    (tmp_path / "text.mp4").write_text("abc")
    found = inspect(tmp_path / "text.mp4", "text.mp4", 3, Wanted("full", sha256=True))
    reason = "its name says MP4, but no reader finds pictures in it"
    assert isinstance(found.facts, Unreadable)
    assert (found.kind, found.facts.kind, found.facts.reason) == ("video", "video", reason)
    assert found.measurements is None
    # SHA-256 of "abc": RFC 6234 / FIPS 180-4
    assert found.sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
