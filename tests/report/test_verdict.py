"""The verdict line is true in every combination of verdict, items, findings and gaps."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from mediacheck.report.model import Counts, Report
from mediacheck.report.verdict import verdict_line
from tests.report.make import finding, gap, item, report
from tests.report.strategies import reports

A, B, C = item("a.mp4"), item("b.mp4"), item("c.mp4")
BAD_A, BAD_B, BAD_C = (item(path, skipped=True) for path in ("a.mp4", "b.mp4", "c.mp4"))
FAIL_A, FAIL_B, FAIL_C = (finding(path=path) for path in ("a.mp4", "b.mp4", "c.mp4"))
FAIL_CARD = finding("card-file-system", "fail", None)
FAIL_JUNK = finding("file-junk", "fail", "._a.mp4")
WARN = finding("play-order", "warn", None)
NOTE = finding("file-duplicate", "note", "a.mp4")
QUICK = gap("picture-black", "a.mp4", "the quick check does not decode videos")
SLOW_A = gap("picture-damaged", "a.mp4", "it took too long", expected=False)
SLOW_A_TOO = gap("video-codec", "a.mp4", "it took too long", expected=False)
SLOW_B = gap("picture-damaged", "b.mp4", "it took too long", expected=False)
SLOW_CARD = gap("card-damaged", None, "it took too long", expected=False)
NOTHING_DONE = Counts(0, 0, 12, 0)

TABLE: list[tuple[dict[str, Any], str]] = [
    # pass and warn
    ({}, "WILL PLAY: 2 items, 1 min 32 s a round; nothing wrong was found."),
    ({"items": (A,)}, "WILL PLAY: 1 item, 12 s a round; nothing wrong was found."),
    (
        {"items": (A, item("b.jpg", None))},
        "WILL PLAY: 2 items, length of a round not known; nothing wrong was found.",
    ),
    (
        {"not_checked": (QUICK,)},
        "WILL PLAY, as far as was checked: 2 items, 1 min 32 s a round; nothing wrong was found.",
    ),
    ({"findings": (NOTE,)}, "WILL PLAY: 2 items, 1 min 32 s a round; 1 note."),
    (
        {"verdict": "warn", "findings": (WARN, WARN, NOTE)},
        "WILL PLAY: 2 items, 1 min 32 s a round; 2 warnings and 1 note.",
    ),
    # fail
    (
        {"verdict": "fail", "items": (BAD_A, B, BAD_C), "findings": (FAIL_A, FAIL_A, FAIL_C)},
        "WILL NOT PLAY RIGHT: 2 of 3 items will be skipped or shown wrong.",
    ),
    (
        {"verdict": "fail", "items": (BAD_A, BAD_B), "findings": (FAIL_A, FAIL_B)},
        "WILL NOT PLAY RIGHT: both items will be skipped or shown wrong.",
    ),
    (
        {"verdict": "fail", "items": (BAD_A, BAD_B, BAD_C), "findings": (FAIL_A, FAIL_B, FAIL_C)},
        "WILL NOT PLAY RIGHT: all 3 items will be skipped or shown wrong.",
    ),
    (
        {"verdict": "fail", "items": (BAD_A,), "findings": (FAIL_A, WARN)},
        "WILL NOT PLAY RIGHT: the only item will be skipped or shown wrong.",
    ),
    ({"verdict": "fail", "findings": (FAIL_CARD,)}, "WILL NOT PLAY RIGHT: 1 problem with the card."),
    (
        {"verdict": "fail", "findings": (FAIL_CARD, FAIL_JUNK)},
        "WILL NOT PLAY RIGHT: 2 problems with the card.",
    ),
    (
        {"verdict": "fail", "items": (BAD_A, B), "findings": (FAIL_CARD, FAIL_A, FAIL_JUNK)},
        "WILL NOT PLAY RIGHT: 1 of 2 items will be skipped or shown wrong; 2 more problems with the card.",
    ),
    (
        {
            "verdict": "fail",
            "items": (BAD_A, B),
            "findings": (FAIL_A,),
            "not_checked": (SLOW_A, SLOW_CARD, QUICK),
        },
        "WILL NOT PLAY RIGHT: 1 of 2 items will be skipped or shown wrong. 2 checks could not be made.",
    ),
    ({"verdict": "fail"}, "WILL NOT PLAY RIGHT: this card is not as the player needs it."),
    # an empty card
    (
        {"verdict": "fail", "items": (), "findings": (finding("loop-count", "fail", None),)},
        "NOTHING TO PLAY: no item was found where the player looks.",
    ),
    ({"verdict": "pass", "items": ()}, "NOTHING TO PLAY: no item was found where the player looks."),
    (
        {"verdict": "incomplete", "items": (), "not_checked": (SLOW_CARD,)},
        "NOTHING TO PLAY: no item was found where the player looks. 1 check could not be made.",
    ),
    # incomplete
    (
        {"verdict": "incomplete", "not_checked": (SLOW_A, SLOW_A_TOO, QUICK)},
        "NOT SURE: 1 of 2 items could not be checked to the end; "
        "nothing wrong was found in what was checked.",
    ),
    (
        {"verdict": "incomplete", "not_checked": (SLOW_A, SLOW_B), "findings": (WARN,)},
        "NOT SURE: both items could not be checked to the end; 1 warning in what was checked.",
    ),
    (
        {"verdict": "incomplete", "items": (A,), "not_checked": (SLOW_A, SLOW_CARD)},
        "NOT SURE: the only item could not be checked to the end, and 1 check of the rest could not be made; "
        "nothing wrong was found in what was checked.",
    ),
    (
        {"verdict": "incomplete", "not_checked": (SLOW_CARD,)},
        "NOT SURE: 1 check could not be made; nothing wrong was found in what was checked.",
    ),
    (
        {"verdict": "incomplete"},
        "NOT SURE: not everything could be checked; nothing wrong was found in what was checked.",
    ),
    # nothing was looked at, or the parts of a report differ: the worst counts
    ({"checks": NOTHING_DONE}, "NOT SURE: no check was made at all."),
    (
        {"not_checked": (SLOW_CARD,)},
        "NOT SURE: 1 check could not be made; nothing wrong was found in what was checked.",
    ),
    ({"findings": (FAIL_CARD,)}, "WILL NOT PLAY RIGHT: 1 problem with the card."),
    ({"items": (BAD_A, B)}, "WILL NOT PLAY RIGHT: 1 of 2 items will be skipped or shown wrong."),
]


@pytest.mark.parametrize(("changes", "line"), TABLE)
def test_the_line(changes: dict[str, Any], line: str) -> None:
    assert str(verdict_line(report(**changes))) == line


def test_the_tone_goes_with_the_words() -> None:
    tones = [
        verdict_line(report(**changes)).tone
        for changes in (
            {},
            {"verdict": "warn", "findings": (WARN,)},
            {"verdict": "incomplete"},
            {"verdict": "fail"},
            {"items": ()},
        )
    ]
    assert tones == ["pass", "warn", "incomplete", "fail", "fail"]


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=100, deadline=None)
@given(reports)
def test_it_promises_to_play_only_when_nothing_speaks_against_it(any_report: Report) -> None:
    promised = verdict_line(any_report).headline.startswith("WILL PLAY")
    against = (
        any_report.verdict not in ("pass", "warn")
        or not any_report.items
        or any(each.skipped for each in any_report.items)
        or any(each.severity == "fail" for each in any_report.findings)
        or any(not each.expected for each in any_report.not_checked)
        or any_report.checks.passed + any_report.checks.failed == 0
    )
    assert promised is not against
