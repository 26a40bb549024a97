"""The rule about the seam: black, silence, jumps and clicks where the loop starts again, and their limits."""

from __future__ import annotations

import pytest

from mediacheck.loop import File
from mediacheck.measure.model import Measurements, NotMeasured, Seam
from mediacheck.profile import Profile
from mediacheck.rules.loop_seam import loop_seam
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, Answer, NotChecked, Seen
from tests.rules import make
from tests.rules.judge import assert_sentence
from tests.rules.measuring import clip, sound, strict

SEAMLESS = strict()
PLAIN = strict(loop={"seamless": False})
SOUND_WANTED = strict(loop={"seamless": False}, audio={"use": "required"})
QUICK = NotChecked("only the headers were read; the picture is looked at in a full check", expected=True)
SEAM_UNTOLD = NotChecked(
    "the file was decoded, but that did not tell what shows where its end meets its start", expected=False
)
BLACK_UNTOLD = NotChecked(
    "the file was decoded, but that did not tell whether its picture is ever black", expected=False
)
LIKENESS_UNTOLD = NotChecked(
    "the file was decoded, but that did not tell how alike its last picture and its first are", expected=False
)


def judged(limits: Profile, *items: File) -> Answer:
    """What the rule says of a loop of these items."""
    given: Answer = loop_seam.judge(make.whole(*items, profile=limits))
    return given


def seam(
    picture: float = 1.5,
    usual: float = 1.2,
    greatest: float = 4.0,
    black_s: float = 0.0,
    likeness: float | None = 0.3,
    usual_likeness: float = 0.98,
) -> Seam:
    """A seam that nobody notices but for what is given; its pictures are those of different scenes."""
    return Seam(picture, usual, greatest, black_s, likeness, usual_likeness)


def found(answer: Answer) -> list[tuple[str, str, str | None]]:
    """What was found, what was wanted, and on which file; the sentences are checked on the way."""
    assert isinstance(answer, tuple), answer
    for each in answer:
        assert_sentence(each.message)
        assert_sentence(each.action)
    return [(each.found, each.wanted, each.path) for each in answer]


def test_the_agreed_name_severity_and_depth() -> None:
    agreed = (loop_seam.name, loop_seam.severity, loop_seam.scope, loop_seam.depth)
    assert agreed == ("loop-seam", "warn", "loop", "full")


# a loop of one item


@pytest.mark.parametrize("limits", [PLAIN, SEAMLESS])
def test_black_at_both_ends_together_is_found(limits: Profile) -> None:
    assert judged(limits, clip(seam=seam(black_s=2.5))) == (
        Seen(
            "2.5 s of black at the seam",
            "up to 2 s",
            "The screen is black for 2.5 s each time the loop restarts, the end and the start of the clip "
            "together: it looks switched off.",
            "Cut off the black at both ends, or ask for a version without it.",
            path="clip.mp4",
        ),
    )


@pytest.mark.parametrize(("black_s", "passes"), [(0.0, True), (2.0, True), (2.004, True), (2.01, False)])
def test_black_may_last_as_long_as_the_limit_as_it_is_shown(black_s: float, passes: bool) -> None:
    assert (judged(PLAIN, clip(seam=seam(black_s=black_s))) == PASSED) is passes


def test_a_picture_that_jumps_is_found_where_the_loop_is_to_be_seamless() -> None:
    jumping = clip(seam=seam(picture=31.26, usual=1.24, greatest=4.0))
    assert judged(SEAMLESS, jumping) == (
        Seen(
            "a change of 31.3 (of 255) at the seam, 1.2 as a rule inside the clip",
            "up to 6",
            "The picture jumps on the screen each time the loop restarts: it changes there far more than "
            "from one frame to the next inside the clip.",
            "Ask for a version whose end runs into its start, or let the end dissolve into the start.",
            path="clip.mp4",
        ),
    )
    assert judged(PLAIN, jumping) == PASSED


