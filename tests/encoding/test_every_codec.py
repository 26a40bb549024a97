"""Every codec and every format that a line can be made for: what comes out passes a small, tight profile."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest

from mediacheck.encoding.codec import CODERS
from mediacheck.encoding.command import typed
from mediacheck.encoding.model import Refused
from mediacheck.encoding.still import still_line
from mediacheck.encoding.video import MASTER, video_lines
from mediacheck.names import AudioCodec, StillFormat, VideoCodec
from mediacheck.profile import Profile
from tests.encoding import masters
from tests.encoding.running import checked, loaded, run_line, told

SCREEN = {"width": 160, "height": 90}
BITS = {"bit_rate_max": 600_000}
PEAKS = {**BITS, "bit_rate_peak_max": 700_000}
PROFILES: dict[VideoCodec, dict[str, object]] = {
    "H.264": {**PEAKS, "profiles": ["Main"], "level_max": "1.3", "gop_seconds_max": 0.5},
    "H.265": {**PEAKS, "profiles": ["Main 10"], "level_max": "2", "bit_depths": [10]},
    "MPEG-4": {**PEAKS, "profiles": ["Advanced Simple"], "frame_rates": [12.5, 25, 50]},
    "MPEG-2": {"bit_rate_max": 1_500_000, "level_max": "Main", "profiles": ["Main"], "frame_rates": [15, 25]},
    "MPEG-1": {"bit_rate_max": 1_500_000, "frame_rates": [29.97]},
    "VP9": {**BITS, "profiles": ["Profile 0"]},
    "AV1": {"bit_depths": [8]},
    "MJPEG": {"bit_rate_max": 2_000_000, "bit_rate_peak_max": 2_500_000},
    "ProRes": {"profiles": ["LT"], "chroma": ["4:2:2"]},
}
CONTAINERS: dict[VideoCodec, list[str]] = {"MPEG-4": ["AVI"], "H.264": ["MPEG-TS"], "H.265": ["MOV"]}


def profile_of(codec: VideoCodec, **audio: object) -> Profile:
    """A profile that takes this codec only."""
    video = {"codecs": {codec: PROFILES[codec]}, "scan": "progressive"}
    if codec in CONTAINERS:
        video["containers"] = CONTAINERS[codec]
    return Profile.model_validate({"id": "small", "screen": SCREEN, "video": video, "audio": audio})


def test_every_codec_is_tried() -> None:
    assert set(PROFILES) == set(CODERS) == set(get_args(VideoCodec)) - {"VC-1"}


@pytest.mark.parametrize("codec", PROFILES)
def test_what_the_line_makes_passes(codec: VideoCodec, ffmpeg: str, tmp_path: Path) -> None:
    profile = profile_of(codec, true_peak_dbtp_max=-1)
    lines = video_lines(profile, codec)
    assert not isinstance(lines, Refused)
    card = tmp_path / "card"
    card.mkdir()
    for name in ("prores.mov", "screen.mkv", "noise.mkv"):
        master = masters.make(ffmpeg, name, (160, 90), tmp_path)
        run_line(typed(lines[0].arguments(MASTER, f"o{lines[0].suffix}")), ffmpeg, master, card / name)
    report = checked(card, loaded(profile))
    assert told(report) == set()
    assert report.verdict == "pass"


def test_the_bits_of_the_picture_are_not_forced_upon_its_sound(ffmpeg: str, tmp_path: Path) -> None:
    """Vorbis follows limits that are not marked as those of the picture."""
    profile = profile_of("VP9", use="required", codecs={"Vorbis": {"bit_rate_max": 96_000}})
    lines = video_lines(profile, "VP9")
    assert not isinstance(lines, Refused)
    (tmp_path / "card").mkdir()
    master = masters.make(ffmpeg, "noise.mkv", (160, 90), tmp_path)
    run_line(typed(lines[0].arguments(MASTER, "o.webm")), ffmpeg, master, tmp_path / "card" / "a.x")
    assert told(checked(tmp_path / "card", loaded(profile))) == set()


def test_a_level_that_holds_two_pictures_only_is_kept(ffmpeg: str, tmp_path: Path) -> None:
    """ITU-T H.264 Table A-1, level 1.1: MaxDpbMbs 900, and 352x288 has 396 macroblocks; MaxMBPS 3,000."""
    limits = {"width": 352, "height": 288, "frame_rates": [5], "codecs": {"H.264": {"level_max": "1.1"}}}
    profile = Profile.model_validate({"id": "small", "video": limits})
    lines = video_lines(profile, "H.264")
    assert not isinstance(lines, Refused)
    line = typed(lines[0].arguments(MASTER, "o.mp4"))
    assert "-refs 2" in line
    (tmp_path / "card").mkdir()
    run_line(line, ffmpeg, masters.make(ffmpeg, "noise.mkv", (176, 144), tmp_path), tmp_path / "card" / "a.x")
    assert told(checked(tmp_path / "card", loaded(profile))) == set()


def test_sound_that_is_required_is_there_also_from_a_silent_master(ffmpeg: str, tmp_path: Path) -> None:
    """A silent track is reported as silent, and nothing else: the page says so beside the line."""
    profile = profile_of("MPEG-4", use="required", codecs={"MP3": {"bit_rate_max": 128_000}})
    lines = video_lines(profile, "MPEG-4")
    assert not isinstance(lines, Refused)
    assert [line.master_sound for line in lines] == ["some", "none"]
    card = tmp_path / "card"
    card.mkdir()
    for line, name in zip(lines, ("prores.mov", "screen.mkv"), strict=True):
        master = masters.make(ffmpeg, name, (160, 90), tmp_path)
        run_line(typed(line.arguments(MASTER, f"o{line.suffix}")), ffmpeg, master, card / name)
    assert told(checked(card, loaded(profile))) == {("audio-silent", "screen.avi")}


TIGHT: dict[AudioCodec, tuple[str, int]] = {
    "AAC": ("MP4", 64_000),
    "MP3": ("MP4", 128_000),
    "MP2": ("MPEG-TS", 128_000),
    "AC-3": ("MPEG-TS", 192_000),
    "Opus": ("MP4", 64_000),
    "Vorbis": ("MKV", 96_000),
}
"""For each sound codec that has a rate to choose: a container, and a limit in bit/s that its rate meets."""


@pytest.mark.parametrize(
    ("codec", "sample_rate"), [*((codec, 48_000) for codec in TIGHT), ("MP3", 44_100), ("AAC", 44_100)]
)
def test_sound_keeps_a_bit_rate_that_is_one_of_its_steps(
    codec: AudioCodec, sample_rate: int, ffmpeg: str, tmp_path: Path
) -> None:
    container, most = TIGHT[codec]
    limits = {codec: {"bit_rate_max": most, "sample_rates": [sample_rate]}}
    video = {"containers": [container], "codecs": {"H.264": {}}}
    profile = Profile.model_validate(
        {"id": "small", "screen": SCREEN, "video": video, "audio": {"use": "required", "codecs": limits}}
    )
    lines = video_lines(profile, "H.264")
    assert not isinstance(lines, Refused)
    (tmp_path / "card").mkdir()
    for name in ("prores.mov", "noise.mkv"):
        master = masters.make(ffmpeg, name, (160, 90), tmp_path)
        text = typed(lines[0].arguments(MASTER, f"o{lines[0].suffix}"))
        run_line(text, ffmpeg, master, tmp_path / "card" / name)
    assert told(checked(tmp_path / "card", loaded(profile))) == set()


@pytest.mark.parametrize("still_format", get_args(StillFormat))
def test_stills_of_every_format_pass(still_format: StillFormat, ffmpeg: str, tmp_path: Path) -> None:
    stills = {"formats": [still_format], "width_max": 200, "height_max": 100, "seconds": 5}
    profile = Profile.model_validate({"id": "small", "screen": SCREEN, "stills": stills})
    line = still_line(profile, still_format)
    assert not isinstance(line, Refused)
    card = tmp_path / "card"
    card.mkdir()
    for place, master in enumerate(masters.make_stills(tmp_path)):
        run_line(typed(line.arguments(MASTER, f"o{line.suffix}")), ffmpeg, master, card / f"{place}.x")
    report = checked(card, loaded(profile))
    assert told(report) == set()
    assert {(f.entry.name[1:], f.kind) for f in report.files} == {(line.suffix, "still")}
