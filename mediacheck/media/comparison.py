"""Where the two readers differ on something that a rule uses.

It must not read files or judge which reader is right: a player's own reader may side with either.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from mediacheck.media.facts import Disagreement, MediaFacts
from mediacheck.media.mediainfo import SecondOpinion

ASPECT_TOLERANCE = Fraction(1, 100)
RATE_TOLERANCE = Fraction(2, 1000)
"""Relative. Wide enough for 29.97 printed with three digits, narrow enough for 25 against 24."""
DURATION_TOLERANCE_S = Fraction(1, 2)
DURATION_TOLERANCE = Fraction(2, 100)


def disagreements(first: MediaFacts, second: SecondOpinion) -> tuple[Disagreement, ...]:
    """Each fact that both readers give and on which they differ."""
    return tuple(_container(first, second)) + tuple(_picture(first, second)) + tuple(_sound(first, second))


def _container(first: MediaFacts, second: SecondOpinion) -> Iterator[Disagreement]:
    if first.container:
        yield from _unequal("container", first.container.name, second.container)


def _picture(first: MediaFacts, second: SecondOpinion) -> Iterator[Disagreement]:
    video = first.video
    if video is None:
        return
    yield from _unequal("picture codec", video.codec, second.video_codec)
    yield from _unequal("width in pixels", video.width, second.width)
    yield from _unequal("height in pixels", video.height, second.height)
    yield from _unequal("rotation in degrees", video.rotation, second.rotation)
    yield from _unequal("bit depth", video.bit_depth, second.bit_depth)
    yield from _unequal("chroma format", video.chroma, second.chroma)
    yield from _unequal("scan", video.scan, second.scan)
    yield from _apart("pixel shape", video.pixel_aspect, second.pixel_aspect, ASPECT_TOLERANCE, Fraction(0))
    yield from _apart(
        "length in seconds", video.duration, second.duration, DURATION_TOLERANCE, DURATION_TOLERANCE_S
    )
    if video.frame_rate_mode == "constant":
        yield from _apart("frame rate", video.frame_rate, second.frame_rate, RATE_TOLERANCE, Fraction(0))


def _sound(first: MediaFacts, second: SecondOpinion) -> Iterator[Disagreement]:
    if not first.audio:
        return
    track = first.audio[0]
    yield from _unequal("sound codec", track.codec, second.audio_codec)
    yield from _unequal("sample rate in Hz", track.sample_rate, second.sample_rate)
    yield from _unequal("sound channels", track.channels, second.channels)


def _unequal(fact: str, first: object, second: object) -> Iterator[Disagreement]:
    if first is not None and second is not None and first != second:
        yield Disagreement(fact, str(first), str(second))


def _apart(
    fact: str, first: Fraction | None, second: Fraction | None, relative: Fraction, absolute: Fraction
) -> Iterator[Disagreement]:
    if first is None or second is None:
        return
    if abs(first - second) > max(absolute, relative * max(first, second)):
        yield Disagreement(fact, f"{float(first):.3f}", f"{float(second):.3f}")