@pytest.mark.parametrize(
    ("likeness", "usual", "passes"),
    [
        (0.9, 1.0, True),
        (0.899, 1.0, False),
        (0.701, 0.9, True),
        (0.699, 0.9, False),
        (0.301, 0.6, True),
        (0.299, 0.6, False),
    ],
    ids=[
        "as good as the same",
        "below",
        "3 times as unlike as neighbours",
        "more",
        "half as alike as neighbours in grain",
        "less",
    ],
)
def test_a_change_is_a_jump_only_if_the_pictures_are_unlike_as_well(
    likeness: float, usual: float, passes: bool
) -> None:
    changed = clip(seam=seam(picture=12.0, likeness=likeness, usual_likeness=usual))
    assert (judged(SEAMLESS, changed) == PASSED) is passes


def test_a_great_change_is_seen_though_the_structure_stays() -> None:
    brighter = clip(seam=seam(picture=12.1, likeness=0.99))
    assert found(judged(SEAMLESS, brighter)) == [
        ("a change of 12.1 (of 255) at the seam, 1.2 as a rule inside the clip", "up to 6", "clip.mp4")
    ]


def test_likeness_that_was_not_measured_matters_only_where_the_picture_changes() -> None:
    assert judged(SEAMLESS, clip(seam=seam(picture=12.0, likeness=None))) == LIKENESS_UNTOLD
    assert found(judged(SEAMLESS, clip(seam=seam(picture=12.1, likeness=None)))) != []
    assert judged(SEAMLESS, clip(seam=seam(likeness=None))) == PASSED


@pytest.mark.parametrize(
    ("picture", "usual", "greatest", "passes"),
    [
        (2.0, 0.0, 0.0, True),
        (2.1, 0.0, 0.0, False),
        (9.0, 3.0, 3.5, True),
        (9.1, 3.0, 3.5, False),
        (12.0, 1.0, 8.0, True),
        (12.1, 1.0, 8.0, False),
    ],
    ids=[
        "unseen",
        "above what is unseen",
        "3 times the usual",
        "above",
        "1.5 times the greatest",
        "above it",
    ],
)
def test_a_jump_is_told_from_the_changes_inside_the_clip(
    picture: float, usual: float, greatest: float, passes: bool
) -> None:
    assert (judged(SEAMLESS, clip(seam=seam(picture, usual, greatest))) == PASSED) is passes


def test_a_cut_at_the_seam_of_a_clip_full_of_cuts_is_one_cut_among_others() -> None:
    assert judged(SEAMLESS, clip(seam=seam(picture=45.0, usual=1.0, greatest=50.0))) == PASSED


def test_a_sound_that_clicks_is_found_where_the_loop_is_to_be_seamless() -> None:
    clicking = clip(sound=sound(seam_step=12.34))
    assert judged(SEAMLESS, clicking) == (
        Seen(
            "a step in the sound of 12.3 times the greatest near the seam",
            "up to 4 times",
            "The sound of the display clicks each time the loop restarts: it is cut where it is not at rest.",
            "Fade the sound out and in over a few milliseconds at both ends, or ask for a version whose "
            "sound runs on.",
            path="clip.mp4",
        ),
    )
    assert judged(PLAIN, clicking) == PASSED


@pytest.mark.parametrize(("step", "passes"), [(0.0, True), (4.0, True), (4.1, False)])
def test_a_step_of_up_to_four_times_is_no_click(step: float, passes: bool) -> None:
    assert (judged(SEAMLESS, clip(sound=sound(seam_step=step))) == PASSED) is passes


@pytest.mark.parametrize("limits", [PLAIN, SEAMLESS, SOUND_WANTED])
def test_silence_at_both_ends_together_is_found_be_sound_required_or_allowed(limits: Profile) -> None:
    assert judged(limits, clip(sound=sound(silent_start_s=0.5, silent_end_s=0.75))) == (
        Seen(
            "1.25 s of silence at the seam",
            "up to 1 s",
            "The display is silent for 1.25 s each time the loop restarts, the end and the start of the clip "
            "together.",
            "Cut off the silence at both ends, or ask for a version whose sound runs through.",
            path="clip.mp4",
        ),
    )


def test_silence_is_no_matter_where_sound_is_not_wanted() -> None:
    quiet = clip(sound=sound(silent_start_s=0.5, silent_end_s=0.75))
    assert judged(strict(loop={"seamless": False}, audio={"use": "none"}), quiet) == PASSED


