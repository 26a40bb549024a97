"""Rules about bars, flashes and combs: each finds its defect, passes the clean twin, leaves others silent."""

from __future__ import annotations

import pytest

from mediacheck.measure.model import Bars, Combed, Flash, Measurements, NotMeasured
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, Seen
from tests.rules.judging import answer, failing, reason
from tests.rules.make import bare_profile, one, unreadable_file, video_facts, video_file
from tests.rules.measuring import CLEAN, alone, showed, strict

UNTOLD = {
    "picture-flash": ("flash", "whether its picture flashes"),
    "picture-combed": ("combed", "whether its pictures are woven from two moments"),
}
"""What a rule reads, and what stays untold without it."""
RULES = ["picture-bars", *UNTOLD]


# picture-bars


def test_bars_above_and_below_are_found_in_pixels() -> None:
    assert alone("picture-bars", showed(bars=Bars(140, 138, 0, 0))) == (
        Seen(
            "140 px top, 138 px bottom",
            "no bars",
            "Black bars are part of the picture itself (140 px at the top and 138 px at the bottom): the "
            "screen is not filled and everything looks smaller than it should.",
            "Ask for an export without bars, or crop them away and scale the picture up to the screen.",
        ),
    )


@pytest.mark.parametrize(
    ("bars", "found", "says"),
    [
        (Bars(0, 0, 240, 240), "240 px right, 240 px left", "(240 px on the right and 240 px on the left)"),
        (Bars(0, 60, 0, 0), "60 px bottom", "(60 px at the bottom)"),
        (
            Bars(60, 60, 1000, 80),
            "60 px top, 80 px right, 60 px bottom, 1,000 px left",
            "(60 px at the top and 80 px on the right and 60 px at the bottom and 1,000 px on the left)",
        ),
    ],
)
def test_bars_on_other_sides(bars: Bars, found: str, says: str) -> None:
    seen = alone("picture-bars", showed(bars=bars))
    assert [each.found for each in seen] == [found]
    assert says in seen[0].message


@pytest.mark.parametrize(
    ("turned", "says"),
    [
        (90, "(140 px on the right and 138 px on the left of the turned screen)"),
        (180, "(138 px at the top and 140 px at the bottom of the turned screen)"),
        (270, "(138 px on the right and 140 px on the left of the turned screen)"),
    ],
)
def test_on_a_turned_screen_the_message_says_where_a_person_sees_them(turned: int, says: str) -> None:
    seen = alone("picture-bars", showed(strict(screen={"turned_degrees": turned}), bars=Bars(140, 138, 0, 0)))
    assert seen[0].found == "140 px top, 138 px bottom"
    assert says in seen[0].message


@pytest.mark.parametrize(
    ("bars", "passes"),
    [
        (Bars(5, 5, 9, 9), True),
        (Bars(6, 0, 0, 0), False),
        (Bars(0, 6, 0, 0), False),
        (Bars(0, 0, 10, 0), False),
        (Bars(0, 0, 0, 10), False),
    ],
)
def test_a_bar_of_half_a_percent_goes_unseen(bars: Bars, passes: bool) -> None:
    assert (answer("picture-bars", showed(bars=bars)) == PASSED) is passes


def test_bars_are_held_against_the_decoded_picture_else_against_the_headers() -> None:
    small = {"bars": Bars(3, 0, 0, 0)}
    assert answer("picture-bars", showed(width=640, height=360, **small)) != PASSED
    assert answer("picture-bars", showed(width=None, height=None, **small)) == PASSED


def test_a_picture_that_was_too_dark_to_tell_is_not_passed() -> None:
    assert reason("picture-bars", showed(bars=None)) == (
        "its picture is too dark or too short to tell whether black bars are part of it",
        True,
    )


# picture-flash


def test_four_flashes_in_a_second_fail() -> None:
    asked = showed(flash=Flash(4, 3.04, 0, None))
    assert alone("picture-flash", asked) == (
        Seen(
            "4 flashes in one second from 3.0 s on",
            "up to 3 flashes in any second",
            "The screen flashes 4 times in one second from 3.0 s on, and more than 3 are a hazard for people "
            "with photosensitive epilepsy who pass the display: this is a screening, not a certificate, and "
            "the local broadcaster or safety rule decides.",
            "Keep this item off the display until its flashes have been made slower, smaller or weaker and "
            "it has been tested by those who certify it.",
        ),
    )
    assert failing(asked) == {"picture-flash"}


@pytest.mark.parametrize(
    ("flash", "found", "says"),
    [
        (
            Flash(0, None, 5, 1.0),
            "5 red flashes in one second from 1.0 s on",
            "flashes 5 times to or from strong red in one second from 1.0 s on, and more",
        ),
        (
            Flash(12, 0.0, 6, 7.5),
            "12 flashes in one second from 0.0 s on, 6 red flashes in one second from 7.5 s on",
            "flashes 12 times in one second from 0.0 s on and 6 times to or from strong red in one second "
            "from 7.5 s on, and more",
        ),
        (Flash(4, None, 3, 1.0), "4 flashes in one second", "flashes 4 times in one second, and more"),
    ],
)
def test_red_flashes_count_apart_and_make_one_finding_together(flash: Flash, found: str, says: str) -> None:
    seen = alone("picture-flash", showed(flash=flash))
    assert [each.found for each in seen] == [found]
    assert says in seen[0].message


