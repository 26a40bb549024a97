"""The names of formats are those of the profile file, whichever reader found them."""

from __future__ import annotations

from typing import get_args

import pytest

from mediacheck.media import codecs
from mediacheck.media.colour import PRIMARIES, TRANSFERS
from mediacheck.names import AudioCodec, VideoCodec


def test_every_name_is_one_that_a_profile_can_use() -> None:
    """Both readers' tables lead to the same list; the second has MPEG Video and MPEG Audio elsewhere."""
    video, audio = set(get_args(VideoCodec)), set(get_args(AudioCodec))
    assert set(codecs.VIDEO.values()) == video
    assert set(codecs.AUDIO.values()) | {codecs.audio_codec("pcm_s16le")} == audio
    assert set(codecs.MEDIAINFO_VIDEO.values()) | {"MPEG-1", "MPEG-2"} == video
    assert set(codecs.MEDIAINFO_AUDIO.values()) | {"MP2", "MP3"} == audio


def test_libavcodec_knows_every_name_in_the_tables() -> None:
    """A misspelt key would never be met."""
    import av

    known = {av.codec.Codec(name, "r").canonical_name for name in av.codecs_available if _reads(name)}
    # Two of the rarer WMA decoders may be left out of a build.
    assert (set(codecs.VIDEO) | set(codecs.AUDIO)) - known <= {"wmalossless", "wmavoice"}


def _reads(name: str) -> bool:
    import av

    try:
        return bool(av.codec.Codec(name, "r"))
    except ValueError:
        return False


@pytest.mark.parametrize(
    ("name", "codec"), [("vc1", "VC-1"), ("wmv3", "VC-1"), ("h264", "H.264"), ("theora", "THEORA")]
)
def test_video_codecs(name: str, codec: str) -> None:
    """VC-1 has two names: its simple and main profiles go by wmv3. An unnamed codec keeps its own name."""
    assert codecs.video_codec(name) == codec


@pytest.mark.parametrize(
    ("name", "codec"), [("pcm_s16le", "PCM"), ("pcm_f32be", "PCM"), ("wmapro", "WMA"), ("eac3", "EAC3")]
)
def test_audio_codecs(name: str, codec: str) -> None:
    assert codecs.audio_codec(name) == codec


@pytest.mark.parametrize(
    ("codec", "profile", "number", "level"),
    [
        ("H.264", "High", 41, "4.1"),
        ("H.264", "High", 40, "4"),
        ("H.264", "High", 9, "1b"),
        ("H.265", "Main", 123, "4.1"),
        ("H.265", "Main", 150, "5"),
        ("MPEG-2", "Main", 8, "Main"),
        ("MPEG-2", "Main", 4, "High"),
        ("MPEG-2", "4:2:2", 5, "Main"),
        ("MPEG-2", "4:2:2", 2, "High"),
        ("AV1", "Main", 0, "2"),
        ("AV1", "Main", 9, "4.1"),
        ("AV1", "Main", 31, None),
        ("MPEG-4", "Simple", 3, "3"),
        ("VP9", "Profile 0", 41, "4.1"),
        ("MJPEG", None, -99, None),
        ("H.264", "High", None, None),
    ],
)
def test_levels_in_headers(codec: str, profile: str | None, number: int | None, level: str | None) -> None:
    """H.264 A.3.1 (tenths), H.265 A.4.1 (thirtieths), H.262 8.3, AV1 Annex A (2 + n/4, n mod 4; 31: any)."""
    assert codecs.header_level(codec, profile, number) == level


@pytest.mark.parametrize(
    ("codec", "name", "profile"),
    [
        ("MPEG-4", "Advanced Simple Profile", "Advanced Simple"),
        ("H.264", "High", "High"),
        ("MJPEG", "Baseline", None),
        ("VP9", None, None),
    ],
)
def test_profiles(codec: str, name: str | None, profile: str | None) -> None:
    assert codecs.codec_profile(codec, name) == profile


def test_colour_code_points_of_the_standard() -> None:
    """ITU-T H.273 Tables 2 and 3; the names are those that ffprobe prints (see test_against_ffprobe)."""
    assert {code: PRIMARIES[code] for code in (1, 9, 12)} == {1: "bt709", 9: "bt2020", 12: "smpte432"}
    assert {code: TRANSFERS[code] for code in (1, 13, 16, 18)} == {
        1: "bt709",
        13: "iec61966-2-1",
        16: "smpte2084",
        18: "arib-std-b67",
    }
    assert 2 not in PRIMARIES
    assert 2 not in TRANSFERS
