"""Our facts equal what was asked of the encoder, and what ffprobe (Debian's ffmpeg 5.1) says.

Every difference that remains stands in `EXPLAINED` with its reason; one that no longer occurs must go.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any, get_args

import pytest

from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from mediacheck.names import AudioCodec, Container, VideoCodec
from tests.conftest import ClipFactory
from tests.media.footage import real_footage, sample_clips
from tests.media.probe import ours, probe, theirs
from tests.media.recipe import Variant
from tests.media.truth import Answers
from tests.media.variants import VARIANTS

NO_ORDER = "ffprobe 5.1 takes no field order from this codec's own headers; libmediainfo or we do"
COUNTED = "ffprobe repeats the container's nominal rate; ours is what the times of the pictures come to"
LAST_PICTURE = "ffprobe's length leaves out how long the last picture stays; ours counts it"
AVI_BYTES = "ffprobe divides by the time up to the last picture, so that one picture more is in a second"
AVERAGED = "a guess from the first frames' headers in ffprobe; ours is the bytes of all of them"
JPEG_PROCESS = "Baseline is the JPEG process, which every MJPEG stream has; it is no profile of a player"
FRAME_HEADER = "ffprobe 5.1 does not read the colours in ProRes frame headers"

EXPLAINED: Mapping[str, Mapping[str, str]] = {
    "h264-level-1b.mp4": {
        "level": "ffprobe prints level_idc 11; with constraint_set3 that is level 1b (H.264 A.3.1)"
    },
    "h264-uneven.mp4": {"bit_rate": LAST_PICTURE, "duration": LAST_PICTURE, "frame_rate": LAST_PICTURE},
    "h264-uneven.mkv": {"frame_rate": COUNTED},
    "h264-fragments-dash.mp4": {"bit_rate": "ffprobe 5.1 counts the bytes of the first fragments only"},
    "h264.m2ts": {"sound_bit_rates": AVERAGED},
    "h265.ts": {"scan": NO_ORDER, "sound_bit_rates": AVERAGED},
    "h265-pq-12-11.ts": {"scan": NO_ORDER},
    "mpeg1.mpg": {
        "scan": NO_ORDER,
        "bit_rate": "ffprobe prints the header's code for a variable rate (3FFFFh) as if it were a rate",
    },
    "mpeg4.mp4": {"scan": NO_ORDER},
    "mpeg4-tff.mp4": {"scan": NO_ORDER},
    "mpeg4-b-frames.avi": {"scan": NO_ORDER, "bit_rate": AVI_BYTES},
    "mpeg4-pixel-12-11.avi": {"scan": NO_ORDER, "bit_rate": AVI_BYTES},
    "mjpeg.avi": {"scan": NO_ORDER, "bit_rate": AVI_BYTES, "profile": JPEG_PROCESS},
    "mjpeg.mov": {"profile": JPEG_PROCESS},
    "prores-hq.mov": {"colour_primaries": FRAME_HEADER, "colour_transfer": FRAME_HEADER},
    "night.avi": {"scan": NO_ORDER, "bit_rate": AVI_BYTES},
}
"""File to fact to the reason why ours is right and still differs from ffprobe's."""

DISPUTED: Mapping[str, Mapping[str, str]] = {}
"""File to fact to the reason why libavformat and libmediainfo differ on a file that is in order."""

PRINTED = Fraction(1, 1_000_000)
"""ffprobe prints times with six digits."""
TOLERANCE_S: Mapping[str, tuple[Fraction, str]] = {
    "MKV": (Fraction(1, 1000), "Matroska rounds times to 1 ms"),
    "WebM": (Fraction(1, 1000), "Matroska rounds times to 1 ms"),
    "AVI": (Fraction(1, 25), "the header's count of pictures holds an empty one where sound starts later"),
    "WMV": (Fraction(1, 20), "ffprobe repeats the play time in the header, which is that of the sound"),
}
"""How far lengths may differ by container, and why; all others agree as far as ffprobe prints them."""
SOUND_TOLERANCE_S = Fraction(1, 20)
"""Encoders pad sound to whole frames: 1152 samples of MP3 are 26 ms, and a start-up frame goes before."""
BIT_RATE_ROUNDING = 1
"""ffprobe cuts off where we round."""

