"""A new file as programs see it that nobody here made: ffprobe, ffmpeg's decoder, pyloudnorm, Pillow.

It must not use anything of mediacheck but the profile, which says what was wanted.
"""

from __future__ import annotations

import json
import subprocess
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pyloudnorm
import pytest
from numpy.typing import NDArray
from PIL import Image

from mediacheck.profile import Profile, Stills

Stream = Mapping[str, Any]
LIMIT_S = 60.0
RATE_HZ = 48_000
CODECS = {"H.264": "h264", "H.265": "hevc", "MPEG-2": "mpeg2video", "AAC": "aac", "MP2": "mp2"}
CONTAINERS = {".mp4": "mp4", ".mov": "mov", ".mkv": "matroska", ".ts": "mpegts"}
PROFILES = {"h264": {"High", "Main", "Constrained Baseline"}, "hevc": {"Main"}, "mpeg2video": {"Main"}}
LEVEL_3 = {"h264": 30, "hevc": 90}
"""As these codecs write it: ten times the level, and thirty times (ITU-T H.264 A.3.1; H.265 A.4.1)."""
ALLOWED_RATES = {Fraction(24), Fraction(25), Fraction(30), Fraction(30000, 1001)}
BT709 = {"color_space": "bt709", "color_primaries": "bt709", "color_transfer": "bt709"}
STANDARD_RANGE = ("tv", "unknown", None)
APART_S = 0.1
ORIENTATION = 0x0112
HDR_MARKS = ("Mastering display metadata", "Content light level metadata")


@dataclass(frozen=True, slots=True)
class Programs:
    """Paths of the two."""

    ffmpeg: str
    ffprobe: str


def holds(path: Path, profile: Profile, change: str, programs: Programs) -> None:
    """Whether the file is what this player takes; AssertionError where it is not."""
    if path.suffix in (".jpg", ".png"):
        _still(path, profile.stills)
        return
    assert decoded(path, programs.ffmpeg, "-v", "warning", "-f", "null", "-").stderr == b""
    told = _told(path, programs.ffprobe)
    assert CONTAINERS[path.suffix] in told["format"]["format_name"].split(",")
    pictures = [stream for stream in told["streams"] if stream["codec_type"] == "video"]
    sounds = [stream for stream in told["streams"] if stream["codec_type"] == "audio"]
    assert len(pictures) == 1
    assert len(told["streams"]) == 1 + len(sounds)
    _picture(pictures[0], told["frames"][0], profile)
    if change == "picture" and pictures[0]["codec_name"] in LEVEL_3:
        assert pictures[0].items() >= BT709.items()
    _sounds(sounds, profile)
    if sounds and change in ("sound", "picture"):
        _together(pictures[0], sounds[0])
    if sounds and profile.audio.loudness_lufs is not None:
        _loud_enough(path, programs.ffmpeg, profile.audio.loudness_lufs)


def decoded(path: Path, ffmpeg: str, *out: str) -> subprocess.CompletedProcess[bytes]:
    """One call of the decoder."""
    level = out[:2] if out[0] == "-v" else ("-v", "error")
    rest = out[2:] if out[0] == "-v" else out
    command = [ffmpeg, "-nostdin", *level, "-noautorotate", "-i", str(path), *rest]
    return subprocess.run(command, capture_output=True, check=True, timeout=LIMIT_S)


def heard(path: Path, ffmpeg: str) -> NDArray[np.float64]:
    """The sound as (count, 2), from the second on at which the file begins."""
    out = ("-vn", "-af", "aresample=async=1:first_pts=0", "-ac", "2", "-ar", str(RATE_HZ), "-f", "f32le", "-")
    return np.frombuffer(decoded(path, ffmpeg, *out).stdout, "<f4").astype(np.float64).reshape(-1, 2)


def _told(path: Path, ffprobe: str) -> Mapping[str, Any]:
    """Container, streams, and the first frame of the picture."""
    show = ("-show_streams", "-show_format", "-show_frames", "-read_intervals", "%+#30")
    command = [ffprobe, "-v", "error", *show, "-of", "json", str(path)]
    told: dict[str, Any] = json.loads(subprocess.run(command, capture_output=True, check=True).stdout)
    told["frames"] = [frame for frame in told["frames"] if frame["media_type"] == "video"]
    return told


def _picture(stream: Stream, frame: Stream, profile: Profile) -> None:
    (wanted,) = profile.video.codecs or {}
    codec = CODECS[wanted]
    assert (stream["codec_name"], stream["pix_fmt"]) == (codec, "yuv420p")
    assert stream["profile"] in PROFILES[codec]
    assert stream["level"] <= LEVEL_3.get(codec, stream["level"])
    assert (stream["width"], stream["height"]) == (320, 180)
    assert stream.get("sample_aspect_ratio", "1:1") == "1:1"
    assert stream.get("field_order", "progressive") == "progressive"
    assert frame["interlaced_frame"] == 0
    assert frame["key_frame"] == 1
    assert (
        Fraction(stream["r_frame_rate"]) == Fraction(stream["avg_frame_rate"]) or stream["nb_frames"] == "1"
    )
    assert Fraction(stream["r_frame_rate"]) in ALLOWED_RATES
    assert stream.get("color_range") in STANDARD_RANGE
    for side in (*stream.get("side_data_list", ()), *frame.get("side_data_list", ())):
        assert side["side_data_type"] not in HDR_MARKS
        assert not side.get("rotation")


def _sounds(streams: Sequence[Stream], profile: Profile) -> None:
    use, codecs = profile.audio.use, profile.audio.codecs or {}
    assert len(streams) in {"none": (0,), "required": (1,)}.get(use, (0, 1))
    for stream in streams:
        ((name, limits),) = codecs.items()
        assert stream["codec_name"] == CODECS[name]
        assert int(stream["sample_rate"]) in (limits.sample_rates or ())
        assert stream["channels"] <= (limits.channels_max or 2)


def _together(picture: Stream, sound: Stream) -> None:
    """Begin and end."""
    for moment in (_start_s, _end_s):
        assert moment(picture) == pytest.approx(moment(sound), abs=APART_S)


def _start_s(stream: Stream) -> float:
    return float(stream["start_time"])


def _end_s(stream: Stream) -> float:
    return _start_s(stream) + float(stream["duration"])


def _loud_enough(path: Path, ffmpeg: str, lufs: float) -> None:
    sound = heard(path, ffmpeg)
    if np.abs(sound).max() > 0:
        assert pyloudnorm.Meter(RATE_HZ).integrated_loudness(sound) == pytest.approx(lufs, abs=0.5)


def _still(path: Path, stills: Stills) -> None:
    with Image.open(path) as image:
        image.load()
        assert image.format == ("PNG" if path.suffix == ".png" else "JPEG")
        assert image.mode == "RGB"
        assert image.width <= (stills.width_max or 0)
        assert image.height <= (stills.height_max or 0)
        assert "progressive" not in image.info
        assert image.getexif().get(ORIENTATION, 1) == 1
