"""Rules about the rhythm of the picture and the data that it takes, judged from facts.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from mediacheck.media.facts import PacketFacts, VideoFacts
from mediacheck.rules.bucket import Dry, first_dry
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
from mediacheck.rules.streams import bit_rate, choice, limits, over, picture, unsaid
from mediacheck.rules.wording import number

RATE_TOLERANCE = Fraction(2, 10_000)
"""Rounding in containers. 30 and 30000/1001 are five times as far apart and never mixed up."""

UNSCANNED = NotChecked("the packets of the picture could not be listed", expected=False)


@rule(
    "video-frame-rate",
    severity="fail",
    scope="video",
    source="the profile; CTA-861 rates and their 1000/1001",
)
def video_frame_rate(one: One) -> Answer:
    """The picture has a frame rate that the player or screen does not take: it skips the file or judders.

    A rate that varies is the finding of `video-frame-rate-variable` alone.
    """
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    allowed = limits(one, video).frame_rates
    if allowed is None or video.frame_rate_mode == "variable":
        return NOT_APPLICABLE
    if video.frame_rate is None:
        return unsaid("its frame rate")
    if any(abs(video.frame_rate - rate) <= rate * RATE_TOLERANCE for rate in allowed):
        return PASSED
    wanted = choice([number(rate) for rate in allowed])
    found = number(video.frame_rate)
    return seen(
        f"{found} frames per second",
        f"{wanted} frames per second",
        f"The picture runs at {found} frames per second and the player takes {wanted}: it skips the file, or "
        "movement judders.",
        f"Encode the picture again at {wanted} frames per second.",
        fixable=True,
    )


@rule("video-frame-rate-variable", severity="fail", scope="video", source=COMMON_PRACTICE)
def video_frame_rate_variable(one: One) -> Answer:
    """The frames come at uneven times, as in phone and screen recordings: movement judders, sound drifts."""
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    if video.frame_rate_mode is None:
        return _few_frames(video)
    if video.frame_rate_mode == "constant":
        return PASSED
    return seen(
        _spread(video.packets),
        "constant",
        "The frames come at uneven times, as a phone or screen recorder makes them: on a simple player "
        "movement judders and sound drifts away from the picture.",
        "Encode the picture again at a constant frame rate.",
        fixable=True,
    )


def _few_frames(video: VideoFacts) -> Answer:
    """One or two frames have no rhythm that could vary."""
    if video.packets is not None and 0 < video.packets.count <= 2:
        return NOT_APPLICABLE
    return unsaid("whether its frame rate is constant")


def _spread(packets: PacketFacts | None) -> str:
    if packets is None:
        return "variable"
    least, most = packets.shortest_interval_s * 1000, packets.longest_interval_s * 1000
    return f"variable ({number(round(least, 1))} to {number(round(most, 1))} ms between frames)"


@rule("video-bit-rate", severity="fail", scope="video", source="the profile")
def video_bit_rate(one: One) -> Answer:
    """The picture takes more data on average than the player can keep up with: it stutters or skips."""
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    most = limits(one, video).bit_rate_max
    if most is None:
        return NOT_APPLICABLE
    if video.bit_rate is None:
        return unsaid("its bit rate")
    if video.bit_rate <= most:
        return PASSED
    found, limit = over(video.bit_rate, most)
    return seen(
        found,
        f"up to {limit}",
        f"The picture takes {found} on average and the player keeps up with {limit}: it stutters or skips "
        "this file.",
        f"Encode the picture again at less than {limit}.",
        fixable=True,
    )


@rule(
    "video-bit-rate-peak",
    severity="warn",
    scope="video",
    source="leaky bucket after ITU-T H.264 Annex C (from memory), with the profile's rate and buffer",
)
def video_bit_rate_peak(one: One) -> Answer:
    """A busy place takes more data than the player has read ahead: the picture stutters there every round.

    A bucket of the greatest rate times `buffer_seconds` is full at the start and filled at that rate; each
    frame's bits leave at its decode time. One round of the loop is looked at.
    """
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    rate = _fill_rate(one, video)
    if rate is None:
        return NOT_APPLICABLE
    if video.packets is None:
        return UNSCANNED
    seconds = one.profile.player.buffer_seconds
    try:
        dry = first_dry(video.packets.decode_times_s, video.packets.sizes_bytes, rate, rate * seconds)
    except ValueError:
        return NotChecked("the packets of the picture carry no usable times", expected=False)
    return PASSED if dry is None else _runs_dry(dry, rate, seconds)


def _fill_rate(one: One, video: VideoFacts) -> float | None:
    """bit/s at which the player's buffer fills: the lower of what it unpacks and what it reads."""
    peak, read = limits(one, video).bit_rate_peak_max, one.profile.player.read_mbit_s
    rates = [rate for rate in (peak, None if read is None else read * 10**6) if rate is not None]
    return min(rates, default=None)


def _runs_dry(dry: Dry, rate: float, seconds: float) -> Answer:
    at, short = f"{dry.second:.1f} s", f"{max(0.01, dry.short_bits / 10**6):,.2f} Mbit"
    return seen(
        f"runs dry at {at}, {short} short",
        f"up to {bit_rate(rate)} over {number(seconds)} s",
        f"At {at} the picture needs {short} more than the player has read ahead: it stutters there in every "
        "round of the loop.",
        f"Encode the picture again with a greatest rate of {bit_rate(rate)} and a buffer of "
        f"{number(rate * seconds / 10**6)} Mbit.",
        fixable=True,
    )


@rule("video-gop", severity="warn", scope="video", source="the profile; what shows: common practice")
def video_gop(one: One) -> Answer:
    """Keyframes (whole pictures to start from) are missing or far apart: a fault stays on the screen.

    A file that does not begin with a keyframe begins grey or torn on every player.
    """
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    if video.packets is None:
        return UNSCANNED
    return (*_start(video.packets), *_distance(video, video.packets, limits(one, video).gop_seconds_max))


def _start(packets: PacketFacts) -> Iterator[Seen]:
    if not packets.starts_with_keyframe:
        yield Seen(
            "no keyframe at the start",
            "a keyframe at the start",
            "The file does not begin with a keyframe (a whole picture to start from): each time it comes "
            "round, the screen first shows grey or torn pictures.",
            "Encode the picture again, or cut it at a keyframe.",
            fixable=True,
        )


def _distance(video: VideoFacts, packets: PacketFacts, most: float | None) -> Iterator[Seen]:
    frame_s = float(1 / video.frame_rate) if video.frame_rate else packets.longest_interval_s
    if most is not None and packets.longest_gop_s > most + frame_s:
        found = f"{number(round(packets.longest_gop_s, 2))} s"
        yield Seen(
            f"{found} between keyframes",
            f"up to {number(most)} s",
            f"Keyframes (whole pictures to start from) are up to {found} apart and the player wants one "
            f"every {number(most)} s: after a fault or a jump the picture stays torn until the next one.",
            f"Encode the picture again with a keyframe at least every {number(most)} s.",
            fixable=True,
        )