each_variant = pytest.mark.parametrize("variant", VARIANTS, ids=lambda variant: variant.file_name)
each_other_clip = pytest.mark.parametrize(
    "location", [*sample_clips(), *real_footage()], ids=lambda location: location.name
)


@cache
def facts_of(location: Path) -> MediaFacts:
    facts = read_facts(location, location.name)
    assert isinstance(facts, MediaFacts)
    return facts


def differences(found: Answers, probed: Answers) -> set[str]:
    """The names of the facts on which we and ffprobe differ; what neither has is no fact."""
    return {name for name in found.keys() | probed.keys() if not _same(name, found, probed)}


def _same(name: str, found: Answers, probed: Answers) -> bool:
    one: Any = found.get(name)
    other: Any = probed.get(name)
    if name == "bit_rate":
        return other is None or abs(one - other) <= BIT_RATE_ROUNDING
    if name == "sound_bit_rates":
        return all(there is None or here == there for here, there in zip(one, other, strict=True))
    if name == "duration":
        return bool(abs(one - other) <= TOLERANCE_S.get(found["container"], (PRINTED, ""))[0])
    return bool(one == other)


@each_variant
def test_facts_are_what_was_asked_for(variant: Variant, clip: ClipFactory) -> None:
    """Container, codec, size, rate, rotation, pixel shape, bits, chroma, scan, colours and sound."""
    facts = facts_of(clip(variant))
    found = ours(facts)
    if facts.video:
        found["frame_rate_mode"] = facts.video.frame_rate_mode
    assert {name: found[name] for name in variant.truth} == variant.truth


@each_variant
def test_the_length_is_what_was_asked_for(variant: Variant, clip: ClipFactory) -> None:
    """The picture's to the millisecond, also where an edit list cuts; sound comes in whole frames."""
    facts = facts_of(clip(variant))
    if facts.video:
        assert facts.video.duration is not None
        assert abs(facts.video.duration - variant.length_s) <= Fraction(1, 1000)
    for length in (facts.duration, *(sound.duration for sound in facts.audio)):
        assert length is not None
        assert abs(length - variant.length_s) <= 2 * SOUND_TOLERANCE_S


@each_variant
def test_facts_equal_those_of_ffprobe(variant: Variant, clip: ClipFactory, ffprobe: str) -> None:
    location = clip(variant)
    probed = theirs(probe(ffprobe, location), location.name)
    assert differences(ours(facts_of(location)), probed) == set(EXPLAINED.get(location.name, {}))


@each_other_clip
def test_facts_of_sample_and_real_clips_equal_those_of_ffprobe(location: Path, ffprobe: str) -> None:
    probed = theirs(probe(ffprobe, location), location.name)
    assert differences(ours(facts_of(location)), probed) == set(EXPLAINED.get(location.name, {}))


@each_variant
def test_the_two_readers_agree(variant: Variant, clip: ClipFactory) -> None:
    location = clip(variant)
    disputed = {differing.fact for differing in facts_of(location).disagreements}
    assert disputed == set(DISPUTED.get(location.name, {}))


@each_other_clip
def test_the_two_readers_agree_on_sample_and_real_clips(location: Path) -> None:
    assert facts_of(location).disagreements == ()


def test_no_explanation_is_left_over() -> None:
    """Reasons are kept for clips that exist; whether they occur is checked with each clip."""
    known = {variant.file_name for variant in VARIANTS} | {path.name for path in sample_clips()}
    assert set(EXPLAINED) | set(DISPUTED) <= known


def test_the_variants_cover_every_format_that_a_profile_can_name() -> None:
    """All but VC-1, which no free encoder writes: its names are in `test_codecs`."""
    containers = {variant.truth["container"] for variant in VARIANTS}
    codecs = {variant.truth.get("codec") for variant in VARIANTS}
    sounds = {sound[0] for variant in VARIANTS for sound in variant.truth["sound"]}
    assert set(get_args(Container)) - containers == set()
    assert set(get_args(VideoCodec)) - codecs == {"VC-1"}
    assert set(get_args(AudioCodec)) - sounds == set()
    assert len(VARIANTS) >= 40
