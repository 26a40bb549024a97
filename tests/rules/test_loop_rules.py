"""Rules about the loop: how many items, how long, and whether sound and picture end together."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from mediacheck.loop import File
from mediacheck.profile import Profile
from mediacheck.rules import loop as room
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, NotChecked, Whole
from tests.rules import make
from tests.rules.judge import defects, in_brief, only, rules_in


def _clips(count: int) -> list[File]:
    return [make.video_file(f"{number:02}.mp4") for number in range(count)]


def _lasting(seconds: object) -> File:
    return make.video_file(facts={"duration": None if seconds is None else Fraction(str(seconds))})


def _loop(limits: dict[str, Any], *files: File) -> Whole:
    return make.whole(*files, profile=make.profile(loop=limits))


# loop-count


@pytest.mark.parametrize("items_min", [None, 0, 1])
def test_an_empty_card_always_fails(items_min: int | None) -> None:
    whole = _loop({"items_min": items_min})
    assert in_brief(room.loop_count.judge(whole)) == ("0 items", "at least 1 item", None, False, None)
    assert only(room.loop_count.judge(whole)).message == (
        "There is nothing on this card that the player would play: the screen stays black."
    )
    assert defects(whole) == {("loop-count", None)}


def test_an_empty_card_fails_even_where_the_profile_says_nothing() -> None:
    whole = make.whole(profile=make.bare_profile())
    assert in_brief(room.loop_count.judge(whole)) == ("0 items", "at least 1 item", None, False, None)


@pytest.mark.parametrize(
    "file", [make.audio_file(), make.other_file(), make.junk_file("._a.mp4"), make.video_file("old/a.mp4")]
)
def test_what_the_player_does_not_play_is_no_item(file: File) -> None:
    assert only(room.loop_count.judge(make.whole(file))).found == "0 items"


@pytest.mark.parametrize(
    ("count", "limits", "found", "wanted"),
    [
        (1, {"items_min": 2}, "1 item", "at least 2 items"),
        (2, {"items_min": 3}, "2 items", "at least 3 items"),
        (2, {"items_min": None, "items_max": 1}, "2 items", "at most 1 item"),
        (0, {"items_min": 3}, "0 items", "at least 3 items"),
    ],
)
def test_too_few_or_too_many_items_are_one_finding(
    count: int, limits: dict[str, Any], found: str, wanted: str
) -> None:
    whole = _loop(limits, *_clips(count))
    assert in_brief(room.loop_count.judge(whole)) == (found, wanted, None, False, None)
    assert defects(whole) == {("loop-count", None)}


@pytest.mark.parametrize(
    ("count", "limits"),
    [
        (1, {"items_min": None, "items_max": None}),
        (2, {"items_min": 2, "items_max": 2}),
        (30, {"items_max": None}),
    ],
)
def test_a_number_of_items_within_the_limits_passes(count: int, limits: dict[str, Any]) -> None:
    assert room.loop_count.judge(_loop(limits, *_clips(count))) == PASSED


# loop-length


@pytest.mark.parametrize(
    ("seconds", "limits", "found", "wanted"),
    [
        ("4.999", {"seconds_min": 5}, "4.999 s", "at least 5 s"),
        (10, {"seconds_min": 10.5}, "10 s", "at least 10.5 s"),
        ("600.04", {"seconds_max": 600}, "600.04 s", "at most 600 s"),
        (1800, {"seconds_max": 600}, "1,800 s", "at most 600 s"),
        (1800, {"seconds_min": None, "seconds_max": 600}, "1,800 s", "at most 600 s"),
        (1, {"seconds_min": 5, "seconds_max": None}, "1 s", "at least 5 s"),
    ],
)
def test_a_round_that_is_too_short_or_too_long_is_one_finding(
    seconds: object, limits: dict[str, Any], found: str, wanted: str
) -> None:
    whole = _loop(limits, _lasting(seconds))
    assert in_brief(room.loop_length.judge(whole)) == (found, wanted, None, False, None)
    assert defects(whole) == {("loop-length", None)}


@pytest.mark.parametrize("seconds", [5, 92.4, 600, "600.0004"])
def test_a_round_within_the_limits_passes(seconds: object) -> None:
    whole = _loop({"seconds_min": 5, "seconds_max": 600}, _lasting(seconds))
    assert room.loop_length.judge(whole) == PASSED


def test_a_round_is_the_sum_of_its_items() -> None:
    whole = _loop({"seconds_max": 29}, make.video_file("a.mp4"), make.video_file("b.mp4"), make.still_file())
    assert only(room.loop_length.judge(whole)).found == "30 s"


@pytest.mark.parametrize("limits", [{"seconds_min": None, "seconds_max": None}])
def test_any_length_will_do_where_none_is_asked_for(limits: dict[str, Any]) -> None:
    assert room.loop_length.judge(_loop(limits, _lasting(9999))) == NOT_APPLICABLE


def test_an_empty_loop_has_no_length() -> None:
    assert room.loop_length.judge(_loop({"seconds_min": 5})) == NOT_APPLICABLE


def _untimed_stills() -> Profile:
    return make.profile(stills={"seconds": None})


def test_stills_without_a_time_leave_the_loop_untimed_as_expected() -> None:
    answer = room.loop_length.judge(
        make.whole(make.video_file(), make.still_file(), profile=_untimed_stills())
    )
    assert isinstance(answer, NotChecked)
    assert answer.expected
    assert "stills.seconds" in answer.reason


@pytest.mark.parametrize("file", [make.unreadable_file(), _lasting(None)])
def test_a_video_without_a_length_leaves_the_loop_untimed_unexpectedly(file: File) -> None:
    answer = room.loop_length.judge(make.whole(file, make.still_file(), profile=_untimed_stills()))
    assert answer == NotChecked(
        "the length of a video could not be read, so the loop was not timed", expected=False
    )


# loop-audio-length


def _ending(picture: object, sound: object) -> File:
    return make.video_file(
        video=make.video_facts(duration=None if picture is None else Fraction(str(picture))),
        audio=(make.audio_facts(duration=None if sound is None else Fraction(str(sound))),),
    )


@pytest.mark.parametrize(
    ("picture", "sound", "found", "says"),
    [
        (10, "10.501", "picture 10 s, sound 10.501 s", "the screen stands still or goes black"),
        (10, 15, "picture 10 s, sound 15 s", "The sound goes on for 5 s after the picture"),
        (10, "9.499", "picture 10 s, sound 9.499 s", "the rest of this item is silent"),
        (10, "2.5", "picture 10 s, sound 2.5 s", "The sound ends 7.5 s before the picture"),
    ],
)
def test_sound_and_picture_that_end_apart_are_one_finding(
    picture: object, sound: object, found: str, says: str
) -> None:
    file = _ending(picture, sound)
    answer = room.loop_audio_length.judge(make.one(file))
    assert in_brief(answer) == (found, "at most 0.5 s apart", None, True, None)
    assert says in only(answer).message
    assert defects(make.whole(file)) == {("loop-audio-length", "clip.mp4")}


@pytest.mark.parametrize("sound", [10, "10.5", "9.5", "10.021", "9.98"])
def test_sound_and_picture_that_end_together_pass(sound: object) -> None:
    assert room.loop_audio_length.judge(make.one(_ending(10, sound))) == PASSED


@pytest.mark.parametrize("file", [make.video_file(audio=()), make.video_file(facts={"video": None})])
def test_only_a_clip_with_both_can_have_them_apart(file: File) -> None:
    assert room.loop_audio_length.judge(make.one(file)) == NOT_APPLICABLE


@pytest.mark.parametrize(("picture", "sound"), [(None, 10), (10, None), (None, None)])
def test_an_unknown_length_is_not_taken_for_the_same(picture: object, sound: object) -> None:
    assert room.loop_audio_length.judge(make.one(_ending(picture, sound))) == NotChecked(
        "the length of the sound or of the picture is not known", expected=False
    )


def test_an_unread_clip_was_not_compared() -> None:
    assert room.loop_audio_length.judge(make.one(make.unreadable_file())) == NotChecked(
        "the file could not be read, so its sound and picture were not compared", expected=False
    )


def test_severity_and_scope_are_those_of_the_design() -> None:
    assert {(rule.name, rule.severity, rule.scope, rule.depth) for rule in rules_in(room)} == {
        ("loop-count", "fail", "loop", "quick"),
        ("loop-length", "warn", "loop", "quick"),
        ("loop-audio-length", "warn", "video", "quick"),
    }
