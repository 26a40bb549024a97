"""What shows and what is heard where one item of the loop gives way to the next: part of the rule loop-seam.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias, TypeVar

from mediacheck.loop import File
from mediacheck.measure.meeting import pictures_meet, sound_step
from mediacheck.measure.model import Measurements, Seam, Sound, SoundEdge
from mediacheck.profile import Profile
from mediacheck.rules.measured import decoded, head_and_tail_s, heard, seconds, together, untold
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, Answer, NotApplicable, NotChecked, seen
from mediacheck.rules.seam_limits import SILENCE_S_MAX, STEP_TIMES, change_unseen, jumps
from mediacheck.rules.wording import number

QUIET = SoundEdge((0.0,), (0.0,))
"""How an item without sound begins and ends."""
CHANNELS = NotChecked(
    "two items that follow each other have different numbers of sound channels, and how the player mixes "
    "them is not known",
    expected=True,
)
PICTURES_UNTOLD = untold("what shows at its start and its end")

T = TypeVar("T")
Known: TypeAlias = NotApplicable | NotChecked | T
"""Something that was found out, or why it was not."""
Ends = tuple[float, float]
"""Seconds at the start and at the end of an item."""


@dataclass(frozen=True, slots=True)
class _Item:
    """What is known of one item's two ends."""

    name: str
    path: str
    black_s: Known[Ends]
    seam: Known[Seam]
    sound: Known[Sound]


def between(items: Sequence[File], profile: Profile) -> Answer:
    """The answer for all seams of a loop of several items, that from the last to the first included."""
    known = [_known(item, profile) for item in items]
    seams = pairwise((*known, known[0]))
    return together(answer for before, after in seams for answer in _seam(before, after, profile))


def _known(item: File, profile: Profile) -> _Item:
    still = item.kind == "still"
    measured = NOT_APPLICABLE if still else decoded(item)
    return _Item(
        item.entry.name,
        item.entry.path,
        _black_ends(measured),
        (measured.seam or PICTURES_UNTOLD) if isinstance(measured, Measurements) else measured,
        NOT_APPLICABLE if still else heard(item, profile),
    )


def _black_ends(measured: Known[Measurements]) -> Known[Ends]:
    """A still is never black for our purpose, nor is what holds no picture."""
    if isinstance(measured, NotApplicable):
        return 0.0, 0.0
    if isinstance(measured, NotChecked):
        return measured
    if measured.black is None:
        return untold("whether its picture is ever black")
    return head_and_tail_s(measured.black, measured.seconds)


def _both(before: Known[T], after: Known[T]) -> Known[tuple[T, T]]:
    """Both, or why there is nothing to hold against each other, which outweighs what was not found out."""
    if isinstance(before, NotApplicable):
        return before
    if isinstance(after, NotApplicable):
        return after
    if isinstance(before, NotChecked):
        return before
    return after if isinstance(after, NotChecked) else (before, after)


def _seam(before: _Item, after: _Item, profile: Profile) -> Iterator[Answer]:
    most_s = profile.loop.black_seconds_max
    if most_s is not None:
        yield _black(before, after, most_s)
    yield _silence(before, after)
    if profile.loop.seamless:
        yield _jump(before, after)
        yield _click(before, after)


def _black(before: _Item, after: _Item, most_s: float) -> Answer:
    """What one of the two has alone is for picture-black."""
    ends = _both(before.black_s, after.black_s)
    if not isinstance(ends, tuple):
        return ends
    tail_s, head_s = ends[0][1], ends[1][0]
    black_s = round(tail_s + head_s, 2)
    if black_s <= most_s or max(round(tail_s, 2), round(head_s, 2)) > most_s:
        return PASSED
    return seen(
        f"{seconds(black_s)} of black before {after.name}",
        f"up to {seconds(most_s)}",
        f'The screen is black for {seconds(black_s)} between "{before.name}" and "{after.name}", the end of '
        "the one and the start of the other together: it looks switched off.",
        "Cut off the black at the end of the one or the start of the other, or ask for versions without it.",
        path=before.path,
    )


def _silence(before: _Item, after: _Item) -> Answer:
    """Between two that are heard. What has no sound, or a silent track, is silent by intent or for others."""
    sounds = _both(before.sound, after.sound)
    if not isinstance(sounds, tuple):
        return sounds
    if sounds[0].silent or sounds[1].silent:
        return NOT_APPLICABLE
    silent_s = round(sounds[0].silent_end_s + sounds[1].silent_start_s, 2)
    if silent_s <= SILENCE_S_MAX:
        return PASSED
    return seen(
        f"{seconds(silent_s)} of silence before {after.name}",
        f"up to {seconds(SILENCE_S_MAX)}",
        f'The display is silent for {seconds(silent_s)} between "{before.name}" and "{after.name}", the end '
        "of the one and the start of the other together.",
        "Cut off the silence at the end of the one or the start of the other, or ask for versions whose "
        "sound runs through.",
        path=before.path,
    )


def _jump(before: _Item, after: _Item) -> Answer:
    """From one moving picture to the next: to a still and from it, the picture changes by intent."""
    seams = _both(before.seam, after.seam)
    if not isinstance(seams, tuple):
        return seams
    met = pictures_meet(*seams)
    if met is None:
        return PICTURES_UNTOLD
    change, likeness = met
    if not jumps(change, likeness, *seams):
        return PASSED
    usual = number(round(max(seam.usual_change for seam in seams), 1))
    return seen(
        f"a change of {number(round(change, 1))} (of 255) before {after.name}, {usual} as a rule inside",
        f"up to {number(round(change_unseen(*seams), 1))}",
        f'The picture jumps on the screen where "{before.name}" gives way to "{after.name}": it changes '
        "there far more than from one frame to the next inside either of them.",
        "Ask for versions of which one runs into the other, or let one dissolve into the other; if a cut is "
        "meant here, take `seamless: true` out of the profile.",
        path=before.path,
    )


def _click(before: _Item, after: _Item) -> Answer:
    """An item without sound counts as silence: what was cut off in the middle clicks before it, too."""
    if isinstance(before.sound, NotApplicable) and isinstance(after.sound, NotApplicable):
        return NOT_APPLICABLE
    edges = _both(_edge(before.sound, at_start=False), _edge(after.sound, at_start=True))
    if not isinstance(edges, tuple):
        return edges
    step = sound_step(*edges)
    if step is None:
        return CHANNELS
    if step <= STEP_TIMES:
        return PASSED
    return seen(
        f"a step in the sound of {number(round(step, 1))} times the greatest near it before {after.name}",
        f"up to {number(STEP_TIMES)} times",
        f'The sound of the display clicks where "{before.name}" gives way to "{after.name}": it is cut where '
        "it is not at rest.",
        "Fade the sound out at the end of the one and in at the start of the other, over a few milliseconds.",
        path=before.path,
    )


def _edge(sound: Known[Sound], *, at_start: bool) -> Known[SoundEdge]:
    if isinstance(sound, NotApplicable):
        return QUIET
    if isinstance(sound, NotChecked):
        return sound
    return (sound.start if at_start else sound.end) or untold("how its sound begins and ends")
