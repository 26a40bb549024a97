"""The rule about the seam in a loop of several items: what shows and is heard where one follows the other."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from mediacheck.loop import File
from mediacheck.measure.model import Measurements, NotMeasured, Seam, SoundEdge
from mediacheck.profile import Profile
from mediacheck.rules import loop
from mediacheck.rules.between_items import CHANNELS, PICTURES_UNTOLD
from mediacheck.rules.loop_seam import loop_seam
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, Answer, NotChecked, One, Seen
from tests.rules import make
from tests.rules.judge import answers, assert_sentence
from tests.rules.judging import failing
from tests.rules.measuring import CLEAN, clip, sound, spans, strict, tiny

SEAMLESS = strict()
PLAIN = strict(loop={"seamless": False})
MUTE: dict[str, Any] = {"facts": {"audio": ()}, "sound": None}
QUICK = NotChecked("only the headers were read; the picture is looked at in a full check", expected=True)
QUICK_SOUND = NotChecked("only the headers were read; the sound is heard in a full check", expected=True)
UNREAD = NotChecked("the file could not be read, so its picture was not checked", expected=False)


def judged(limits: Profile, *items: File) -> Answer:
    """What the rule says of a loop of these items; every sentence is checked on the way."""
    given: Answer = loop_seam.judge(make.whole(*items, profile=limits))
    for each in given if isinstance(given, tuple) else ():
        assert_sentence(each.message)
        assert_sentence(each.action)
    return given


def found(answer: Answer) -> list[tuple[str, str, str | None]]:
    """What was found, what was wanted, and on which file."""
    assert isinstance(answer, tuple), answer
    return [(each.found, each.wanted, each.path) for each in answer]


def nothing_else(limits: Profile, *items: File) -> None:
    """No other rule about these files fails, and none about their loop sees anything."""
    assert [failing(One(item, limits)) for item in items] == [set() for _ in items]
    others = answers(make.whole(*items, profile=limits), loop)
    assert [name for name, _, answer in others if isinstance(answer, tuple) and answer] == []


# black


def ending(path: str, head_s: float = 0.0, tail_s: float = 0.0, **changes: Any) -> File:
    """A clip of 10 s with so much black at its start and at its end, and some inside."""
    black = spans((0.0, head_s), (4.0, 5.5), (10.0 - tail_s, 10.0))
    return clip(path, black=tuple(span for span in black if span.end_s > span.start_s), **changes)


def test_black_between_two_items_is_found_with_both_names() -> None:
    items = ending("a.mp4", tail_s=1.2), ending("b.mp4", head_s=1.5), ending("c.mp4")
    assert judged(PLAIN, *items) == (
        Seen(
            "2.7 s of black before b.mp4",
            "up to 2 s",
            'The screen is black for 2.7 s between "a.mp4" and "b.mp4", the end of the one and the start of '
            "the other together: it looks switched off.",
            "Cut off the black at the end of the one or the start of the other, or ask for versions without "
            "it.",
            path="a.mp4",
        ),
    )
    nothing_else(PLAIN, *items)


def test_the_last_item_is_followed_by_the_first() -> None:
    items = ending("a.mp4", head_s=1.5), ending("b.mp4"), ending("c.mp4", tail_s=1.5)
    assert found(judged(PLAIN, *items)) == [("3 s of black before a.mp4", "up to 2 s", "c.mp4")]


@pytest.mark.parametrize(
    ("tail_s", "head_s", "passes"), [(1.0, 1.0, True), (1.0, 1.01, False), (0.0, 2.0, True), (2.0, 0.0, True)]
)
def test_black_between_items_may_last_as_long_as_the_limit(
    tail_s: float, head_s: float, passes: bool
) -> None:
    items = ending("a.mp4", tail_s=tail_s), ending("b.mp4", head_s=head_s)
    assert (judged(PLAIN, *items) == PASSED) is passes


def test_black_that_one_item_has_alone_is_for_picture_black() -> None:
    items = ending("a.mp4", tail_s=2.5), ending("b.mp4", head_s=1.5)
    assert judged(PLAIN, *items) == PASSED


def test_a_still_between_videos_is_not_black() -> None:
    items = ending("a.mp4", tail_s=1.5), make.still_file("b.jpg"), ending("c.mp4", head_s=1.5)
    assert judged(PLAIN, *items) == PASSED


def test_two_items_make_two_seams() -> None:
    items = ending("a.mp4", 1.5, 1.5), ending("b.mp4", 1.5, 1.5)
    assert found(judged(PLAIN, *items)) == [
        ("3 s of black before b.mp4", "up to 2 s", "a.mp4"),
        ("3 s of black before a.mp4", "up to 2 s", "b.mp4"),
    ]


# silence


def quiet(path: str, head_s: float = 0.0, tail_s: float = 0.0, **changes: Any) -> File:
    """A clip with so much silence at its start and at its end."""
    return clip(path, sound=sound(silent_start_s=head_s, silent_end_s=tail_s, **changes))


@pytest.mark.parametrize("use", ["allowed", "required"])
@pytest.mark.parametrize("seamless", [False, True])
def test_silence_between_two_items_is_found_with_both_names(use: str, seamless: bool) -> None:
    limits = strict(loop={"seamless": seamless}, audio={"use": use})
    items = quiet("a.mp4", tail_s=0.7), quiet("b.mp4", head_s=0.6), quiet("c.mp4")
    assert judged(limits, *items) == (
        Seen(
            "1.3 s of silence before b.mp4",
            "up to 1 s",
            'The display is silent for 1.3 s between "a.mp4" and "b.mp4", the end of the one and the start '
            "of the other together.",
            "Cut off the silence at the end of the one or the start of the other, or ask for versions whose "
            "sound runs through.",
            path="a.mp4",
        ),
    )
    nothing_else(limits, *items)


@pytest.mark.parametrize(("tail_s", "passes"), [(0.5, True), (0.504, True), (0.51, False)])
def test_silence_between_items_may_last_a_second(tail_s: float, passes: bool) -> None:
    assert (judged(PLAIN, quiet("a.mp4", tail_s=tail_s), quiet("b.mp4", head_s=0.5)) == PASSED) is passes


SILENT = {"channel_peaks_dbfs": (None, None)}


@pytest.mark.parametrize(
    "other",
    [clip("b.mp4", **MUTE), make.still_file("b.jpg"), quiet("b.mp4", 10.0, 10.0, **SILENT)],
    ids=["without sound", "a still", "silent throughout"],
)
def test_what_is_not_heard_at_all_is_silent_by_intent_or_for_another_rule(other: File) -> None:
    assert judged(PLAIN, quiet("a.mp4", 0.9, 0.9), other) == PASSED


# jumps


def showing(path: str, first: int, last: int, **changes: Any) -> File:
    """A clip whose first and last pictures are even grounds of these levels."""
    seam = replace(CLEAN.seam or Seam(0, 0, 0, 0), first=tiny(first), last=tiny(last), **changes)
    return clip(path, seam=seam)


def test_a_picture_that_jumps_from_one_item_to_the_next_is_found() -> None:
    items = showing("a.mp4", 100, 100), showing("b.mp4", 160, 100), showing("c.mp4", 101, 99)
    assert judged(SEAMLESS, *items) == (
        Seen(
            "a change of 60 (of 255) before b.mp4, 1.2 as a rule inside",
            "up to 6",
            'The picture jumps on the screen where "a.mp4" gives way to "b.mp4": it changes there far more '
            "than from one frame to the next inside either of them.",
            "Ask for versions of which one runs into the other, or let one dissolve into the other; if a cut "
            "is meant here, take `seamless: true` out of the profile.",
            path="a.mp4",
        ),
    )
    assert judged(PLAIN, *items) == PASSED
    nothing_else(SEAMLESS, *items)


def test_a_picture_that_jumps_from_the_last_item_to_the_first_is_found() -> None:
    items = showing("a.mp4", 200, 100), showing("b.mp4", 100, 100)
    assert found(judged(SEAMLESS, *items)) == [
        ("a change of 100 (of 255) before a.mp4, 1.2 as a rule inside", "up to 6", "b.mp4")
    ]


def test_items_that_run_into_each_other_pass_though_each_has_a_jump_of_its_own() -> None:
    items = showing("a.mp4", 20, 200, picture_change=180.0), showing("b.mp4", 200, 20, picture_change=180.0)
    assert judged(SEAMLESS, *items) == PASSED


@pytest.mark.parametrize("restless", [{"usual_change": 21.0}, {"greatest_change": 41.0}])
def test_the_more_restless_of_the_two_sets_the_limit(restless: dict[str, float]) -> None:
    calm, wild = showing("a.mp4", 100, 100), showing("b.mp4", 160, 160, **restless)
    assert judged(SEAMLESS, calm, wild) == PASSED


def test_pictures_that_are_alike_in_structure_do_not_jump() -> None:
    """Even grounds of 100 and 112 have a likeness of 0.99 and a change that is twice the limit."""
    assert judged(SEAMLESS, showing("a.mp4", 100, 112), showing("b.mp4", 100, 112)) == PASSED
    assert found(judged(SEAMLESS, showing("a.mp4", 100, 113), showing("b.mp4", 100, 100))) == [
        ("a change of 13 (of 255) before b.mp4, 1.2 as a rule inside", "up to 6", "a.mp4")
    ]


@pytest.mark.parametrize(
    "items",
    [
        (showing("a.mp4", 20, 200), make.still_file("b.jpg")),
        (showing("a.mp4", 20, 200), make.still_file("b.jpg"), showing("c.mp4", 100, 20)),
        (make.still_file("a.jpg"), make.still_file("b.jpg")),
        (showing("a.mp4", 20, 200), make.video_file("b.mp4", facts={"video": None, "audio": ()})),
    ],
    ids=[
        "film and still",
        "a still between films that meet else",
        "stills alone",
        "film and a file without picture",
    ],
)
def test_to_a_still_and_from_it_the_picture_changes_by_intent(items: tuple[File, ...]) -> None:
    assert judged(SEAMLESS, *items) == PASSED


# clicks


def sounding(path: str, start: float | None = 0.0, end: float | None = 0.0, channels: int = 2) -> File:
    """A clip whose sound starts and ends at these levels, with steps of 0.01 near both; None: not told."""
    edges = {
        name: None if level is None else SoundEdge((level,) * channels, (0.01,) * channels)
        for name, level in (("start", start), ("end", end))
    }
    return clip(path, sound=sound(channel_peaks_dbfs=(-4.0,) * channels, **edges))


def test_sound_that_clicks_from_one_item_to_the_next_is_found() -> None:
    items = sounding("a.mp4", end=0.1), sounding("b.mp4", start=-0.1), sounding("c.mp4")
    assert judged(SEAMLESS, *items) == (
        Seen(
            "a step in the sound of 20 times the greatest near it before b.mp4",
            "up to 4 times",
            'The sound of the display clicks where "a.mp4" gives way to "b.mp4": it is cut where it is not '
            "at rest.",
            "Fade the sound out at the end of the one and in at the start of the other, over a few "
            "milliseconds.",
            path="a.mp4",
        ),
    )
    assert judged(PLAIN, *items) == PASSED
    nothing_else(SEAMLESS, *items)


def test_sound_that_runs_on_from_item_to_item_passes() -> None:
    assert judged(SEAMLESS, sounding("a.mp4", 0.3, 0.5), sounding("b.mp4", 0.5, 0.3)) == PASSED


@pytest.mark.parametrize("other", [clip("b.mp4", **MUTE), make.still_file("b.jpg")])
def test_what_has_no_sound_is_silence_before_which_a_cut_clicks(other: File) -> None:
    assert found(judged(SEAMLESS, sounding("a.mp4", end=0.1), other)) == [
        (f"a step in the sound of 10 times the greatest near it before {other.entry.name}", "up to 4 times",
         "a.mp4")
    ]  # fmt: skip
    assert found(judged(SEAMLESS, sounding("a.mp4", start=0.1), other)) == [
        ("a step in the sound of 10 times the greatest near it before a.mp4", "up to 4 times",
         other.entry.path)
    ]  # fmt: skip
    assert judged(SEAMLESS, sounding("a.mp4"), other) == PASSED


def test_sound_that_is_not_wanted_does_not_click() -> None:
    limits = strict(audio={"use": "none"})
    assert judged(limits, sounding("a.mp4", end=0.1), sounding("b.mp4", start=-0.1)) == PASSED


def test_sound_of_one_channel_meets_both_of_two_and_two_do_not_meet_six() -> None:
    mono, stereo = sounding("a.mp4", 0.1, 0.1, channels=1), sounding("b.mp4", 0.1, 0.1)
    assert judged(SEAMLESS, mono, stereo) == PASSED
    assert judged(SEAMLESS, stereo, sounding("c.mp4", 0.1, 0.1, channels=6)) == CHANNELS


# everything at once, and nothing


def test_everything_wrong_at_one_seam_is_one_finding_each() -> None:
    worst = sound(silent_end_s=0.6, end=SoundEdge((0.5, 0.5), (0.01, 0.01)))
    seam = replace(CLEAN.seam or Seam(0, 0, 0, 0), last=tiny(250))
    items = (
        clip("a.mp4", black=spans((8.5, 10.0)), sound=worst, seam=seam),
        ending("b.mp4", head_s=1.5, sound=sound(silent_start_s=0.6)),
    )
    assert found(judged(SEAMLESS, *items)) == [
        ("3 s of black before b.mp4", "up to 2 s", "a.mp4"),
        ("1.2 s of silence before b.mp4", "up to 1 s", "a.mp4"),
        ("a change of 150 (of 255) before b.mp4, 1.2 as a rule inside", "up to 6", "a.mp4"),
        ("a step in the sound of 50.2 times the greatest near it before b.mp4", "up to 4 times", "a.mp4"),
    ]


@pytest.mark.parametrize("limits", [PLAIN, SEAMLESS])
def test_clean_clips_pass_in_a_row(limits: Profile) -> None:
    assert judged(limits, clip("a.mp4"), clip("b.mp4"), clip("c.mp4")) == PASSED


def test_a_profile_that_asks_for_nothing_restricts_nothing() -> None:
    asks_nothing = strict(loop={"seamless": False, "black_seconds_max": None}, audio={"use": "none"})
    items = showing("a.mp4", 0, 255), quiet("b.mp4", 5.0, 5.0), ending("c.mp4", 1.5, 1.5)
    assert judged(asks_nothing, *items) == NOT_APPLICABLE


# what was not looked at


@pytest.mark.parametrize(
    ("item", "why"),
    [
        (make.video_file("b.mp4"), QUICK),
        (
            make.video_file("b.mp4", measurements=NotMeasured("too slow", False)),
            NotChecked("too slow", False),
        ),
        (
            clip("b.mp4", black=None),
            NotChecked(
                "the file was decoded, but that did not tell whether its picture is ever black", False
            ),
        ),
        (make.unreadable_file("b.mp4"), UNREAD),
        (
            make.video_file("b.mp4", measurements=Measurements(0, 0.0)),
            NotChecked("no frame of it could be decoded, so there was nothing to look at", False),
        ),
    ],
)
@pytest.mark.parametrize("limits", [PLAIN, SEAMLESS])
def test_an_item_that_was_not_looked_at_is_not_passed(limits: Profile, item: File, why: NotChecked) -> None:
    assert judged(limits, clip("a.mp4"), item) == why
    assert judged(limits, item, clip("c.mp4")) == why


NO_BLACK = strict(loop={"black_seconds_max": None})


@pytest.mark.parametrize(
    ("item", "why"),
    [
        (make.video_file("b.mp4"), QUICK_SOUND),
        (clip("b.mp4", seam=None), PICTURES_UNTOLD),
        (clip("b.mp4", seam=Seam(1.5, 1.2, 4.0, 0.0)), PICTURES_UNTOLD),
        (sounding("b.mp4", start=None), NotChecked(
            "the file was decoded, but that did not tell how its sound begins and ends", False)),
        (sounding("b.mp4", end=None), NotChecked(
            "the file was decoded, but that did not tell how its sound begins and ends", False)),
    ],
)  # fmt: skip
def test_a_jump_and_a_click_that_were_not_measured_are_not_passed(item: File, why: NotChecked) -> None:
    assert judged(NO_BLACK, clip("a.mp4"), item) == why
    assert judged(NO_BLACK, item, clip("c.mp4")) == why


def test_a_defect_outweighs_what_was_not_measured() -> None:
    items = ending("a.mp4", tail_s=1.5, seam=None), ending("b.mp4", head_s=1.5, sound=None)
    assert found(judged(SEAMLESS, *items)) == [("3 s of black before b.mp4", "up to 2 s", "a.mp4")]


def test_a_still_beside_what_was_not_looked_at_leaves_no_picture_to_compare() -> None:
    silent = strict(loop={"black_seconds_max": None}, audio={"use": "none"})
    assert judged(silent, make.still_file("a.jpg"), make.video_file("b.mp4")) == NOT_APPLICABLE
