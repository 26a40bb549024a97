"""A profile as text: every key is shown, with its unit, and what is not restricted is said so."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from mediacheck.profile import Audio, CodecLimits, Player, Profile, Screen, Setting, SoundLimits, Video
from mediacheck.profile_text import Line, Section, profile_sections, rate_text, screen_text, value_text


def sections(profile: Profile) -> dict[str, dict[str, str]]:
    """The values of each section by key."""
    return {part.name: {line.key: line.value for line in part.lines} for part in profile_sections(profile)}


@pytest.mark.parametrize(
    ("key", "value", "text"),
    [
        ("width", None, "not restricted"),
        ("width", 1920, "1920 pixels"),
        ("width_max", 3840, "3840 pixels"),
        ("refresh_hz", 59.94, "59.94 Hz"),
        ("overscan_percent", 2.5, "2.5 %"),
        ("turned_degrees", 90, "90 degrees"),
        ("buffer_seconds", 1.0, "1 s"),
        ("read_mbit_s", 80.0, "80 Mbit/s"),
        ("capacity_max_gb", 32.0, "32 GB"),
        ("cluster_bytes_max", 32768, "32,768 bytes"),
        ("free_percent_min", 5.0, "5 %"),
        ("name_length_max", 64, "64 characters"),
        ("bit_rate_max", 20_000_000, "20 Mbit/s"),
        ("bit_rate_max", 320_000, "320 kbit/s"),
        ("bit_rate_peak_max", 12_500_000, "12.5 Mbit/s"),
        ("gop_seconds_max", 10.5, "10.5 s"),
        ("frame_rates", (Fraction(24000, 1001), Fraction(25)), "23.976, 25 frames per second"),
        ("bit_depths", (8, 10), "8, 10 bits"),
        ("sample_rates", (44_100, 48_000), "44100, 48000 Hz"),
        ("channels_max", 2, "2"),
        ("loudness_lufs", -23.0, "-23 LUFS"),
        ("loudness_tolerance_lu", 1.0, "1 LU"),
        ("true_peak_dbtp_max", -1.0, "-1 dBTP"),
        ("formats", (), "none"),
        ("codecs", {"H.264": None, "VP9": None}, "H.264, VP9"),
        ("subfolders", True, "yes"),
        ("seamless", False, "no"),
        ("order", "disk", "disk"),
        ("input", "", "(none)"),
    ],
)
def test_values_carry_the_unit_of_their_key(key: str, value: Any, text: str) -> None:
    assert value_text(key, value) == text


@pytest.mark.parametrize(
    ("rate", "text"),
    [
        (Fraction(24000, 1001), "23.976"),
        (Fraction(30000, 1001), "29.97"),
        (Fraction(60000, 1001), "59.94"),
        (Fraction(25), "25"),
        (Fraction(25, 2), "12.5"),
    ],
)
def test_rates_are_written_as_people_write_them(rate: Fraction, text: str) -> None:
    assert rate_text(rate) == text


@pytest.mark.parametrize(
    ("screen", "text"),
    [
        (Screen(), "any size"),
        (Screen(width=1920, height=540), "1920x540"),
        (Screen(width=1920, height=1080, turned_degrees=90), "1920x1080, turned 90 degrees"),
    ],
)
def test_a_screen_in_a_few_words(screen: Screen, text: str) -> None:
    assert screen_text(screen) == text


def test_every_key_of_an_empty_profile_is_shown() -> None:
    shown = sections(Profile(id="a"))
    model = {
        name: dict.fromkeys(getattr(Profile(id="a"), name).__class__.model_fields)
        for name in ("screen", "player", "card", "layout", "video", "audio", "stills", "loop")
    }
    assert {name: dict.fromkeys(lines) for name, lines in shown.items()} == {**model, "rules": {}}
    assert shown["stills"] == {
        "formats": "not restricted",
        "width_max": "not restricted",
        "height_max": "not restricted",
        "seconds": "not restricted",
    }


def test_every_shown_key_says_what_it_means() -> None:
    profile = Profile(
        id="a", video=Video(codecs={"H.264": CodecLimits()}), audio=Audio(codecs={"AAC": SoundLimits()})
    )
    silent = [
        f"{part.name}.{line.key}"
        for part in profile_sections(profile)
        for line in part.lines
        if not line.meaning
    ]
    assert silent == []


def test_under_a_codec_stand_the_limits_that_hold_for_it() -> None:
    video = Video(
        width=1920, codecs={"H.264": CodecLimits(bit_rate_max=1_000_000), "VP9": CodecLimits(width=640)}
    )
    shown = sections(Profile(id="a", video=video))
    assert shown["video"] == {"containers": "not restricted", "codecs": "H.264, VP9"}
    h264, vp9 = shown["video.codecs.H.264"], shown["video.codecs.VP9"]
    assert (h264["width"], h264["bit_rate_max"]) == ("1920 pixels", "1 Mbit/s")
    assert (vp9["width"], vp9["bit_rate_max"]) == ("640 pixels", "not restricted")
    assert set(h264) == set(CodecLimits.model_fields)


def test_settings_and_changed_rules_have_a_line_each() -> None:
    profile = Profile(
        id="a",
        player=Player(settings=(Setting(name="Repeat", value="all", why="Or it stops."),)),
        rules={"video-gop": "off", "file-junk": "fail"},
    )
    by_name = {part.name: part for part in profile_sections(profile)}
    assert by_name["player.settings"] == Section(
        "player.settings",
        "What to set in the player's own menu before it is left alone.",
        (Line("Repeat", "all", "Or it stops."),),
    )
    assert by_name["rules"].lines == (Line("video-gop", "off", ""), Line("file-junk", "fail", ""))
    assert sections(profile)["player"]["settings"] == "1, listed below"
