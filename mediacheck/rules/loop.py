"""Rules about the loop as a whole: how many items, how long, and whether sound and picture end together.

It must not decode: lengths are those that the files state.
"""

from __future__ import annotations

from fractions import Fraction

from mediacheck.loop import item_seconds
from mediacheck.rules.model import (
    COMMON_PRACTICE,
    NOT_APPLICABLE,
    PASSED,
    Answer,
    NotChecked,
    One,
    Whole,
    rule,
    seen,
)
from mediacheck.rules.wording import number

APART_SECONDS_MAX = Fraction(1, 2)
"""Common practice, no source: less is hardly noticed at the seam of a loop."""

SHOWN_DECIMALS = 3
"""Seconds are judged as exactly as they are shown, so that no finding says "600 s, at most 600 s"."""

UNREAD = NotChecked("the file could not be read, so its sound and picture were not compared", expected=False)
NO_DURATION = NotChecked("the length of the sound or of the picture is not known", expected=False)
STILLS_UNTIMED = NotChecked(
    "the profile does not say how long the player shows a still (stills.seconds), so the loop was not timed",
    expected=True,
)
ITEM_UNTIMED = NotChecked(
    "the length of a video could not be read, so the loop was not timed", expected=False
)


@rule("loop-count", severity="fail", scope="loop", source="the profile; " + COMMON_PRACTICE)
def loop_count(whole: Whole) -> Answer:
    """There is nothing to play, or too few or too many items: the screen stays black, or items are left
    out."""
    found, limits = len(whole.loop.items), whole.profile.loop
    least, most = max(1, limits.items_min or 1), limits.items_max
    if found == 0:
        return seen(
            "0 items",
            f"at least {_items(least)}",
            "There is nothing on this card that the player would play: the screen stays black.",
            "Copy the videos and stills of the loop to the place on the card where the player looks for "
            "them.",
        )
    if found < least:
        return seen(
            _items(found),
            f"at least {_items(least)}",
            f"Only {_items(found)} would be shown, and the loop should have at least {least}: a part of it "
            "is missing on the screen.",
            "Compare the card with the list of what belongs on it, and copy what is missing.",
        )
    if most is not None and found > most:
        return seen(
            _items(found),
            f"at most {_items(most)}",
            f"There are {_items(found)} to show, and this player takes {most}: those beyond are left out, "
            "or the player stops.",
            "Take the items off the card that don't belong to this loop, or join some into one video.",
        )
    return PASSED


def _items(count: int) -> str:
    return f"{count} item" if count == 1 else f"{count} items"


@rule("loop-length", severity="warn", scope="loop", source="the profile; " + COMMON_PRACTICE)
def loop_length(whole: Whole) -> Answer:
    """One round is shorter or longer than agreed: the screen repeats itself too soon, or an item comes too
    seldom."""
    limits, seconds = whole.profile.loop, whole.loop.seconds
    least, most = limits.seconds_min, limits.seconds_max
    if (least is None and most is None) or not whole.loop.items:
        return NOT_APPLICABLE
    if seconds is None:
        return _why_untimed(whole)
    seconds = round(seconds, SHOWN_DECIMALS)
    if least is not None and seconds < Fraction(str(least)):
        return seen(
            f"{number(seconds)} s",
            f"at least {number(least)} s",
            f"One round of the loop takes {number(seconds)} s, and it should take at least {number(least)} "
            "s: the screen repeats itself too soon.",
            "Look for items that are missing on the card or were cut short.",
        )
    if most is not None and seconds > Fraction(str(most)):
        return seen(
            f"{number(seconds)} s",
            f"at most {number(most)} s",
            f"One round of the loop takes {number(seconds)} s, and it should take at most {number(most)} s: "
            "a person in front of the screen sees each item too seldom.",
            "Look for items that don't belong to this loop, and shorten or remove some.",
        )
    return PASSED


def _why_untimed(whole: Whole) -> NotChecked:
    """A still without a time follows from the profile; a video without one is a file that was not read."""
    untimed = [file for file in whole.loop.items if item_seconds(file, whole.profile) is None]
    return STILLS_UNTIMED if all(file.kind == "still" for file in untimed) else ITEM_UNTIMED


@rule("loop-audio-length", severity="warn", scope="video", source=COMMON_PRACTICE)
def loop_audio_length(one: One) -> Answer:
    """Sound and picture end more than 0.5 s apart: each round has a silent end, or a picture that stands
    still."""
    media = one.file.media
    if media is None:
        return UNREAD
    if media.video is None or not media.audio:
        return NOT_APPLICABLE
    picture, sound = media.video.duration, media.audio[0].duration
    if picture is None or sound is None:
        return NO_DURATION
    apart = round(abs(sound - picture), SHOWN_DECIMALS)
    if apart <= APART_SECONDS_MAX:
        return PASSED
    effect = (
        f"The sound goes on for {number(apart)} s after the picture has ended: the screen stands still or "
        "goes black until the next item"
        if sound > picture
        else f"The sound ends {number(apart)} s before the picture: the rest of this item is silent"
    )
    return seen(
        f"picture {number(picture)} s, sound {number(sound)} s",
        f"at most {number(APART_SECONDS_MAX)} s apart",
        f"{effect}.",
        "Cut or lengthen the sound so that it ends with the picture, and encode this file again.",
        fixable=True,
    )
