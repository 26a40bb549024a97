"""The rule about test material: what was left on is named with its times and the cut, and nothing else is."""

from __future__ import annotations

from typing import Any

import pytest

from mediacheck.measure.model import Leader, LeaderKind, Measurements, NotMeasured
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, One, Seen
from tests.rules.judging import answer, reason
from tests.rules.make import one, unreadable_file, video_file
from tests.rules.measuring import CLEAN, alone, showed, sound, spans, strict

RULE = "picture-leader"
UNTOLD = ("the file was decoded, but that did not tell whether test material was left on it", False)


def leader(*parts: tuple[LeaderKind, float, float]) -> tuple[Leader, ...]:
    """The parts of a leader."""
    return tuple(Leader(*part) for part in parts)


def minute(**changes: Any) -> One:
    """A clip of which a minute was decoded."""
    return showed(strict(loop={"frozen_seconds_max": None}), seconds=60.0, **changes)


def cut(asked: One) -> str:
    """What a person is told to do about the one defect."""
    given = answer(RULE, asked)
    assert isinstance(given, tuple)
    (seen,) = given
    return seen.action


def test_a_leader_at_the_head_is_named_with_the_time_to_cut() -> None:
    parts = leader(("colour bars", 0.0, 2.0), ("slate", 2.0, 3.0), ("countdown", 3.0, 4.5))
    assert alone(RULE, showed(leader=parts)) == (
        Seen(
            "colour bars from 0.0 s to 2.0 s, slate from 2.0 s to 3.0 s, countdown from 3.0 s to 4.5 s",
            "no test material",
            "Test material was left on the clip (colour bars from 0.0 s to 2.0 s, a board with the title of "
            "the clip (slate) from 2.0 s to 3.0 s, a countdown from 3.0 s to 4.5 s): the screen shows it to "
            "everybody in every round.",
            "Cut off the first 4.5 s, or ask for the file without its test material.",
        ),
    )


def test_a_tone_alone_is_heard_and_not_seen() -> None:
    assert alone(RULE, showed(sound=sound(tone=spans((0.5, 3.0))))) == (
        Seen(
            "line-up tone from 0.5 s to 3.0 s",
            "no test material",
            "Test material was left on the clip (a steady test tone (line-up tone) from 0.5 s to 3.0 s): "
            "people in front of the display hear it in every round.",
            "Cut off the first 3.0 s, or ask for the file without its test material.",
        ),
    )


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        (leader(("colour bars", 0.0, 10.0)), "Cut off the first 10.0 s, or"),
        (leader(("colour bars", 50.0, 60.0)), "Cut off the last 10.0 s, or"),
        (
            leader(("countdown", 0.0, 8.0), ("colour bars", 57.5, 60.0)),
            "Cut off the first 8.0 s and the last 2.5 s, or",
        ),
        (leader(("colour bars", 1.0, 10.0), ("countdown", 15.0, 23.0)), "Cut off the first 23.0 s, or"),
        (
            leader(("colour bars", 0.0, 10.0), ("countdown", 15.1, 23.0)),
            "Cut off the first 10.0 s and what is from 15.1 s to 23.0 s, or",
        ),
        (leader(("colour bars", 30.0, 40.0)), "Cut off what is from 30.0 s to 40.0 s, or"),
        (leader(("slate", 40.0, 45.0), ("colour bars", 50.0, 58.0)), "Cut off the last 20.0 s, or"),
        (leader(("colour bars", 0.0, 59.8)), "Take this file off the card, and ask for the clip"),
        (
            leader(("colour bars", 0.0, 30.0), ("countdown", 30.0, 60.0)),
            "Take this file off the card, and ask for the clip",
        ),
    ],
)
def test_the_cut_takes_all_test_material_and_leaves_the_clip(parts: tuple[Leader, ...], says: str) -> None:
    assert cut(minute(leader=parts)).startswith(says)


def test_a_leader_in_the_middle_of_a_short_clip_does_not_condemn_the_whole() -> None:
    assert cut(showed(leader=leader(("countdown", 4.0, 6.0)))) == (
        "Cut off the first 6.0 s, or ask for the file without its test material."
    )


@pytest.mark.parametrize(
    ("tone", "named"),
    [
        ((2.0, 12.0), True),
        ((2.1, 12.0), False),
        ((40.0, 58.0), True),
        ((40.0, 57.9), False),
        ((0.0, 60.0), False),
        ((0.2, 59.8), False),
        ((0.3, 60.0), True),
    ],
)
def test_a_tone_counts_near_an_end_and_not_from_start_to_end(tone: tuple[float, float], named: bool) -> None:
    given = answer(RULE, minute(sound=sound(tone=spans(tone))))
    assert (given != PASSED) is named


def test_a_tone_beside_a_leader_in_the_picture_belongs_to_it() -> None:
    bars = leader(("colour bars", 30.0, 40.0))
    near = answer(RULE, minute(leader=bars, sound=sound(tone=spans((31.0, 42.0), (44.0, 46.0)))))
    assert isinstance(near, tuple)
    assert [each.found for each in near] == [
        "colour bars from 30.0 s to 40.0 s, line-up tone from 31.0 s to 42.0 s"
    ]


def test_a_tone_that_is_named_already_is_not_named_again() -> None:
    parts = leader(("line-up tone", 0.0, 3.0))
    seen = alone(RULE, showed(leader=parts, sound=sound(tone=spans((0.1, 3.0)))))
    assert [each.found for each in seen] == ["line-up tone from 0.0 s to 3.0 s"]


@pytest.mark.parametrize(
    "measured", [{"leader": leader(("line-up tone", 0.0, 3.0))}, {"sound": sound(tone=spans((0.0, 3.0)))}]
)
def test_a_tone_that_the_display_does_not_play_bothers_nobody(measured: dict[str, Any]) -> None:
    assert answer(RULE, showed(strict(audio={"use": "none"}), **measured)) == PASSED


def test_a_clean_clip_passes_with_sound_and_without() -> None:
    assert answer(RULE, showed()) == PASSED
    assert answer(RULE, showed(facts={"audio": ()}, sound=None)) == PASSED


def test_a_picture_or_sound_that_brought_no_answer_is_not_passed() -> None:
    assert reason(RULE, showed(leader=None)) == UNTOLD
    assert reason(RULE, showed(sound=None)) == (
        "the file was decoded, but that did not tell anything about its sound",
        False,
    )


def test_a_defect_outweighs_what_was_not_told() -> None:
    bars = leader(("colour bars", 0.0, 5.0))
    assert [each.found for each in alone(RULE, showed(leader=bars))] == ["colour bars from 0.0 s to 5.0 s"]
    assert answer(RULE, showed(leader=bars, sound=None)) == answer(RULE, showed(leader=bars))
    tone = showed(leader=None, sound=sound(tone=spans((0.0, 3.0))))
    assert [each.found for each in alone(RULE, tone)] == ["line-up tone from 0.0 s to 3.0 s"]


def test_what_was_not_looked_at_is_not_passed() -> None:
    quick = ("only the headers were read; the picture is looked at in a full check", True)
    assert reason("picture-leader", one(video_file())) == quick
    stopped = NotMeasured("the decoder was stopped after 60 s", False)
    assert reason(RULE, one(video_file(measurements=stopped))) == (stopped.reason, False)
    assert reason(RULE, one(video_file(measurements=Measurements(0, 0.0))))[1] is False
    assert reason(RULE, one(unreadable_file()))[1] is False
    assert answer(RULE, one(video_file(facts={"video": None}, measurements=CLEAN))) == NOT_APPLICABLE
