"""Frames that the file lists and the decoder did not bring: a certain loss is damage, and nothing else is."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from mediacheck.measure.model import DecodeError, Measurements
from mediacheck.rules.model import PASSED, One
from tests.rules.judging import Defect, answer, failing, findings, holds, reason
from tests.rules.make import FRAMES, packet_facts
from tests.rules.measuring import decoded, spans


@pytest.mark.parametrize("frames", [FRAMES, FRAMES - 3, FRAMES + 50])
def test_a_whole_picture_passes_though_a_few_frames_end_unseen(frames: int) -> None:
    assert answer("picture-damaged", decoded(Measurements(frames, 10.0))) == PASSED


def gapped(frames: int, *gaps: tuple[float, float], **changes: Any) -> Measurements:
    """A decode that gave so many frames, with these waits between two."""
    return Measurements(frames, 10.0, gaps=spans(*gaps), **changes)


def usual(*gaps: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    """Longest waits as they are kept of any clip: beside these, some of one frame."""
    return (*gaps, (8.0, 8.0 + 1 / 30), (9.0, 9.0 + 1 / 30))


LOST = {
    "in one hole": (
        decoded(gapped(FRAMES - 11, *usual((1.5, 1.9)))),
        "11 of 300 frames missing (0.37 s) at 1.5 s",
    ),
    "in several holes": (
        decoded(gapped(FRAMES - 6, *usual((1.5, 1.6), (4.0, 4.1 + 1 / 30), (6.0, 6.0 + 2 / 30)))),
        "6 of 300 frames missing (0.2 s) at 1.5 s, 4.0 s, 6.0 s",
    ),
    "in more holes than are kept": (
        decoded(gapped(FRAMES - 100, *((second + 0.5, second + 0.5 + 2 / 30) for second in range(8)))),
        "100 of 300 frames missing (3.33 s) at 0.5 s, 1.5 s, 2.5 s, 3.5 s, 4.5 s and 3 more",
    ),
    "at its end": (decoded(gapped(FRAMES - 4, *usual())), "4 of 300 frames missing (0.13 s)"),
    "where no times were told": (decoded(Measurements(250, 10.0)), "50 of 300 frames missing (1.67 s)"),
    "in a long clip, beside one in a hundred at its ends": (
        decoded(Measurements(1_979, 66.0), packets=packet_facts(2_000)),
        "21 of 2,000 frames missing (0.7 s)",
    ),
    "in a long clip, a few in one hole": (
        decoded(gapped(1_995, *usual((3.0, 3.2))), packets=packet_facts(2_000)),
        "5 of 2,000 frames missing (0.17 s) at 3.0 s",
    ),
    "besides those before its first keyframe": (
        decoded(gapped(FRAMES - 15, *usual((1.5, 1.9))), packets=packet_facts(leading=4)),
        "11 of 300 frames missing (0.37 s) at 1.5 s",
    ),
    "behind the first keyframe, though leading pictures were shown": (
        decoded(gapped(FRAMES - 5, *usual((0.35, 0.55))), packets=packet_facts(leading=10)),
        "5 of 300 frames missing (0.17 s) at 0.3 s",
    ),
    "at a variable rate": (
        decoded(gapped(FRAMES - 20, (1.0, 3.0), (4.0, 6.7)), packets=packet_facts(longest_interval_s=2.0)),
        "20 of 300 frames missing (0.67 s) at 4.0 s",
    ),
}


LOST_IN_A_HOLE = {
    "of half frames": (
        decoded(gapped(FRAMES // 2 - 5, *usual((1.5, 1.9))), scan="interlaced", frame_rate=Fraction(15)),
        "5 of 300 frames missing (0.33 s) at 1.5 s",
    ),
    "where some packets show nothing": (
        decoded(gapped(FRAMES - 20, *usual((1.5, 1.9 + 1 / 30))), codec="VP8"),
        "11 of 300 frames missing (0.37 s) at 1.5 s",
    ),
}
"""Where the number of packets proves nothing, the wait does. Scan and codec are defects of their own."""


@pytest.mark.parametrize(("asked", "found"), LOST.values(), ids=LOST.keys())
def test_frames_that_are_lost_for_certain_are_damage(asked: One, found: str) -> None:
    says = f"damaged ({found}): the screen stands still, or the picture jumps, where frames are missing."
    holds(Defect("picture-damaged", asked, found, "every frame decodes", says, fixable=False))


@pytest.mark.parametrize(("asked", "found"), LOST_IN_A_HOLE.values(), ids=LOST_IN_A_HOLE.keys())
def test_a_wait_without_a_picture_proves_the_loss_where_packets_do_not(asked: One, found: str) -> None:
    (seen,) = findings(asked)["picture-damaged"]
    assert (seen.found, seen.severity) == (found, None)
    assert failing(asked) - {"video-codec", "video-interlaced", "video-frame-rate"} == {"picture-damaged"}


def test_complaints_and_lost_frames_are_one_finding() -> None:
    hurt = gapped(
        FRAMES - 11,
        *usual((1.5, 1.9)),
        decode_errors=(DecodeError("bad block", 1.4),),
        decode_error_count=1,
    )
    found = "1 decoding error at 1.4 s; 11 of 300 frames missing (0.37 s) at 1.5 s"
    says = f"damaged ({found}): the screen shows blocks, smears or a frozen picture."
    holds(Defect("picture-damaged", decoded(hurt), found, "every frame decodes", says, fixable=False))


SAME_AGAIN = packet_facts(sizes_bytes=[33_000] * 280 + [8] * 20)
SLICES = packet_facts(600, shortest_interval_s=0.0)
FIELDS = packet_facts(600, rate=Fraction(60))
SOUND_REASONS = {
    "leading pictures of an open start": (
        Measurements(FRAMES - 9, 9.7),
        {"packets": packet_facts(leading=9)},
    ),
    "hidden packets of VP8": (gapped(FRAMES - 20, *usual()), {"codec": "VP8"}),
    "pictures of MPEG-4 that say the same again": (
        gapped(FRAMES - 20, *usual((4.0, 4.7))),
        {"codec": "MPEG-4", "packets": SAME_AGAIN},
    ),
    "half frames in packets of their own": (gapped(FRAMES, *usual()), {"packets": FIELDS}),
    "slices in packets of their own": (gapped(FRAMES, *usual()), {"packets": SLICES}),
    "interlaced, two packets a frame": (gapped(FRAMES // 2, (0.0, 2 / 30)), {"scan": "interlaced"}),
    "nothing said of the scan": (gapped(FRAMES // 2, (0.0, 2 / 30)), {"scan": None}),
    "a long wait that the packets have too": (
        gapped(FRAMES, (2.0, 4.0)),
        {"packets": packet_facts(longest_interval_s=2.0)},
    ),
    "times that are a guess, though no frame is missing": (gapped(FRAMES, *usual((0.5, 0.8))), {}),
    "a first picture that stands for the leading ones": (
        gapped(FRAMES - 5, (0.0, 0.2)),
        {"codec": "MPEG-4"},
    ),
    "leading pictures behind some that were shown": (
        gapped(FRAMES - 4, *usual((0.3, 0.3 + 5 / 30))),
        {"packets": packet_facts(leading=10)},
    ),
    "two frames in one hole": (gapped(FRAMES - 2, *usual((1.5, 1.6))), {}),
    "one in a hundred of a long clip": (Measurements(1_980, 66.0), {"packets": packet_facts(2_000)}),
}


@pytest.mark.parametrize(("measured", "video"), SOUND_REASONS.values(), ids=SOUND_REASONS.keys())
def test_frames_that_stay_away_for_a_sound_reason_are_no_damage(
    measured: Measurements, video: dict[str, Any]
) -> None:
    assert answer("picture-damaged", decoded(measured, **video)) == PASSED


@pytest.mark.parametrize(
    "video",
    [
        {"scan": "interlaced"},
        {"scan": None},
        {"codec": "VP8"},
        {"packets": packet_facts(shortest_interval_s=0.0)},
    ],
)
def test_frames_that_stay_away_for_an_unknown_reason_are_neither_damage_nor_a_pass(
    video: dict[str, Any],
) -> None:
    assert reason("picture-damaged", decoded(Measurements(FRAMES // 2 - 4, 5.0), **video)) == (
        "the file lists 300 frames or half frames, and 146 frames came out of the decoder, which did not say "
        "why",
        False,
    )


CUT_START = (
    "it begins with frames that need others from before its start, as a clip does that was cut out of a "
    "longer one, and what a player shows of them is not known",
    False,
)


def test_complaints_about_a_start_that_was_cut_leave_the_answer_open() -> None:
    cut = {"packets": packet_facts(leading=4)}
    complaints = (DecodeError("missing reference"), DecodeError("no frame"))
    skipped = gapped(FRAMES - 4, *usual(), decode_errors=complaints, decode_error_count=2)
    assert reason("picture-damaged", decoded(skipped, **cut)) == CUT_START
    shown = replace(skipped, frames=FRAMES)
    later = replace(skipped, decode_errors=(*complaints, DecodeError("bad block", 3.0)), decode_error_count=3)
    uncounted = replace(skipped, decode_error_count=200)
    found = "2 decoding errors", "3 decoding errors at 3.0 s", "200 decoding errors"
    for measured, told in zip((shown, later, uncounted), found, strict=True):
        says = f"The picture is damaged ({told}): the screen shows"
        holds(
            Defect(
                "picture-damaged", decoded(measured, **cut), told, "every frame decodes", says, fixable=False
            )
        )


def test_without_a_list_of_packets_there_is_nothing_to_count_against() -> None:
    assert answer("picture-damaged", decoded(Measurements(1, 0.03), packets=None)) == PASSED
