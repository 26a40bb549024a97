"""Rules about damage, black and standstill in the picture, judged from the measurements of one whole decode.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from mediacheck.measure.model import DecodeError, Measurements, NotMeasured, Span
from mediacheck.media.facts import VideoFacts
from mediacheck.profile import Profile
from mediacheck.rules.frames_lost import Lost, complaints_of_the_lead, lost_frames
from mediacheck.rules.measured import (
    QUICK,
    at_end,
    at_start,
    decoded,
    from_to,
    length_s,
    seconds,
    together,
    untold,
)
from mediacheck.rules.model import (
    COMMON_PRACTICE,
    NOT_APPLICABLE,
    PASSED,
    Answer,
    NotChecked,
    One,
    Seen,
    rule,
    seen,
)
from mediacheck.rules.streams import picture
from mediacheck.rules.wording import listed

_STANDS = "stands still, or the picture jumps, where frames are missing"
"""What frames do that stay away."""
AGAIN = "Copy the file again from its source; if that does not help, encode it again from its master."
CUT_START = NotChecked(
    "it begins with frames that need others from before its start, as a clip does that was cut out of a "
    "longer one, and what a player shows of them is not known",
    expected=False,
)


@rule("picture-damaged", severity="fail", scope="video", depth="full", source=COMMON_PRACTICE)
def picture_damaged(one: One) -> Answer:
    """Parts of the picture or the sound cannot be decoded: blocks, smears or a black or frozen screen appear
    there, or the sound crackles or stops.

    Damage is every complaint of the decoder (about the sound only where the player is to play it), and every
    frame that the file lists and that certainly did not come out of it: a wait between two pictures that is
    longer than any between two packets by more than two frames, or, where each packet makes a frame, more
    than two frames and one in a hundred missing altogether.
    No damage are frames before the first keyframe of a clip that was cut out of a longer one, packets that
    show nothing themselves, and half frames, of which two make one. Complaints about such a start alone leave
    the answer open: some players skip those frames, others show what they can make of them.
    """
    video, measured = picture(one), one.file.measurements
    if not isinstance(video, VideoFacts):
        return video
    if measured is None:
        return QUICK
    if isinstance(measured, NotMeasured):
        return NotChecked(measured.reason, measured.expected)
    if measured.frames == 0:
        return _nothing()
    lost = lost_frames(video, measured)
    lead = complaints_of_the_lead(video, measured)
    shown: Answer = CUT_START if lead else PASSED
    if measured.decode_error_count > lead or isinstance(lost, Lost):
        shown = _damage(measured, lost if isinstance(lost, Lost) else None, video)
    elif lost:
        shown = lost
    return together((shown, _damage_to_sound(measured, one.profile)))


def _nothing() -> Answer:
    return seen(
        "no frame could be decoded",
        "every frame decodes",
        "Not one frame of the picture can be decoded: the screen stays black, or the player skips the file.",
        "Ask for the file again, or encode it again from its master.",
    )


def _damage(measured: Measurements, lost: Lost | None, video: VideoFacts) -> Answer:
    told = (
        [_errors(measured.decode_errors, measured.decode_error_count)] if measured.decode_error_count else []
    )
    told += [_lost(lost, video.packets.count)] if lost and video.packets else []
    what = "; ".join(told)
    shows = "shows blocks, smears or a frozen picture" if measured.decode_error_count else _STANDS
    return seen(
        what,
        "every frame decodes",
        f"The picture is damaged ({what}): the screen {shows}.",
        AGAIN,
    )


def _damage_to_sound(measured: Measurements, profile: Profile) -> Answer:
    if not measured.sound_error_count or profile.audio.use == "none":
        return PASSED
    what = _errors(measured.sound_errors, measured.sound_error_count)
    return seen(
        f"{what}, in the sound",
        "all sound decodes",
        f"The sound is damaged ({what}): the display crackles or falls silent there.",
        AGAIN,
    )


def _errors(kept: Sequence[DecodeError], count: int) -> str:
    times = "1 decoding error" if count == 1 else f"{count:,} decoding errors"
    places = _at({error.second for error in kept if error.second is not None})
    return f"{times}, the first{places}" if places and len(kept) < count else times + places


def _lost(lost: Lost, packets: int) -> str:
    many = f"{lost.frames:,} of {packets:,} frames missing"
    return f"{many} ({seconds(round(lost.seconds, 2))})" + _at(lost.places_s)


def _at(places_s: Iterable[float]) -> str:
    places = sorted({round(place_s, 1) for place_s in places_s})
    return f" at {listed([f'{place:.1f} s' for place in places])}" if places else ""


@rule("picture-black", severity="warn", scope="video", depth="full", source="the profile")
def picture_black(one: One) -> Answer:
    """The picture is black for too long: the screen looks switched off, or the display broken.

    Black at the start and black at the end are said apart; what they come to where a loop starts again is
    for loop-seam.
    """
    most = one.profile.loop.black_seconds_max
    if most is None:
        return NOT_APPLICABLE
    measured = decoded(one.file)
    if not isinstance(measured, Measurements):
        return measured
    if measured.black is None:
        return untold("whether its picture is ever black")
    long = [span for span in measured.black if length_s(span) > most]
    return tuple(_black(long, measured.seconds, f"up to {seconds(most)}"))


def _black(spans: Sequence[Span], clip_s: float, wanted: str) -> Iterator[Seen]:
    inside = []
    for span in spans:
        length = seconds(length_s(span))
        if at_start(span) and at_end(span, clip_s):
            yield Seen(
                f"{length} of black from start to end",
                wanted,
                f"The picture is black from start to end ({length}): the screen looks switched off while "
                "this item plays.",
                "Ask for the file again, or take it off the card.",
            )
        elif at_start(span) or at_end(span, clip_s):
            place = "at its start" if at_start(span) else "at its end"
            yield Seen(
                f"{length} of black {place}",
                wanted,
                f"The picture is black for {length} {place}: the screen looks switched off each time that "
                "comes round.",
                f"Cut off the black {place}, or ask for a version without it.",
            )
        else:
            inside.append(span)
    if inside:
        yield _black_inside(inside, wanted)


def _black_inside(spans: Sequence[Span], wanted: str) -> Seen:
    longest, places = _told(spans)
    return Seen(
        f"{longest} of black, {places}",
        wanted,
        f"The picture is black for {longest} ({places}): the screen looks switched off there in every round.",
        "Cut out the black, or ask for a version without it.",
    )


def _told(spans: Sequence[Span]) -> tuple[str, str]:
    """How long the longest stretch is, and where all of them lie."""
    longest = seconds(max(map(length_s, spans)))
    return longest if len(spans) == 1 else f"up to {longest}", listed([from_to(span) for span in spans])


@rule("picture-frozen", severity="warn", scope="video", depth="full", source="the profile")
def picture_frozen(one: One) -> Answer:
    """The picture stands still for too long: to people in front of the screen the player seems to hang.

    A still slide is no damage; only its length is judged. A stretch that is black is for picture-black.
    """
    most = one.profile.loop.frozen_seconds_max
    if most is None:
        return NOT_APPLICABLE
    measured = decoded(one.file)
    if not isinstance(measured, Measurements):
        return measured
    if measured.frozen is None:
        return untold("whether its picture ever stands still")
    still = [part for span in measured.frozen for part in without(span, measured.black or ())]
    long = [span for span in still if length_s(span) > most]
    return (_frozen(long, measured.seconds, f"up to {seconds(most)}"),) if long else PASSED


def without(span: Span, taken: Sequence[Span]) -> tuple[Span, ...]:
    """What is left of a stretch beside the others, which come in order and don't overlap."""
    left, start_s = [], span.start_s
    for other in taken:
        if other.end_s > start_s and other.start_s < span.end_s:
            left.append(Span(start_s, other.start_s))
            start_s = other.end_s
    left.append(Span(start_s, span.end_s))
    return tuple(part for part in left if part.end_s > part.start_s)


def _frozen(spans: Sequence[Span], clip_s: float, wanted: str) -> Seen:
    longest, places = _told(spans)
    if at_start(spans[0]) and at_end(spans[0], clip_s):
        places = "from start to end"
    return Seen(
        f"{longest} without movement, {places}",
        wanted,
        f"The picture stands still for {longest} ({places}): to people in front of the screen the player "
        "seems to hang.",
        "Leave it if a still picture is meant to stand that long; otherwise shorten it, or ask for the file "
        "again.",
    )
