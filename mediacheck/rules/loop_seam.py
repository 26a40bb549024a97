"""The rule about the seam: what shows where the loop starts again, or one item gives way to the next.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.loop import File
from mediacheck.measure.model import Measurements, Seam, Sound
from mediacheck.profile import Profile
from mediacheck.rules.between_items import between
from mediacheck.rules.measured import decoded, heard, seconds, together, untold
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
from mediacheck.rules.seam_limits import SEEN_ANYWAY, SILENCE_S_MAX, STEP_TIMES, change_unseen, jumps
from mediacheck.rules.wording import number


@rule("loop-seam", severity="warn", scope="loop", depth="full", source=f"the profile; {COMMON_PRACTICE}")
def loop_seam(whole: Whole) -> Answer:
    """Where the loop starts again, or one item gives way to the next, the screen goes black or the sound
    stops, or, where the loop is to be seamless, the picture jumps (a still may come and go by a cut) or the
    sound clicks.

    A loop of one item has one seam, from its end to its own start; a loop of several has one after each item.
    Black at both sides of a seam together must keep within `black_seconds_max` (between two items only what
    picture-black does not say of one of them alone), and silence within 1 s wherever there is sound on both
    sides, be it required or only allowed: a track that is silent throughout is for audio-silent, and an item
    without sound is silent by intent.

    Where the profile asks for a seamless loop, the picture jumps when its change is more than 2 (of 255, mean
    of small pictures), more than 3 times the usual change and more than 1.5 times the greatest change inside
    the clips: a cut at the seam of a clip that has such cuts inside is one cut among others. Up to a change
    of 12, a second opinion must agree: the structural similarity of the two pictures (SSIM) lies below 0.9
    and by three times as much below 1 as that of neighbours, or below half of theirs, which a slow change of
    brightness or grain does not bring about. To a still and from it the picture changes by intent, and that
    is no jump. The sound clicks when its step is more than 4 times the greatest near the seam; what has no
    sound counts as silence there.
    """
    items = whole.loop.items
    if len(items) == 1:
        return together(_own_seam(items[0], whole.profile))
    return between(items, whole.profile) if items else NOT_APPLICABLE


def _own_seam(item: File, profile: Profile) -> Iterator[Answer]:
    if item.kind == "still":
        return
    if profile.loop.black_seconds_max is not None:
        yield _black(item, profile.loop.black_seconds_max)
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
    if seam.likeness is None and change_unseen(seam) < seam.picture_change <= SEEN_ANYWAY:
        return untold("how alike its last picture and its first are")
    if not jumps(seam.picture_change, seam.likeness or 0.0, seam):
        return PASSED
    change, usual = number(round(seam.picture_change, 1)), number(round(seam.usual_change, 1))
    return seen(
        f"a change of {change} (of 255) at the seam, {usual} as a rule inside the clip",
        f"up to {number(round(change_unseen(seam), 1))}",
        "The picture jumps on the screen each time the loop restarts: it changes there far more than from "
        "one frame to the next inside the clip.",
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
