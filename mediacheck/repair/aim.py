"""What to aim at for one master: the profile narrowed to what suits it, and the target within that.

It must not write arguments of ffmpeg.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from mediacheck.encoding.codec import CODERS
from mediacheck.encoding.model import Refused, Target
from mediacheck.encoding.rate import rates_for
from mediacheck.encoding.video import target_for, video_codecs
from mediacheck.media.facts import VideoFacts
from mediacheck.names import Container, VideoCodec
from mediacheck.profile import CodecLimits, Profile

SENSIBLE_MOST = Fraction(60)
"""Frames a second that a master keeps where the profile does not limit them (common practice, no source)."""
NEARLY = Fraction(1, 500)
"""29.97 and 30 are this near: the eye does not see one frame more in half a minute (common practice)."""


@dataclass(frozen=True, slots=True)
class Aim:
    """The codec, the container and the target for one master."""

    codec: VideoCodec
    container: Container
    target: Target


def aim_for(video: VideoFacts, profile: Profile) -> Aim | Refused:
    """The first of the player's codecs, those that most players know before others, in which a file can be
    made."""
    refused = Refused("the player shows no moving pictures")
    for codec in video_codecs(profile):
        for narrowed in _narrowed(video, profile, codec):
            found = target_for(narrowed, codec)
            if not isinstance(found, Refused):
                return Aim(codec, found[0], found[1])
            refused = found
    return refused


def _narrowed(video: VideoFacts, profile: Profile, codec: VideoCodec) -> Iterator[Profile]:
    """The profile with one frame rate at a time, the best for this master first."""
    limits = profile.video.limits_for(codec)
    for rate in rates(video, limits, profile, CODERS[codec].rates if codec in CODERS else None):
        narrow = limits.model_copy(update={"frame_rates": (rate,)})
        video_part = profile.video.model_copy(update={"codecs": {codec: narrow}, "frame_rates": None})
        yield profile.model_copy(update={"video": video_part})


def rates(
    video: VideoFacts, limits: CodecLimits, profile: Profile, known: frozenset[Fraction] | None
) -> tuple[Fraction, ...]:
    """Frame rates to try for a master, the one with the evenest cadence first.

    Each frame shown once, or every other one, or each one twice, looks even; else the nearest rate at or
    above repeats the fewest frames (arithmetic).
    """
    usual = rates_for(limits, profile.screen, known)
    own = video.frame_rate
    if limits.frame_rates is None and own is not None and own <= SENSIBLE_MOST:
        steady = video.frame_rate_mode != "variable" and (known is None or own in known)
        return (own, *usual) if steady else usual
    if own is None:
        return usual
    return tuple(sorted(usual, key=lambda rate: _unevenness(own, rate)))


def _unevenness(own: Fraction, rate: Fraction) -> tuple[int, Fraction, Fraction]:
    """Sort key: the same, a part, a multiple, the nearest above, the nearest below; of two that are nearly
    the same, the one that is so exactly."""
    if abs(rate / own - 1) <= NEARLY:
        return 0, Fraction(1), abs(rate - own)
    part, multiple = _whole(own / rate), _whole(rate / own)
    if part:
        return 1, Fraction(part), abs(own / rate - part)
    if multiple:
        return 2, Fraction(multiple), abs(rate / own - multiple)
    return (3, rate - own, Fraction(0)) if rate > own else (4, own - rate, Fraction(0))


def _whole(ratio: Fraction) -> int:
    """The whole number that a ratio nearly is; 0: none."""
    nearest = round(ratio)
    return nearest if nearest and abs(ratio / nearest - 1) <= NEARLY else 0
