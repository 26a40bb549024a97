"""Rules about the decoded picture: damage is found, whole pictures pass, and nothing unseen passes."""

from __future__ import annotations

from typing import Any

import pytest

from mediacheck.measure.model import DecodeError, Measurements, NotMeasured
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, One
from tests.rules.judging import Defect, answer, holds, reason
from tests.rules.make import FRAMES, one, packet_facts, unreadable_file, video_facts, video_file

WHOLE = Measurements(frames=FRAMES, seconds=10.0)


def decoded(measured: Measurements | NotMeasured | None, **video: Any) -> One:
    """A conforming clip of 300 frames that was decoded with this outcome."""
    return one(video_file(video=video_facts(**video), measurements=measured))


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
        "1,234 decoding errors at 0.0 s, 1.0 s, 2.0 s, 3.0 s, 4.0 s and 2 more",
        "damaged (1,234 decoding errors",
    ),
    "errors counted, none kept": (decoded(errors(count=3)), "3 decoding errors", "damaged"),
}


@pytest.mark.parametrize(("asked", "found", "says"), DEFECTS.values(), ids=DEFECTS.keys())
def test_damage_is_found_by_its_own_rule_and_fails_no_other(asked: One, found: str, says: str) -> None:
    holds(Defect("picture-damaged", asked, found, "every frame decodes", says, fixable=False))


@pytest.mark.parametrize("frames", [FRAMES, FRAMES - 3, FRAMES + 50])
def test_a_whole_picture_passes_though_a_few_frames_end_unseen(frames: int) -> None:
    assert answer("picture-damaged", decoded(Measurements(frames, 10.0))) == PASSED


def test_frames_that_stay_away_without_a_word_are_neither_damage_nor_a_pass() -> None:
    assert reason("picture-damaged", decoded(Measurements(FRAMES - 4, 9.87))) == (
        "the file lists 300 frames and 296 came out of the decoder, which did not say why",
        False,
    )


@pytest.mark.parametrize("scan", ["interlaced", None])
def test_two_packets_may_make_one_frame_of_a_picture_in_fields(scan: str | None) -> None:
    assert answer("picture-damaged", decoded(Measurements(FRAMES // 2, 10.0), scan=scan)) == PASSED
    assert reason("picture-damaged", decoded(Measurements(FRAMES // 2 - 3, 5.0), scan=scan)) == (
        "the file lists 150 frames and 147 came out of the decoder, which did not say why",
        False,
    )


def test_a_long_clip_may_lose_one_frame_in_a_hundred_unseen() -> None:
    long = packet_facts(2_000)
    assert answer("picture-damaged", decoded(Measurements(1_980, 66.0), packets=long)) == PASSED
    assert reason("picture-damaged", decoded(Measurements(1_979, 66.0), packets=long)) == (
        "the file lists 2,000 frames and 1,979 came out of the decoder, which did not say why",
        False,
    )


def test_without_a_list_of_packets_there_is_nothing_to_count_against() -> None:
    assert answer("picture-damaged", decoded(Measurements(1, 0.03), packets=None)) == PASSED


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