@pytest.mark.parametrize(("end_s", "passes"), [(0.5, True), (0.504, True), (0.51, False)])
def test_silence_may_last_a_second(end_s: float, passes: bool) -> None:
    quiet = clip(sound=sound(silent_start_s=0.5, silent_end_s=end_s))
    assert (judged(SOUND_WANTED, quiet) == PASSED) is passes


def test_a_silent_track_is_for_another_rule() -> None:
    silent = sound(channel_peaks_dbfs=(None, None), silent_start_s=10.0, silent_end_s=10.0, seam_step=None)
    assert judged(SOUND_WANTED, clip(sound=silent)) == PASSED
    assert judged(SEAMLESS, clip(sound=silent)) == PASSED


def test_everything_wrong_at_once_is_one_finding_each() -> None:
    limits = strict(audio={"use": "required"})
    worst = clip(
        seam=seam(picture=40.0, black_s=3.0),
        sound=sound(silent_start_s=1.0, silent_end_s=1.0, seam_step=9.0),
    )
    assert found(judged(limits, worst)) == [
        ("3 s of black at the seam", "up to 2 s", "clip.mp4"),
        ("2 s of silence at the seam", "up to 1 s", "clip.mp4"),
        ("a change of 40 (of 255) at the seam, 1.2 as a rule inside the clip", "up to 6", "clip.mp4"),
        ("a step in the sound of 9 times the greatest near the seam", "up to 4 times", "clip.mp4"),
    ]


@pytest.mark.parametrize("limits", [PLAIN, SEAMLESS, SOUND_WANTED])
def test_a_clean_clip_passes(limits: Profile) -> None:
    assert judged(limits, clip()) == PASSED


def test_a_clip_without_sound_has_no_click_and_no_silence() -> None:
    mute = clip(facts={"audio": ()}, sound=None)
    assert judged(SEAMLESS, mute) == PASSED
    assert judged(SOUND_WANTED, mute) == PASSED
    assert judged(strict(audio={"use": "none"}), clip(sound=sound(seam_step=9.0))) == PASSED


def test_a_profile_that_asks_for_nothing_restricts_nothing() -> None:
    asks_nothing = strict(loop={"seamless": False, "black_seconds_max": None}, audio={"use": "none"})
    assert judged(asks_nothing, clip(seam=seam(picture=40.0, black_s=9.0))) == NOT_APPLICABLE
    assert judged(strict(loop={"black_seconds_max": None}), clip(seam=seam(black_s=9.0))) == PASSED


def test_no_item_and_a_still_alone_have_no_seam() -> None:
    assert judged(SEAMLESS) == NOT_APPLICABLE
    assert judged(SEAMLESS, make.still_file()) == NOT_APPLICABLE
    assert judged(SEAMLESS, make.video_file(facts={"video": None, "audio": ()})) == NOT_APPLICABLE


@pytest.mark.parametrize(
    ("item", "why"),
    [
        (make.video_file(), QUICK),
        (make.video_file(measurements=NotMeasured("too slow", False)), NotChecked("too slow", False)),
        (
            make.unreadable_file(),
            NotChecked("the file could not be read, so its picture was not checked", False),
        ),
        (
            make.video_file(measurements=Measurements(0, 0.0)),
            NotChecked("no frame of it could be decoded, so there was nothing to look at", False),
        ),
        (clip(seam=None), SEAM_UNTOLD),
    ],
)
def test_a_seam_that_was_not_looked_at_is_not_passed(item: File, why: NotChecked) -> None:
    assert judged(SEAMLESS, item) == why
    assert judged(PLAIN, item) == why


@pytest.mark.parametrize("limits", [SEAMLESS, SOUND_WANTED])
def test_a_sound_that_was_not_heard_is_not_passed(limits: Profile) -> None:
    assert judged(limits, clip(sound=None)) == NotChecked(
        "the file was decoded, but that did not tell anything about its sound", expected=False
    )


def test_a_step_that_was_not_measured_is_not_passed() -> None:
    assert judged(SEAMLESS, clip(sound=sound(seam_step=None))) == NotChecked(
        "the file was decoded, but that did not tell how the end of its sound meets the start", expected=False
    )


def test_a_defect_outweighs_what_was_not_told() -> None:
    assert found(judged(SEAMLESS, clip(seam=seam(black_s=2.5), sound=None))) == [
        ("2.5 s of black at the seam", "up to 2 s", "clip.mp4")
    ]
