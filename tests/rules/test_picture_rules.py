"""Rules about damage, black and standstill in the picture: each is found, clean pictures pass, nothing unseen
passes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from mediacheck.measure.model import DecodeError, Measurements, NotMeasured, Span
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, One, Seen
from mediacheck.rules.picture import without
from tests.rules.judging import Defect, answer, findings, holds, reason
from tests.rules.make import FRAMES, one, packet_facts, unreadable_file, video_facts, video_file
from tests.rules.measuring import CLEAN, alone, decoded, showed, spans, strict

WHOLE = Measurements(frames=FRAMES, seconds=10.0)


def errors(*seconds: float | None, count: int | None = None) -> Measurements:
    """A decode with a complaint at each of these seconds."""
    kept = tuple(DecodeError("corrupt macroblock", second) for second in seconds)
    return Measurements(FRAMES, 10.0, kept, len(kept) if count is None else count)


DEFECTS = {
    "nothing decodes": (
        decoded(Measurements(frames=0, seconds=0.0)),
        "no frame could be decoded",
        "the screen stays black",
    ),
    "nothing decodes, with complaints": (
        decoded(Measurements(0, 0.0, (DecodeError("no frame"),), 1)),
        "no frame could be decoded",
        "Not one frame",
    ),
    "one error": (decoded(errors(3.04)), "1 decoding error at 3.0 s", "(1 decoding error at 3.0 s)"),
    "errors in order, each place once": (
        decoded(errors(7.5, None, 3.0, 3.01)),
        "4 decoding errors at 3.0 s, 7.5 s",
        "shows blocks, smears or a frozen picture",
    ),
    "errors at unknown places": (decoded(errors(None)), "1 decoding error", "(1 decoding error)"),
    "more errors than were kept": (
        decoded(errors(*(float(second) for second in range(7)), count=1_234)),
        "1,234 decoding errors, the first at 0.0 s, 1.0 s, 2.0 s, 3.0 s, 4.0 s and 2 more",
        "damaged (1,234 decoding errors",
    ),
    "errors counted, none kept": (decoded(errors(count=3)), "3 decoding errors", "damaged"),
}


@pytest.mark.parametrize(("asked", "found", "says"), DEFECTS.values(), ids=DEFECTS.keys())
def test_damage_is_found_by_its_own_rule_and_fails_no_other(asked: One, found: str, says: str) -> None:
    holds(Defect("picture-damaged", asked, found, "every frame decodes", says, fixable=False))


HOARSE = (DecodeError("bad frame", 2.0), DecodeError("bad frame", 7.5))
SOUND_SAYS = (
    "The sound is damaged (2 decoding errors at 2.0 s, 7.5 s): the display crackles or falls silent there."
)


def test_damage_to_the_sound_is_not_taken_for_damage_to_the_picture() -> None:
    asked = showed(sound_errors=HOARSE, sound_error_count=2)
    assert alone("picture-damaged", asked) == (
        Seen(
            "2 decoding errors at 2.0 s, 7.5 s, in the sound",
            "all sound decodes",
            SOUND_SAYS,
            "Copy the file again from its source; if that does not help, encode it again from its master.",
        ),
    )


def test_damage_to_picture_and_sound_is_said_apart() -> None:
    hurt = replace(errors(3.04), sound_errors=HOARSE, sound_error_count=2)
    assert [each.message for each in findings(decoded(hurt))["picture-damaged"]] == [
        "The picture is damaged (1 decoding error at 3.0 s): the screen shows blocks, smears or a frozen "
        "picture.",
        SOUND_SAYS,
    ]


def test_complaints_about_the_sound_neither_explain_a_cut_start_nor_are_explained_by_it() -> None:
    cut = packet_facts(leading=4)
    hoarse = Measurements(FRAMES - 4, 10.0, sound_errors=(DecodeError("no header"),), sound_error_count=1)
    (seen,) = findings(decoded(hoarse, packets=cut))["picture-damaged"]
    assert seen.message.startswith("The sound is damaged (1 decoding error): ")


def test_damage_to_sound_that_the_player_does_not_play_is_left_out() -> None:
    asked = showed(strict(audio={"use": "none"}), sound_errors=HOARSE, sound_error_count=2)
    assert answer("picture-damaged", asked) == PASSED


def test_a_quick_check_expects_not_to_see_the_picture() -> None:
    assert reason("picture-damaged", decoded(None)) == (
        "only the headers were read; the picture is looked at in a full check",
        True,
    )


@pytest.mark.parametrize("expected", [True, False])
def test_a_decode_that_did_not_end_gives_its_own_reason(expected: bool) -> None:
    unmeasured = NotMeasured("the decoder was stopped after 60 s", expected)
    assert reason("picture-damaged", decoded(unmeasured)) == (unmeasured.reason, expected)


def test_a_file_without_a_picture_is_not_judged_and_one_that_is_unreadable_not_checked() -> None:
    silent = one(video_file(facts={"video": None}, measurements=WHOLE))
    assert answer("picture-damaged", silent) == NOT_APPLICABLE
    assert reason("picture-damaged", one(unreadable_file())) == (
        "the file could not be read, so its picture was not checked",
        False,
    )


# picture-black and picture-frozen

LENGTH_RULES = {"picture-black": "black_seconds_max", "picture-frozen": "frozen_seconds_max"}


def test_a_clean_decode_gives_no_finding_of_any_rule() -> None:
    assert findings(showed()) == {}


def test_black_at_the_start_is_said_as_such() -> None:
    assert alone("picture-black", showed(black=spans((0.0, 2.5)))) == (
        Seen(
            "2.5 s of black at its start",
            "up to 2 s",
            "The picture is black for 2.5 s at its start: the screen looks switched off each time that comes "
            "round.",
            "Cut off the black at its start, or ask for a version without it.",
        ),
    )


def test_black_at_the_start_and_at_the_end_are_two_findings() -> None:
    seen = alone("picture-black", showed(black=spans((0.04, 2.5), (7.0, 9.96))))
    assert [(each.found, each.wanted) for each in seen] == [
        ("2.46 s of black at its start", "up to 2 s"),
        ("2.96 s of black at its end", "up to 2 s"),
    ]
    assert "black for 2.96 s at its end: the screen" in seen[1].message
    assert seen[1].action == "Cut off the black at its end, or ask for a version without it."


def test_black_inside_is_one_finding_with_its_places() -> None:
    one_stretch = alone("picture-black", showed(black=spans((4.0, 7.5))))
    assert one_stretch == (
        Seen(
            "3.5 s of black, from 4.0 s to 7.5 s",
            "up to 2 s",
            "The picture is black for 3.5 s (from 4.0 s to 7.5 s): the screen looks switched off there in "
            "every round.",
            "Cut out the black, or ask for a version without it.",
        ),
    )
    two = alone("picture-black", showed(black=spans((1.0, 3.5), (4.0, 4.1), (5.0, 8.0))))
    assert [each.found for each in two] == ["up to 3 s of black, from 1.0 s to 3.5 s, from 5.0 s to 8.0 s"]


def test_a_clip_that_is_black_throughout_is_one_finding() -> None:
    assert alone("picture-black", showed(black=spans((0.0, 10.0)), frozen=spans((0.0, 10.0)))) == (
        Seen(
            "10 s of black from start to end",
            "up to 2 s",
            "The picture is black from start to end (10 s): the screen looks switched off while this item "
            "plays.",
            "Ask for the file again, or take it off the card.",
        ),
    )


def test_a_picture_that_stands_still_is_said_by_its_length() -> None:
    video = video_facts(duration=Fraction(20), packets=packet_facts(600))
    asked = showed(frozen=spans((3.0, 17.0)), frames=600, seconds=20.0, facts={"video": video})
    assert alone("picture-frozen", asked) == (
        Seen(
            "14 s without movement, from 3.0 s to 17.0 s",
            "up to 10 s",
            "The picture stands still for 14 s (from 3.0 s to 17.0 s): to people in front of the screen the "
            "player seems to hang.",
            "Leave it if a still picture is meant to stand that long; otherwise shorten it, or ask for the "
            "file again.",
        ),
    )


@pytest.mark.parametrize(
    ("frozen", "found"),
    [
        (((0.0, 10.0),), "10 s without movement, from start to end"),
        (((1.0, 5.0), (6.0, 9.1)), "up to 4 s without movement, from 1.0 s to 5.0 s, from 6.0 s to 9.1 s"),
    ],
)
def test_all_stretches_without_movement_are_one_finding(
    frozen: tuple[tuple[float, float], ...], found: str
) -> None:
    asked = showed(strict(loop={"frozen_seconds_max": 3}), frozen=spans(*frozen))
    assert [each.found for each in alone("picture-frozen", asked)] == [found]


def test_a_stretch_that_is_black_is_no_standstill() -> None:
    limits = strict(loop={"frozen_seconds_max": 3})
    black = {"black": spans((0.0, 2.0)), "frozen": spans((0.0, 2.0), (2.0, 5.0))}
    assert findings(showed(limits, **black)) == {}
    joined = {"black": spans((0.0, 2.0)), "frozen": spans((0.0, 5.5))}
    assert [each.found for each in alone("picture-frozen", showed(limits, **joined))] == [
        "3.5 s without movement, from 2.0 s to 5.5 s"
    ]
    assert answer("picture-frozen", showed(limits, black=None, frozen=spans((0.0, 3.0)))) == PASSED


@pytest.mark.parametrize(
    ("taken", "left"),
    [
        ((), ((1.0, 9.0),)),
        (((0.0, 1.0), (9.0, 10.0)), ((1.0, 9.0),)),
        (((0.0, 2.0), (4.0, 5.0), (8.0, 10.0)), ((2.0, 4.0), (5.0, 8.0))),
        (((1.0, 9.0),), ()),
        (((0.0, 10.0),), ()),
    ],
)
def test_what_is_left_of_a_stretch(
    taken: tuple[tuple[float, float], ...], left: tuple[tuple[float, float], ...]
) -> None:
    assert without(Span(1.0, 9.0), spans(*taken)) == spans(*left)


@pytest.mark.parametrize(
    ("rule", "measured", "seconds", "passes"),
    [
        ("picture-black", "black", 2.0, True),
        ("picture-black", "black", 2.004, True),
        ("picture-black", "black", 2.01, False),
        ("picture-frozen", "frozen", 2.0, True),
        ("picture-frozen", "frozen", 2.004, True),
        ("picture-frozen", "frozen", 2.01, False),
    ],
)
def test_a_stretch_may_be_as_long_as_the_limit_as_it_is_shown(
    rule: str, measured: str, seconds: float, passes: bool
) -> None:
    limits = strict(loop={"black_seconds_max": 2, "frozen_seconds_max": 2})
    asked = showed(limits, **{measured: spans((5.0, 5.0 + seconds))})
    assert (answer(rule, asked) == PASSED) is passes


@pytest.mark.parametrize("start", [0.25, 0.26])
def test_a_quarter_of_a_second_still_belongs_to_the_start(start: float) -> None:
    seen = alone("picture-black", showed(black=spans((start, start + 3))))
    assert ("at its start" in seen[0].found) is (start == 0.25)


def test_no_black_at_all_may_be_asked_for() -> None:
    asked = showed(strict(loop={"black_seconds_max": 0}), black=spans((5.0, 5.04)))
    assert [(each.found, each.wanted) for each in alone("picture-black", asked)] == [
        ("0.04 s of black, at 5.0 s", "up to 0 s")
    ]


@pytest.mark.parametrize(("rule", "key"), LENGTH_RULES.items())
def test_a_profile_without_the_limit_restricts_nothing(rule: str, key: str) -> None:
    limits = strict(loop={key: None})
    assert answer(rule, showed(limits, black=spans((0.0, 10.0)), frozen=spans((0.0, 10.0)))) == NOT_APPLICABLE


@pytest.mark.parametrize("rule", LENGTH_RULES)
def test_what_was_not_looked_at_is_not_passed(rule: str) -> None:
    quick = ("only the headers were read; the picture is looked at in a full check", True)
    assert reason(rule, one(video_file(), strict())) == quick
    stopped = NotMeasured("the decoder was stopped after 60 s", False)
    assert reason(rule, one(video_file(measurements=stopped), strict())) == (stopped.reason, False)
    assert reason(rule, one(video_file(measurements=Measurements(0, 0.0)), strict())) == (
        "no frame of it could be decoded, so there was nothing to look at",
        False,
    )
    assert reason(rule, one(unreadable_file(), strict())) == (
        "the file could not be read, so its picture was not checked",
        False,
    )
    silent = one(video_file(facts={"video": None}, measurements=CLEAN), strict())
    assert answer(rule, silent) == NOT_APPLICABLE


@pytest.mark.parametrize(
    ("rule", "measured", "what"),
    [
        ("picture-black", "black", "whether its picture is ever black"),
        ("picture-frozen", "frozen", "whether its picture ever stands still"),
    ],
)
def test_a_decode_that_brought_no_answer_is_not_passed(rule: str, measured: str, what: str) -> None:
    assert reason(rule, showed(**{measured: None})) == (
        f"the file was decoded, but that did not tell {what}",
        False,
    )
