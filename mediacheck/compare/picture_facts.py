"""The facts of moving pictures that a comparison looks at, in the order of the rules about them.

It must not compare: each fact only says how it is read, worded and weighed.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from mediacheck.compare.fact import (
    ENCODE_AGAIN,
    NOTABLE_RATE,
    Fact,
    Value,
    beyond,
    bit_rate_words,
    ladder,
    less,
    plain,
)
from mediacheck.loop import File
from mediacheck.media.facts import VideoFacts
from mediacheck.names import LEVELS
from mediacheck.profile_text import rate_text, value_text

NOTABLE_GOP, NOTABLE_GOP_S = 1.5, 0.5
SAME_RATE = Fraction(1, 2000)
"""Frame rates this near are one rate, measured on other clocks; 24 and 23.976 are 1/1000 apart."""


def _video(read: Callable[[VideoFacts], Any]) -> Callable[[File], Value]:
    return lambda file: read(file.media.video) if file.media and file.media.video else None


def _codec(file: File) -> str | None:
    return file.media.video.codec if file.media and file.media.video else None


def _same_codec(good: File, bad: File) -> bool:
    return _codec(good) is not None and _codec(good) == _codec(bad)


def _other_rate(good: Fraction, bad: Fraction) -> bool:
    return abs(good - bad) > SAME_RATE * max(good, bad)


def _lower_level(good: tuple[str, str], bad: tuple[str, str]) -> bool:
    steps = LEVELS.get(bad[0], ())
    return good[0] == bad[0] and ladder(*steps)(good[1], bad[1])


def _lower_profile(good: tuple[str, str], bad: tuple[str, str]) -> bool:
    """Each profile of a line holds what those before it hold (H.264 A.2, H.265 A.3; from memory)."""
    lines = (("Constrained Baseline", "Main", "High"), ("Main", "Main 10"))
    return good[0] == bad[0] and any(ladder(*line)(good[1], bad[1]) for line in lines)


def _with_codec(read: Callable[[VideoFacts], str | None]) -> Callable[[File], Value]:
    return _video(lambda video: (video.codec, found) if (found := read(video)) else None)


def _size(size: tuple[int, int]) -> str:
    return f"{size[0]} x {size[1]}"


def _rate(rate: Fraction) -> str:
    return f"{rate_text(rate)} frames per second"


def _seconds(seconds: float) -> str:
    return value_text("seconds", round(float(seconds), 2))


def _colour(video: VideoFacts) -> str | None:
    if video.colour_primaries is None and video.colour_transfer is None:
        return None
    return f"{video.colour_primaries or 'not said'}, {video.colour_transfer or 'not said'}"


def _both_tell_colour(good: File, bad: File) -> bool:
    """Many files leave it out, and players take that as usual."""
    return None not in (_video(_colour)(good), _video(_colour)(bad))


PICTURE_FACTS: tuple[Fact, ...] = (
    Fact(
        "further pictures inside",
        "picture",
        "video-extra-stream",
        lambda file: file.media.extra_video_streams if file.media and file.media.video else None,
        "it has {} beside the first",
        "the player may show the wrong one",
        "Write the file again with one picture stream only.",
        words=lambda count: f"{count} more picture stream{'' if count == 1 else 's'}",
        gentler=less,
    ),
    Fact(
        "the picture's codec",
        "picture",
        "video-codec",
        _codec,
        "its picture is packed as {}",
        "a player that cannot unpack that shows black or skips the file",
        ENCODE_AGAIN,
    ),
    Fact(
        "the codec's profile",
        "picture",
        "video-profile",
        _with_codec(lambda video: video.profile),
        "its picture uses the profile {} (the set of coding tools)",
        "a player made for a smaller set shows black, blocks or nothing",
        ENCODE_AGAIN,
        words=lambda profile: f"{profile[0]} {profile[1]}",
        gentler=_lower_profile,
        comparable=_same_codec,
    ),
    Fact(
        "the level",
        "picture",
        "video-level",
        _with_codec(lambda video: video.level),
        "its picture asks for {} (how much work it is to unpack)",
        "a player made for less stutters or shows nothing",
        ENCODE_AGAIN,
        words=lambda level: f"{level[0]} level {level[1]}",
        gentler=_lower_level,
        comparable=_same_codec,
    ),
    Fact(
        "the bit depth",
        "picture",
        "video-bit-depth",
        _video(lambda video: video.bit_depth),
        "its colours have {}",
        "players made for 8 bits show black or wrong colours",
        ENCODE_AGAIN,
        words=lambda bits: f"{bits} bits",
        gentler=less,
    ),
    Fact(
        "the fineness of colour",
        "picture",
        "video-chroma",
        _video(lambda video: video.chroma),
        "its colour is stored as {}",
        "players made for 4:2:0 show black or wrong colours",
        ENCODE_AGAIN,
        gentler=plain("4:2:0"),
    ),
    Fact(
        "the size of the picture",
        "picture",
        "video-resolution",
        _video(lambda video: (video.width, video.height)),
        "its picture is {} pixels",
        "the player may skip it, or show it stretched, cut off or with black bars",
        ENCODE_AGAIN,
        words=_size,
    ),
    Fact(
        "the frame rate",
        "picture",
        "video-frame-rate",
        _video(lambda video: video.frame_rate),
        "it runs at {}",
        "the player may skip it, stutter or judder",
        ENCODE_AGAIN,
        words=_rate,
        differs=_other_rate,
    ),
    Fact(
        "the rhythm of the frames",
        "picture",
        "video-frame-rate-variable",
        _video(lambda video: video.frame_rate_mode),
        "the rhythm of its frames is {}",
        "players stutter, or lose the sound's place, where the rhythm changes",
        "Encode this file again with a constant frame rate.",
        words=lambda mode: "even" if mode == "constant" else "uneven",
        gentler=plain("constant"),
    ),
    Fact(
        "the bit rate",
        "picture",
        "video-bit-rate",
        _video(lambda video: video.bit_rate),
        "its picture takes {} on average",
        "a player that cannot read or unpack as much stutters or stops",
        ENCODE_AGAIN,
        words=bit_rate_words,
        differs=beyond(NOTABLE_RATE),
        gentler=less,
    ),
    Fact(
        "the scan",
        "picture",
        "video-interlaced",
        _video(lambda video: video.scan),
        "its frames are {}",
        "moving edges show as combs, or the player skips it",
        "Encode this file again with whole frames (progressive).",
        words=lambda scan: "whole (progressive)" if scan == "progressive" else "woven of halves (interlaced)",
        gentler=plain("progressive"),
    ),
    Fact(
        "the turn mark",
        "picture",
        "video-rotation",
        _video(lambda video: video.rotation % 360),
        "it is marked to be turned by {}",
        "players that ignore the mark show it lying on its side, and others turn it",
        "Encode this file again, turned as on the good card.",
        words=lambda degrees: f"{degrees} degrees",
        gentler=plain(0),
    ),
    Fact(
        "the shape of its pixels",
        "picture",
        "video-pixel-aspect",
        _video(lambda video: video.pixel_aspect),
        "its pixels are {}",
        "players that ignore the shape show the picture stretched",
        "Encode this file again with square pixels.",
        words=lambda aspect: "square" if aspect == 1 else f"{aspect.numerator}:{aspect.denominator}",
        gentler=plain(Fraction(1)),
    ),
    Fact(
        "the range of brightness and colour",
        "picture",
        "video-colour",
        _video(_colour),
        "its colours are coded as {}",
        "a usual screen shows colours made for another kind of screen pale or wrong",
        ENCODE_AGAIN,
        gentler=plain("bt709, bt709"),
        comparable=_both_tell_colour,
    ),
    Fact(
        "the distance of keyframes",
        "picture",
        "video-gop",
        _video(lambda video: video.packets.longest_gop_s if video.packets else None),
        "its keyframes (whole pictures to start from) are up to {} apart",
        "the player may start it late or show blocks after a fault",
        ENCODE_AGAIN,
        words=_seconds,
        differs=beyond(NOTABLE_GOP, NOTABLE_GOP_S),
        gentler=less,
    ),
)
