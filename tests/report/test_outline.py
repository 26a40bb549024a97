"""What all faces say: order, times, grouping and cutting."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from mediacheck.report.model import Report
from mediacheck.report.outline import Gap, Group, Limits, Row, outline_of
from tests.report.make import BAD_CARD, GOOD, crowded, finding, gap, item, report
from tests.report.strategies import reports

LIMITS = Limits(rows=50, groups=50, paths=3)
CLIP_WORDS = "MP4, H.264 High 4.1, 1920 x 1080, 29.97 frames/s, sound AAC"


def test_items_stand_in_order_with_times_that_leave_out_what_fails() -> None:
    outline = outline_of(BAD_CARD, LIMITS)
    assert outline.rows == (
        Row(1, "a.mp4", "0:00", "12.5 s", False, CLIP_WORDS),
        Row(2, "b.mp4", "-", "1 min 20 s", True, CLIP_WORDS),
        Row(3, "c.jpg", "0:12", "not known", False, "JPEG, 1920 x 1080"),
        Row(4, "broken.mp4", "-", "not known", True, "could not be read"),
    )
    assert outline.play_summary == (
        "2 of 4 items, length of a round not known, in this order. "
        "The times leave out what will not play right:"
    )


def test_after_an_item_of_unknown_length_no_start_is_known() -> None:
    rows = outline_of(report(items=(item("a.jpg", None), item("b.mp4"))), LIMITS).rows
    assert [row.starts for row in rows] == ["0:00", "not known"]


def test_starts_add_up_exactly() -> None:
    thirds = tuple(item(f"{number}.mp4", Fraction(1, 3)) for number in range(4))
    assert outline_of(report(items=thirds), LIMITS).rows[3].starts == "0:01"


@pytest.mark.parametrize(
    ("disk_order", "order_known", "items", "words"),
    [
        (True, True, GOOD.items, "in the order in which the files stand on the card, and so does this list"),
        (True, False, GOOD.items, "could not be read from this folder, so this list goes by name"),
        (False, False, GOOD.items, "plays by name"),
        (False, True, GOOD.items, "plays by name"),
    ],
)
def test_it_says_which_order_this_is(
    disk_order: bool, order_known: bool, items: tuple[object, ...], words: str
) -> None:
    made = report(disk_order=disk_order, order_known=order_known, items=items)
    assert words in outline_of(made, LIMITS).order_note


def test_an_empty_loop_and_one_that_fails_whole() -> None:
    empty = outline_of(report(items=()), LIMITS)
    assert (empty.play_summary, empty.order_note, empty.rows) == (
        "Nothing: no item was found where the player looks.",
        "",
        (),
    )
    failing = outline_of(report(items=(item("a.mp4", skipped=True),)), LIMITS)
    assert failing.play_summary == "Nothing that is right. The items stand in this order:"


def test_findings_that_say_the_same_are_one_group_and_the_worst_stand_first() -> None:
    junk = tuple(finding("file-junk", "warn", f"._{number}.mp4") for number in range(5))
    outline = outline_of(report(findings=(*junk, finding(path=None))), LIMITS)
    said = ("shows up on the screen.", "right.", "found by", "wanted by")
    assert outline.groups == (
        Group(
            "fail",
            "FAIL",
            "video-codec",
            ("The card as a whole",),
            0,
            f"video-codec {said[0]}",
            f"Put video-codec {said[1]}",
            f"{said[2]} video-codec",
            f"{said[3]} video-codec",
            "the profile",
            "",
        ),
        Group(
            "warn",
            "WARNING",
            "file-junk",
            ("._0.mp4", "._1.mp4", "._2.mp4"),
            2,
            f"file-junk {said[0]}",
            f"Put file-junk {said[1]}",
            f"{said[2]} file-junk",
            f"{said[3]} file-junk",
            "the profile",
            "",
        ),
    )
    assert outline.findings_summary == "1 failure, 5 warnings; the worst first:"


@pytest.mark.parametrize("field", ["message", "action", "found", "wanted", "source", "rule", "severity"])
def test_findings_that_differ_in_anything_else_than_the_file_stay_apart(field: str) -> None:
    other = {"rule": "file-empty", "severity": "warn"}.get(field, "something else")
    changed: Any = {field: other}
    pair = (finding(), replace(finding(path="a.mp4"), **changed))
    assert len(outline_of(report(findings=pair), LIMITS).groups) == 2


def test_a_thousand_findings_of_one_rule_do_not_hide_the_only_one_of_another() -> None:
    outline = outline_of(crowded(10_000), LIMITS)
    assert [group.rule for group in outline.groups] == ["video-codec"] * 25 + ["loop-length"]
    assert [group.more for group in outline.groups if group.more] == [
        "and 975 more findings of video-codec; the JSON report (option --json) lists them all."
    ]
    assert outline.groups[24].more


def test_a_long_loop_is_cut_and_says_so() -> None:
    outline = outline_of(crowded(10_000), LIMITS)
    assert (len(outline.rows), outline.more_rows) == (
        50,
        "and 9,950 more items (995 of them will not play right); "
        "the JSON report (option --json) lists them all.",
    )


def test_what_was_not_checked_stands_by_reason_the_unexpected_first() -> None:
    assert outline_of(BAD_CARD, LIMITS).gaps == (
        Gap("The file could not be read", False, "1 check", "video-codec", "broken.mp4"),
        Gap("The quick check does not decode videos", True, "2 checks", "picture-damaged", "a.mp4, b.mp4"),
    )


def test_a_reason_that_holds_for_the_card_and_for_files_names_both() -> None:
    gaps = (gap("card-damaged", None, "no time", False), gap("video-codec", "a.mp4", "no time", False))
    assert outline_of(report(not_checked=gaps), LIMITS).gaps == (
        Gap("No time", False, "2 checks", "card-damaged, video-codec", "The card as a whole, a.mp4"),
    )


def test_very_many_reasons_are_cut_and_counted() -> None:
    gaps = tuple(gap("video-codec", "a.mp4", f"reason {number}") for number in range(30))
    outline = outline_of(report(not_checked=gaps), LIMITS)
    assert (len(outline.gaps), outline.more_gaps) == (
        20,
        "and 10 more reasons; the JSON report (option --json) lists them all.",
    )


def test_it_says_that_all_was_checked_only_when_all_was() -> None:
    assert outline_of(GOOD, LIMITS).no_gaps == "Every check that applies was made."
    assert outline_of(BAD_CARD, LIMITS).no_gaps == ""
    hidden = replace(GOOD.checks, not_checked=1)
    assert outline_of(report(checks=hidden), LIMITS).no_gaps == ""


def test_the_counts_of_checks_and_the_word_on_the_profile() -> None:
    outline = outline_of(BAD_CARD, LIMITS)
    assert outline.checks == "60 checks passed, 5 did not pass, 3 not made; 20 do not apply here."
    assert outline.profile_note == (
        "Checked against the profile basic-1080p. "
        "Where the player's data sheet says otherwise, the data sheet decides."
    )


def test_what_was_checked_and_with_what() -> None:
    assert outline_of(BAD_CARD, LIMITS).about == (
        ("Card", "card-watering (card image)"),
        ("File system", "FAT32 in MBR, 31.9 GB, label GARDEN-A"),
        ("Display", "Bee aisle, face seed range"),
        ("Profile", "basic-1080p (Basic player, 1080p)"),
        ("Depth", "quick (what the files say of themselves; videos were not decoded)"),
        ("Checked", "31 January 2026, 09:30 UTC, mediacheck 0.1.0"),
    )
    assert [name for name, _ in outline_of(GOOD, LIMITS).about] == ["Card", "Profile", "Depth", "Checked"]


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=60, deadline=None)
@given(reports)
def test_every_finding_and_every_gap_is_counted_or_shown(any_report: Report) -> None:
    outline = outline_of(any_report, LIMITS)
    shown = sum(len(group.paths) + group.more_paths for group in outline.groups)
    assert shown == len(any_report.findings)
    assert len(outline.gaps) == len({(each.reason, each.expected) for each in any_report.not_checked})
    assert len(outline.rows) == len(any_report.items)
