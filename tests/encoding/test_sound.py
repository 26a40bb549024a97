"""Which sound goes into a file: what the player unpacks, what the container carries, within the limits."""

from __future__ import annotations

import pytest

from mediacheck.encoding.model import Refused, arguments_of
from mediacheck.encoding.sound import Sound, parts_for, sound_for
from mediacheck.names import Container
from mediacheck.profile import Audio


@pytest.mark.parametrize(
    ("audio", "container", "expected"),
    [
        ({}, "MP4", Sound("AAC", 48_000, 2, 192_000)),
        ({}, "AVI", Sound("MP3", 48_000, 2, 192_000)),
        ({}, "MPEG-PS", Sound("MP2", 48_000, 2, 192_000)),
        ({}, "WebM", Sound("Opus", 48_000, 2, 192_000)),
        ({"codecs": {"AAC": {"bit_rate_max": 100_000}}}, "MP4", Sound("AAC", 48_000, 2, 75_000)),
        (
            {"codecs": {"AAC": {"sample_rates": [44_100], "channels_max": 1}}},
            "MP4",
            Sound("AAC", 44_100, 1, 176_400),
        ),
        ({"codecs": {"MP3": {"bit_rate_max": 128_000}}}, "MP4", Sound("MP3", 48_000, 2, 112_000)),
        ({"codecs": {"AAC": {"bit_rate_max": 8_000}, "MP3": {}}}, "MP4", Sound("MP3", 48_000, 2, 192_000)),
        ({"codecs": {"PCM": {"sample_rates": [44_100]}}}, "AVI", Sound("PCM", 44_100, 2, None)),
    ],
)
def test_choice(audio: dict[str, object], container: Container, expected: Sound) -> None:
    assert sound_for(Audio.model_validate(audio), container) == expected


@pytest.mark.parametrize(
    ("audio", "container"),
    [
        ({"codecs": {"WMA": {}}}, "MP4"),
        ({"codecs": {}}, "MP4"),
        ({"codecs": {"PCM": {"bit_rate_max": 1}}}, "AVI"),
    ],
)
def test_no_choice(audio: dict[str, object], container: Container) -> None:
    assert isinstance(sound_for(Audio.model_validate(audio), container), Refused)


def test_a_peak_below_what_the_limiter_goes_down_to_is_reached_by_turning_down() -> None:
    """ffmpeg's alimiter takes limits from 0.0625, which is -24 dB."""
    audio = Audio(true_peak_dbtp_max=-30.0)
    filters = arguments_of(tuple(parts_for(Sound("AAC", 48_000, 2, 192_000), audio)))[1]
    assert "alimiter=limit=0.0631:" in filters
    assert ",volume=-11.0dB," in filters
