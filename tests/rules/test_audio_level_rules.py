"""Rules about how loud the sound is: each finds its defect, passes the clean twin, leaves others silent."""

from __future__ import annotations

from typing import Any

import pytest

from mediacheck.measure.model import Measurements, NotMeasured, Sound
from mediacheck.profile import Profile
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, One, Seen
from tests.rules.judging import answer, reason
from tests.rules.make import one, unreadable_file, video_file
from tests.rules.measuring import CLEAN, alone, showed, sound, strict

RULES = ["audio-loudness", "audio-peak", "audio-silent"]
SILENT = sound(
    loudness_lufs=None,
    true_peak_dbtp=None,
    channel_peaks_dbfs=(None, None),
    silent_start_s=10.0,
    silent_end_s=10.0,
    seam_step=0.0,
)


def heard(limits: Profile | None = None, /, **changes: Any) -> One:
    """A conforming clip with clean sound but for what is given."""
    return showed(limits, sound=sound(**changes))


# audio-loudness


def test_sound_that_is_too_loud_says_by_how_much() -> None:
    assert alone("audio-loudness", heard(loudness_lufs=-18.46)) == (
        Seen(
            "-18.5 LUFS",
            "-23 LUFS, give or take 1 LU",
            "The sound is 4.5 LU (steps of loudness, as large as decibels) louder than agreed: when this "
            "item plays, it is too loud for the people near the display.",
            "Bring the sound to -23 LUFS and encode it again.",
            fixable=True,
        ),
    )


def test_sound_that_is_too_quiet_says_by_how_much() -> None:
    limits = strict(audio={"loudness_lufs": -16.5, "loudness_tolerance_lu": 0.5})
    assert alone("audio-loudness", heard(limits, loudness_lufs=-30.04)) == (
        Seen(
            "-30 LUFS",
            "-16.5 LUFS, give or take 0.5 LU",
            "The sound is 13.5 LU (steps of loudness, as large as decibels) quieter than agreed: when this "
            "item plays, people in front of the display hardly hear it.",
            "Bring the sound to -16.5 LUFS and encode it again.",
            fixable=True,
        ),
    )


@pytest.mark.parametrize(
    ("loudness", "passes"),
    [(-23.0, True), (-22.0, True), (-24.0, True), (-21.96, True), (-21.94, False), (-24.06, False)],
)
def test_the_loudness_may_be_off_by_the_tolerance_as_it_is_shown(loudness: float, passes: bool) -> None:
    assert (answer("audio-loudness", heard(loudness_lufs=loudness)) == PASSED) is passes


# audio-peak


def test_a_peak_that_is_too_high_says_by_how_much() -> None:
    assert alone("audio-peak", heard(true_peak_dbtp=0.44)) == (
        Seen(
            "0.4 dBTP",
            "up to -1 dBTP",
            "The loudest moments of the sound reach 0.4 dBTP (decibels of true peak), 1.4 dB more than "
            "agreed: they may crackle when the player puts them out.",
            "Lower the sound by 1.4 dB or more, or use a limiter, and encode it again.",
            fixable=True,
        ),
    )


@pytest.mark.parametrize(("peak", "passes"), [(-9.0, True), (-1.0, True), (-0.96, True), (-0.94, False)])
def test_the_peak_may_be_as_high_as_the_limit_as_it_is_shown(peak: float, passes: bool) -> None:
    assert (answer("audio-peak", heard(true_peak_dbtp=peak)) == PASSED) is passes


# audio-silent


def test_a_track_that_is_silent_throughout_is_found_by_its_own_rule_alone() -> None:
    assert alone("audio-silent", showed(sound=SILENT)) == (
        Seen(
            "silence from start to end",
            "sound of -60 dBFS or more",
            "The file has a sound track, and it is silent from start to end: the display makes no sound "
            "while this item plays.",
            "Leave it if this item is meant to be silent; otherwise ask for the file with its sound.",
        ),
    )
    assert answer("audio-loudness", showed(sound=SILENT)) == NOT_APPLICABLE
    assert answer("audio-peak", showed(sound=SILENT)) == NOT_APPLICABLE


