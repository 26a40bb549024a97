"""ffprobe's answers and our own, brought to the same names and words so that they can be compared.

It must not use `mediacheck.media.codecs`: this is a second translation, made for the comparison.
"""

from __future__ import annotations

import json
import subprocess
from collections.abc import Mapping
from dataclasses import asdict
from fractions import Fraction
from pathlib import Path
from typing import Any

from mediacheck.media.facts import MediaFacts
from tests.media.truth import Answers

CONTAINERS = {"mpegts": "MPEG-TS", "mpeg": "MPEG-PS", "avi": "AVI", "asf": "WMV"}
CONTAINERS |= {"mp3": "MP3", "wav": "WAV", "flac": "FLAC", "ogg": "Ogg"}
CODECS = {
    "h264": "H.264",
    "hevc": "H.265",
    "mpeg4": "MPEG-4",
    "mpeg2video": "MPEG-2",
    "mpeg1video": "MPEG-1",
    "vp9": "VP9",
    "av1": "AV1",
    "mjpeg": "MJPEG",
    "prores": "ProRes",
    "wmv1": "WMV1",
    "wmv2": "WMV2",
    "aac": "AAC",
    "mp3": "MP3",
    "ac3": "AC-3",
    "mp2": "MP2",
    "vorbis": "Vorbis",
    "opus": "Opus",
    "flac": "FLAC",
    "wmav1": "WMA",
    "wmav2": "WMA",
}
H264_LEVEL_IDC = (10, 11, 12, 13, 20, 21, 22, 30, 31, 32, 40, 41, 42, 50, 51, 52)
H264_LEVELS = (
    "1",
    "1.1",
    "1.2",
    "1.3",
    "2",
    "2.1",
    "2.2",
    "3",
    "3.1",
    "3.2",
    "4",
    "4.1",
    "4.2",
    "5",
    "5.1",
    "5.2",
)
LEVELS: Mapping[str, Mapping[int, str]] = {
    "h264": dict(zip(H264_LEVEL_IDC, H264_LEVELS, strict=True)),
    "hevc": {30: "1", 60: "2", 63: "2.1", 90: "3", 93: "3.1", 120: "4", 123: "4.1"},
    "mpeg2video": {10: "Low", 8: "Main", 6: "High-1440", 4: "High"},
    "mpeg4": {1: "1", 2: "2", 3: "3", 4: "4", 5: "5"},
    "av1": {0: "2", 1: "2.1", 4: "3", 5: "3.1", 8: "4"},
}
"""Numbers in the headers to levels: H.264 A.3.1, H.265 A.4.1 (thirtieths), H.262 8.3, AV1 Annex A."""
MPEG2_422_LEVELS = {5: "Main", 2: "High"}
CHROMAS = {"420p": "4:2:0", "422p": "4:2:2", "444p": "4:4:4", "411p": "4:1:1", "440p": "4:4:0"}
SCANS = {"progressive": "progressive", "tt": "interlaced", "bb": "interlaced", "tb": "interlaced"}
SCANS |= {"bt": "interlaced"}


def probe(ffprobe: str, location: Path) -> dict[str, Any]:
    """What ffprobe prints of a file."""
    command = [ffprobe, "-v", "error", "-of", "json", "-show_streams", "-show_format", str(location)]
    done = subprocess.run(command, capture_output=True, timeout=60, check=True)
    printed: dict[str, Any] = json.loads(done.stdout)
    return printed


def ours(facts: MediaFacts) -> Answers:
    """Our facts by the names of the truth lines, and besides: level, duration and bit rates."""
    answers: Answers = {"container": facts.container.name if facts.container else None}
    if facts.video:
        answers |= asdict(facts.video)
        for name in ("packets", "reference_frames", "level_needed", "level_reason", "frame_rate_mode"):
            del answers[name]
    answers["sound"] = tuple((sound.codec, sound.sample_rate, sound.channels) for sound in facts.audio)
    answers["sound_profiles"] = tuple(sound.profile for sound in facts.audio)
    answers["sound_bit_rates"] = tuple(sound.bit_rate for sound in facts.audio)
    if facts.video is None:
        answers["duration"] = facts.duration
    return answers


