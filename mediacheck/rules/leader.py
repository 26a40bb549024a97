"""The rule about test material that was left on a clip, judged from the measurements of one whole decode.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from collections.abc import Sequence

from mediacheck.measure.model import Leader, LeaderKind, Measurements, Sound
from mediacheck.rules.measured import EDGE_S, at_end, at_start, decoded, from_to, heard, untold
from mediacheck.rules.model import (
    COMMON_PRACTICE,
    PASSED,
    Answer,
    NotApplicable,
    NotChecked,
    One,
    rule,
    seen,
)
from mediacheck.rules.wording import listed

TONE_NEAR_S = 2.0
"""A tone this near to the head, the tail or a leader in the picture belongs to it (common practice, no
source)."""
JOINED_S = 5.0
"""Up to this much (black, as a rule) stands between the parts of one leader (common practice, no source)."""

CALLED: dict[LeaderKind, str] = {
    "colour bars": "colour bars",
    "countdown": "a countdown",
    "slate": "a board with the title of the clip (slate)",
    "line-up tone": "a steady test tone (line-up tone)",
}


@rule("picture-leader", severity="warn", scope="video", depth="full", source=COMMON_PRACTICE)
def picture_leader(one: One) -> Answer:
    """Test bars, a countdown, a slate or a line-up tone were left on the clip: the screen shows them to
    everybody in every round.

    A tone that lasts from start to end is the sound of the clip, and no leader.
    """
    measured, sound = decoded(one.file), heard(one.file, one.profile)
    if not isinstance(measured, Measurements):
        return measured
    shown = _shown(measured.leader or (), sound)
    parts = (*shown, *_tones(sound, shown, measured.seconds))
    if parts:
        return _left_on(sorted(parts, key=lambda part: (part.start_s, part.end_s)), measured.seconds)
    if measured.leader is None:
        return untold("whether test material was left on it")
    return sound if isinstance(sound, NotChecked) else PASSED


def _shown(leader: Sequence[Leader], sound: Sound | NotApplicable | NotChecked) -> tuple[Leader, ...]:
    """The leader without tones that the player will not play."""
    mute = isinstance(sound, NotApplicable)
    return tuple(part for part in leader if not (mute and part.kind == "line-up tone"))


def _tones(
    sound: Sound | NotApplicable | NotChecked, shown: Sequence[Leader], clip_s: float
) -> tuple[Leader, ...]:
    """Steady tones near the head, the tail or a leader that are not named already."""
    spans = sound.tone if isinstance(sound, Sound) else ()
    tones = [Leader("line-up tone", span.start_s, min(span.end_s, clip_s)) for span in spans]
    named = [part for part in shown if part.kind == "line-up tone"]
    return tuple(
        tone
        for tone in tones
        if not (at_start(tone) and at_end(tone, clip_s))
        and not any(_near(tone, part, 0) for part in named)
        and (
            tone.start_s <= TONE_NEAR_S
            or tone.end_s >= clip_s - TONE_NEAR_S
            or any(_near(tone, part, TONE_NEAR_S) for part in shown)
        )
    )


def _near(one: Leader, other: Leader, most_s: float) -> bool:
    return one.start_s <= other.end_s + most_s and other.start_s <= one.end_s + most_s


def _left_on(parts: Sequence[Leader], clip_s: float) -> Answer:
    visible = any(part.kind != "line-up tone" for part in parts)
    does = "the screen shows it to everybody" if visible else "people in front of the display hear it"
    named = listed([f"{CALLED[part.kind]} {from_to(part)}" for part in parts])
    return seen(
        listed([f"{part.kind} {from_to(part)}" for part in parts]),
        "no test material",
        f"Test material was left on the clip ({named}): {does} in every round.",
        _advice(parts, clip_s),
    )


def _advice(parts: Sequence[Leader], clip_s: float) -> str:
    head = _head(parts)
    head_s = max((part.end_s for part in head), default=0.0)
    tail = _tail([part for part in parts if part not in head], clip_s)
    tail_s = min((part.start_s for part in tail), default=clip_s)
    if head_s >= tail_s - EDGE_S:
        return "Take this file off the card, and ask for the clip that it stands for."
    inside = [part for part in parts if part not in head and part not in tail]
    cuts = [f"the first {head_s:.1f} s"] if head else []
    cuts += [f"what is {from_to(part)}" for part in inside]
    cuts += [f"the last {clip_s - tail_s:.1f} s"] if tail else []
    return f"Cut off {' and '.join(cuts)}, or ask for the file without its test material."


def _head(parts: Sequence[Leader]) -> list[Leader]:
    """The parts, ordered by their start, that follow each other from the start of the clip."""
    head: list[Leader] = []
    for part in parts:
        if part.start_s <= max((other.end_s for other in head), default=0.0) + JOINED_S:
            head.append(part)
    return head


def _tail(parts: Sequence[Leader], clip_s: float) -> list[Leader]:
    """The parts that follow each other up to the end of the clip."""
    tail: list[Leader] = []
    for part in sorted(parts, key=lambda part: part.end_s, reverse=True):
        if part.end_s >= min((other.start_s for other in tail), default=clip_s) - JOINED_S:
            tail.append(part)
    return tail