def test_a_dead_channel_is_found() -> None:
    assert alone("audio-silent", heard(channel_peaks_dbfs=(-4.0, None))) == (
        Seen(
            "silence on the right channel",
            "sound on both channels",
            "The right channel is silent from start to end: the right loudspeaker of the display makes no "
            "sound while this item plays.",
            "Ask for the file with sound on both channels, or put the same sound on both.",
            fixable=True,
        ),
    )


@pytest.mark.parametrize(
    ("peaks", "found"),
    [
        ((-4.0, -60.0), None),
        ((-4.0, -60.1), "silence on the right channel"),
        ((-61.0, -4.0), "silence on the left channel"),
        ((-4.0,), None),
        ((None,), "silence from start to end"),
        ((-60.1, -90.0), "silence from start to end"),
        ((-4.0, -4.0, None, None, -9.0, -9.0), None),
        ((-4.0, None, -9.0), "silence on the right channel"),
        ((None, None, -9.0), "silence on the left and right channels"),
    ],
)
def test_what_counts_as_a_silent_channel(peaks: tuple[float | None, ...], found: str | None) -> None:
    asked = heard(channel_peaks_dbfs=peaks)
    if found is None:
        assert answer("audio-silent", asked) == PASSED
    else:
        assert [each.found for each in alone("audio-silent", asked)] == [found]


# all of them


@pytest.mark.parametrize("rule", RULES)
def test_clean_sound_passes(rule: str) -> None:
    assert answer(rule, showed()) == PASSED


@pytest.mark.parametrize("rule", RULES)
def test_where_no_sound_is_wanted_or_none_is_there_nothing_is_judged(rule: str) -> None:
    worst = {"loudness_lufs": -5.0, "true_peak_dbtp": 3.0, "channel_peaks_dbfs": (0.0, None)}
    assert answer(rule, heard(strict(audio={"use": "none"}), **worst)) == NOT_APPLICABLE
    assert answer(rule, showed(facts={"audio": ()}, sound=None)) == NOT_APPLICABLE


@pytest.mark.parametrize(
    ("rule", "key"), [("audio-loudness", "loudness_lufs"), ("audio-peak", "true_peak_dbtp_max")]
)
def test_a_profile_without_the_limit_restricts_nothing(rule: str, key: str) -> None:
    limits = strict(audio={key: None})
    assert answer(rule, heard(limits, loudness_lufs=-5.0, true_peak_dbtp=3.0)) == NOT_APPLICABLE
    assert answer(rule, one(unreadable_file(), limits)) == NOT_APPLICABLE


@pytest.mark.parametrize("rule", ["audio-loudness", "audio-peak"])
def test_a_sound_that_is_not_silent_and_has_no_level_is_not_passed(rule: str) -> None:
    assert reason(rule, heard(loudness_lufs=None, true_peak_dbtp=None)) == (
        "its sound is too short or too quiet for its level to be measured",
        True,
    )


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize(
    "nothing", [None, sound(channel_peaks_dbfs=()), sound(seconds=0.0, channel_peaks_dbfs=(None, None))]
)
def test_sound_that_nobody_heard_is_neither_silent_nor_passed(rule: str, nothing: Sound | None) -> None:
    assert reason(rule, showed(sound=nothing)) == (
        "the file was decoded, but that did not tell anything about its sound",
        False,
    )


@pytest.mark.parametrize("rule", RULES)
def test_what_was_not_listened_to_is_not_passed(rule: str) -> None:
    assert reason(rule, one(video_file(), strict())) == (
        "only the headers were read; the sound is heard in a full check",
        True,
    )
    stopped = NotMeasured("the decoder was stopped after 60 s", False)
    assert reason(rule, one(video_file(measurements=stopped), strict())) == (stopped.reason, False)
    assert reason(rule, one(unreadable_file(), strict())) == (
        "the file could not be read, so its sound was not checked",
        False,
    )
    assert reason(rule, one(video_file(facts={"video": None}), strict())) == (
        "it holds no picture, so it was not decoded",
        False,
    )


@pytest.mark.parametrize("rule", RULES)
def test_the_sound_is_judged_though_no_picture_could_be_decoded(rule: str) -> None:
    blind = Measurements(0, 0.0, sound=CLEAN.sound)
    assert answer(rule, one(video_file(measurements=blind), strict())) == PASSED