def theirs(printed: Mapping[str, Any], file_name: str) -> Answers:
    """The same from ffprobe. The file name tells WebM from MKV: ffprobe does not."""
    streams = printed["streams"]
    pictures = [stream for stream in streams if stream["codec_type"] == "video"]
    sounds = [stream for stream in streams if stream["codec_type"] == "audio"]
    answers: Answers = {"container": _container(printed["format"], file_name)}
    if pictures:
        answers |= _picture(pictures[0])
    answers["sound"] = tuple(
        (_codec(sound), int(sound["sample_rate"]), int(sound["channels"])) for sound in sounds
    )
    answers["sound_profiles"] = tuple(sound.get("profile") for sound in sounds)
    answers["sound_bit_rates"] = tuple(_number(sound.get("bit_rate")) for sound in sounds)
    answers["duration"] = _seconds((pictures or sounds)[0], printed["format"])
    return answers


def _container(wrapping: Mapping[str, Any], file_name: str) -> str:
    name: str = wrapping["format_name"]
    if name.startswith("mov,"):
        return "MOV" if wrapping.get("tags", {}).get("major_brand", "qt  ") == "qt  " else "MP4"
    if name.startswith("matroska"):
        return "WebM" if file_name.endswith(".webm") else "MKV"
    return CONTAINERS[name]


def _codec(stream: Mapping[str, Any]) -> str:
    name: str = stream["codec_name"]
    return "PCM" if name.startswith("pcm_") else CODECS[name]


def _picture(stream: Mapping[str, Any]) -> Answers:
    even, average = stream["r_frame_rate"], stream["avg_frame_rate"]
    profile = stream.get("profile")
    return {
        "codec": _codec(stream),
        "profile": profile.removesuffix(" Profile") if profile else None,
        "level": _level(stream),
        "width": stream["width"],
        "height": stream["height"],
        "pixel_aspect": _ratio(stream.get("sample_aspect_ratio", "0:1")),
        "rotation": _clockwise(stream),
        "frame_rate": Fraction(even if even == average else average),
        "bit_depth": _bits(stream["pix_fmt"]),
        "chroma": CHROMAS[stream["pix_fmt"].removeprefix("yuv").removeprefix("j").split("p")[0] + "p"],
        "scan": SCANS.get(stream.get("field_order", "unknown")),
        "bit_rate": _number(stream.get("bit_rate")),
        "colour_primaries": stream.get("color_primaries"),
        "colour_transfer": stream.get("color_transfer"),
    }


def _level(stream: Mapping[str, Any]) -> str | None:
    known = LEVELS.get(stream["codec_name"], {})
    if stream["codec_name"] == "mpeg2video" and stream["profile"] == "4:2:2":
        known = MPEG2_422_LEVELS
    return known[stream["level"]] if known else None


def _ratio(text: str) -> Fraction:
    across, _, down = text.partition(":")
    return Fraction(int(across), int(down)) or Fraction(1)


def _clockwise(stream: Mapping[str, Any]) -> int:
    """ffprobe counts counter-clockwise."""
    turns = [side["rotation"] for side in stream.get("side_data_list", []) if "rotation" in side]
    return -turns[0] % 360 if turns else 0


def _bits(pixel_format: str) -> int:
    """yuv420p10le has 10."""
    bits = pixel_format.rpartition("p")[2].removesuffix("le").removesuffix("be")
    return int(bits or 8)


def _number(text: str | None) -> int | None:
    return None if text is None else int(text)


def _seconds(stream: Mapping[str, Any], wrapping: Mapping[str, Any]) -> Fraction:
    """The stream's own length; in Matroska its end, which a tag gives, less its start; else the file's."""
    if "duration" in stream:
        return Fraction(stream["duration"])
    if "DURATION" in stream.get("tags", {}):
        hours, minutes, seconds = map(Fraction, stream["tags"]["DURATION"].split(":"))
        return 3600 * hours + 60 * minutes + seconds - Fraction(stream["start_time"])
    return Fraction(wrapping["duration"])