@pytest.mark.parametrize("flash", [Flash(0, None, 0, None), Flash(3, 1.0, 3, 1.0)])
def test_up_to_three_flashes_in_a_second_pass(flash: Flash) -> None:
    assert answer("picture-flash", showed(flash=flash)) == PASSED


def test_flashes_are_a_hazard_whatever_the_profile_says() -> None:
    asked = showed(bare_profile(), flash=Flash(4, 0.0, 0, None))
    assert failing(asked) == {"picture-flash"}


# picture-combed


def test_woven_pictures_that_call_themselves_whole_are_found() -> None:
    assert alone("picture-combed", showed(combed=Combed(0.97, 60))) == (
        Seen(
            "97% of the moving pictures woven from two moments",
            "whole pictures",
            "97% of the pictures that move are woven from two moments (interlaced), though the file does not "
            "say so: on the screen, edges that move look like combs.",
            "Ask for a progressive version, or deinterlace the picture and encode it again.",
            fixable=True,
        ),
    )


@pytest.mark.parametrize(("share", "passes"), [(0.0, True), (0.299, True), (0.3, False), (0.4, False)])
def test_three_pictures_in_ten_are_too_many(share: float, passes: bool) -> None:
    assert (answer("picture-combed", showed(combed=Combed(share, 60))) == PASSED) is passes


def test_without_enough_movement_nothing_is_told() -> None:
    few = ("too little moves in the picture to tell whether it is interlaced", True)
    assert reason("picture-combed", showed(combed=Combed(1.0, 7))) == few
    assert reason("picture-combed", showed(combed=Combed(0.0, 1))) == few
    assert answer("picture-combed", showed(combed=Combed(0.0, 8))) == PASSED
    assert reason("picture-combed", showed(combed=Combed(0.0, 0, 7))) == few
    assert answer("picture-combed", showed(combed=Combed(0.0, 0))) == NOT_APPLICABLE


@pytest.mark.parametrize(("moving", "unclear"), [(0, 8), (3, 5), (7, 200)])
def test_movement_that_looks_alike_either_way_is_neither_a_pass_nor_no_movement(
    moving: int, unclear: int
) -> None:
    assert reason("picture-combed", showed(combed=Combed(0.0, moving, unclear))) == (
        "what moves in the picture is so fine, or moves so evenly, that it looks alike whether interlaced or "
        "not",
        True,
    )
    assert answer("picture-combed", showed(combed=Combed(0.0, 8, unclear))) == PASSED


def test_a_picture_that_says_it_is_interlaced_is_for_another_rule() -> None:
    asked = showed(facts={"video": video_facts(scan="interlaced")}, combed=Combed(1.0, 60))
    assert answer("picture-combed", asked) == NOT_APPLICABLE
    assert failing(asked) == {"video-interlaced"}


def test_a_picture_that_does_not_say_how_it_is_stored_is_looked_at() -> None:
    asked = showed(facts={"video": video_facts(scan=None)}, combed=Combed(1.0, 60))
    assert answer("picture-combed", asked) != PASSED


# all of them


@pytest.mark.parametrize("rule", RULES)
def test_a_clean_clip_passes(rule: str) -> None:
    assert answer(rule, showed()) == PASSED


@pytest.mark.parametrize(("rule", "read"), UNTOLD.items())
def test_a_decode_that_brought_no_answer_is_not_passed(rule: str, read: tuple[str, str]) -> None:
    measured, what = read
    assert reason(rule, showed(**{measured: None})) == (
        f"the file was decoded, but that did not tell {what}",
        False,
    )


@pytest.mark.parametrize("rule", RULES)
def test_what_was_not_looked_at_is_not_passed(rule: str) -> None:
    quick = ("only the headers were read; the picture is looked at in a full check", True)
    assert reason(rule, one(video_file())) == quick
    stopped = NotMeasured("the decoder was stopped after 60 s", False)
    assert reason(rule, one(video_file(measurements=stopped))) == (stopped.reason, False)
    assert reason(rule, one(video_file(measurements=Measurements(0, 0.0)))) == (
        "no frame of it could be decoded, so there was nothing to look at",
        False,
    )
    assert reason(rule, one(unreadable_file())) == (
        "the file could not be read, so its picture was not checked",
        False,
    )


@pytest.mark.parametrize("rule", RULES)
def test_a_file_without_a_picture_is_not_judged(rule: str) -> None:
    assert answer(rule, one(video_file(facts={"video": None}, measurements=CLEAN))) == NOT_APPLICABLE
