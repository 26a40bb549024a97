"""The rule about the seam: what shows where the loop starts again, or one item follows another.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from mediacheck.loop import File
from mediacheck.measure.model import Measurements, Seam, Sound
from mediacheck.profile import Profile
from mediacheck.rules.measured import decoded, head_and_tail_s, heard, seconds, together, untold
from mediacheck.rules.model import (
    COMMON_PRACTICE,
    NOT_APPLICABLE,
    PASSED,
    Answer,
    NotApplicable,
    NotChecked,
    Whole,
    rule,
    seen,
)
from mediacheck.rules.wording import number

JUMP_MIN = 2.0
"""Mean difference of two small pictures, in steps of 0 to 255, below which a jump goes unseen: a keyframe
beside the picture before it differs by less (common practice, no source)."""
USUAL_TIMES = 3.0
GREATEST_TIMES = 1.5
"""A seam jumps when its change is more than so many times the usual, and more than so many times the
greatest change inside the clip (common practice, no source)."""
STEP_TIMES = 4.0
"""A seam clicks when its step in the sound is more than so many times the greatest near it (common practice,
no source)."""
SILENCE_S_MAX = 1.0
"""Common practice, no source."""

SEVERAL = NotChecked(
    "the loop has several items, and how the picture and sound of one run into the next is not measured",
    expected=True,
)


@rule("loop-seam", severity="warn", scope="loop", depth="full", source=f"the profile; {COMMON_PRACTICE}")
def loop_seam(whole: Whole) -> Answer:
    """Where the loop starts again the screen goes black, the sound stops, the picture jumps or the sound
    clicks.

    Of a loop of one item its own seam is judged. Black at the end and at the start together must keep
    within `black_seconds_max`, and silence within 1 s where sound is required. Where the profile asks for a
    seamless loop, the picture jumps when its change from last to first is more than 2 (of 255, mean of
    small pictures), more than 3 times the usual change and more than 1.5 times the greatest change inside
    the clip: a cut at the seam of a clip that has such cuts inside is one cut among others. The sound
    clicks when its step is more than 4 times the greatest near the seam. Between the items of a longer loop
    only black is judged, and only what picture-black does not say of one of them alone.
    """
    items = whole.loop.items
    if len(items) == 1:
        return together(_own_seam(items[0], whole.profile))
    return together(_between(items, whole.profile)) if items else NOT_APPLICABLE


def _own_seam(item: File, profile: Profile) -> Iterator[Answer]:
    if item.kind == "still":
        return
    if profile.loop.black_seconds_max is not None:
        yield _black(item, profile.loop.black_seconds_max)
    if profile.audio.use == "required":
        yield _silence(item, profile)
    if profile.loop.seamless:
        yield _jump(item)
        yield _click(item, profile)


def _seam_of(item: File) -> Seam | NotApplicable | NotChecked:
    measured = decoded(item)
    if not isinstance(measured, Measurements):
        return measured
    return measured.seam or untold("what shows where its end meets its start")


def _black(item: File, most_s: float) -> Answer:
    seam = _seam_of(item)
    if not isinstance(seam, Seam):
        return seam
    black_s = round(seam.black_s, 2)
    if black_s <= most_s:
        return PASSED
    return seen(
        f"{seconds(black_s)} of black at the seam",
        f"up to {seconds(most_s)}",
        f"The screen is black for {seconds(black_s)} each time the loop restarts, the end and the start of "
        "the clip together: it looks switched off.",
        "Cut off the black at both ends, or ask for a version without it.",
        path=item.entry.path,
    )


def _jump(item: File) -> Answer:
    seam = _seam_of(item)
    if not isinstance(seam, Seam):
        return seam
    unseen = max(JUMP_MIN, USUAL_TIMES * seam.usual_change, GREATEST_TIMES * seam.greatest_change)
    if seam.picture_change <= unseen:
        return PASSED
    change, usual = number(round(seam.picture_change, 1)), number(round(seam.usual_change, 1))
    return seen(
        f"a change of {change} (of 255) at the seam, {usual} as a rule inside the clip",
        f"up to {number(round(unseen, 1))}",
        "The picture jumps on the screen each time the loop restarts: the last one differs from the first "
        "far more than any inside the clip does from the next.",
        "Ask for a version whose end runs into its start, or let the end dissolve into the start.",
        path=item.entry.path,
    )


def _click(item: File, profile: Profile) -> Answer:
    sound = heard(item, profile)
    if not isinstance(sound, Sound):
        return sound
    if sound.silent:
        return NOT_APPLICABLE
    if sound.seam_step is None:
        return untold("how the end of its sound meets the start")
    if sound.seam_step <= STEP_TIMES:
        return PASSED
    return seen(
        f"a step in the sound of {number(round(sound.seam_step, 1))} times the greatest near the seam",
        f"up to {number(STEP_TIMES)} times",
        "The sound of the display clicks each time the loop restarts: it is cut where it is not at rest.",
        "Fade the sound out and in over a few milliseconds at both ends, or ask for a version whose sound "
        "runs on.",
        path=item.entry.path,
    )


def _silence(item: File, profile: Profile) -> Answer:
    """A track that is silent altogether is for audio-silent to say."""
    sound = heard(item, profile)
    if not isinstance(sound, Sound):
        return sound
    silent_s = round(sound.silent_start_s + sound.silent_end_s, 2)
    if sound.silent:
        return NOT_APPLICABLE
    if silent_s <= SILENCE_S_MAX:
        return PASSED
    return seen(
        f"{seconds(silent_s)} of silence at the seam",
        f"up to {seconds(SILENCE_S_MAX)}",
        f"The display is silent for {seconds(silent_s)} each time the loop restarts, the end and the start "
        "of the clip together.",
        "Cut off the silence at both ends, or ask for a version whose sound runs through.",
        path=item.entry.path,
    )


Ends = tuple[float, float]
"""Seconds of black at the start and at the end of an item."""


def _between(items: Sequence[File], profile: Profile) -> Iterator[Answer]:
    if profile.loop.seamless:
        yield SEVERAL
    most_s = profile.loop.black_seconds_max
    if most_s is None:
        return
    ends = [(item, _ends(item)) for item in items]
    for before, after in pairwise((*ends, ends[0])):
        yield _black_between(*before, *after, most_s)


def _ends(item: File) -> Ends | NotChecked:
    """A still has no length of its own, and what holds no picture shows none that is black."""
    measured = decoded(item) if item.kind != "still" else NOT_APPLICABLE
    if isinstance(measured, NotApplicable):
        return 0.0, 0.0
    if isinstance(measured, NotChecked):
        return measured
    if measured.black is None:
        return untold("whether its picture is ever black")
    return head_and_tail_s(measured.black, measured.seconds)


def _black_between(
    ending: File, before: Ends | NotChecked, starting: File, after: Ends | NotChecked, most_s: float
) -> Answer:
    if isinstance(before, NotChecked):
        return before
    if isinstance(after, NotChecked):
        return after
    tail_s, head_s = before[1], after[0]
    black_s = round(tail_s + head_s, 2)
    if black_s <= most_s or max(round(tail_s, 2), round(head_s, 2)) > most_s:
        return PASSED
    return seen(
        f"{seconds(black_s)} of black before {starting.entry.name}",
        f"up to {seconds(most_s)}",
        f'The screen is black for {seconds(black_s)} between "{ending.entry.name}" and '
        f'"{starting.entry.name}", the end of the one and the start of the other together: it looks switched '
        "off.",
        "Cut off the black at the end of the one or the start of the other, or ask for versions without it.",
        path=ending.entry.path,
    )
