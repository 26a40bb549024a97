"""The model of a profile: what it accepts, what is impossible, and that it survives JSON and back."""

from __future__ import annotations

from fractions import Fraction
from types import MappingProxyType
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from mediacheck.names import RULE_NAMES, AudioCodec, Chroma, Scan, VideoCodec
from mediacheck.profile import CodecLimits, Layout, Loop, Profile, RuleSetting, Screen, Video
from mediacheck.profile_values import parse_level, parse_rate


@pytest.mark.parametrize(
    ("written", "exact"),
    [
        (25, Fraction(25)),
        (25.0, Fraction(25)),
        ("25", Fraction(25)),
        (12.5, Fraction(25, 2)),
        (23.976, Fraction(24000, 1001)),
        (23.98, Fraction(24000, 1001)),
        (29.97, Fraction(30000, 1001)),
        ("29.97", Fraction(30000, 1001)),
        (59.94, Fraction(60000, 1001)),
        ("30000/1001", Fraction(30000, 1001)),
        (Fraction(30000, 1001), Fraction(30000, 1001)),
        (1000, Fraction(1000)),
    ],
)
def test_rates_are_exact_and_rounded_spellings_mean_the_ntsc_rates(written: object, exact: Fraction) -> None:
    assert parse_rate(written) == exact


@pytest.mark.parametrize(
    "written", [0, -25, 1000.5, "30/0", "x", "", True, None, [25], "1e999999999", float("inf"), float("nan")]
)
def test_what_is_no_frame_rate_is_refused_at_once(written: object) -> None:
    with pytest.raises(ValueError, match="a frame rate above 0 and up to 1000"):
        parse_rate(written)


@given(st.fractions(min_value=Fraction(1, 100), max_value=1000, max_denominator=1001))
def test_a_rate_survives_being_written(rate: Fraction) -> None:
    assert parse_rate(str(parse_rate(rate))) == parse_rate(rate)


@pytest.mark.parametrize(
    ("written", "level"),
    [
        (4.1, "4.1"),
        ("4.1", "4.1"),
        (4, "4"),
        (4.0, "4"),
        ("4.0", "4"),
        ("1b", "1b"),
        ("High-1440", "High-1440"),
    ],
)
def test_levels_are_written_as_in_the_standards(written: object, level: str) -> None:
    assert parse_level(written) == level


@pytest.mark.parametrize("written", [0, 41, "4.11", "L4.1", "", True, None, (4,), -4.1])
def test_what_is_no_level_is_refused(written: object) -> None:
    with pytest.raises(ValueError, match="a level as the standard writes it"):
        parse_level(written)


def test_a_profile_that_says_nothing_restricts_nothing() -> None:
    profile = Profile(id="a")
    assert profile.model_dump(exclude_defaults=True) == {"id": "a"}
    assert profile.video.limits_for("H.264") == CodecLimits()
    assert profile.layout.media_root is None
    assert profile.rules == {}


def test_limits_under_a_codec_take_the_place_of_shared_ones_and_the_rest_is_shared() -> None:
    video = Video(
        width=1920,
        height_max=1080,
        bit_rate_max=20,
        frame_rates=(Fraction(25),),
        codecs={"H.264": CodecLimits(width_max=1280, bit_rate_max=10, profiles=("High",))},
    )
    assert video.limits_for("H.264") == CodecLimits(
        width_max=1280, height_max=1080, bit_rate_max=10, frame_rates=(Fraction(25),), profiles=("High",)
    )
    assert video.limits_for("VP9") == CodecLimits(
        width=1920, height_max=1080, bit_rate_max=20, frame_rates=(Fraction(25),)
    )


@pytest.mark.parametrize(
    ("folder", "root"),
    [("/", ""), ("", ""), ("/media", "media"), ("media/loop/", "media/loop"), (None, None)],
)
def test_the_media_folder_is_named_as_entries_name_folders(folder: str | None, root: str | None) -> None:
    assert Layout(media_folder=folder).media_root == root


@pytest.mark.parametrize("folder", ["..", "media/../..", "\\media", "./media", "media//loop"])
def test_a_folder_that_is_no_place_on_the_card_is_refused(folder: str) -> None:
    with pytest.raises(ValidationError, match="a path on the card with forward slashes"):
        Layout(media_folder=folder)


@pytest.mark.parametrize(
    ("part", "values", "key"),
    [
        (Screen, {"width": 1920}, "width"),
        (Screen, {"height": 1080}, "height"),
        (Video, {"width": 1920, "width_max": 1920}, "width_max"),
        (CodecLimits, {"height": 1, "height_max": 2}, "height_max"),
        (Loop, {"items_min": 2, "items_max": 1}, "items_min"),
        (Loop, {"seconds_min": 2.5, "seconds_max": 2.25}, "seconds_min"),
    ],
)
def test_values_that_cannot_stand_together_are_refused_with_the_key(
    part: type[Any], values: dict[str, Any], key: str
) -> None:
    with pytest.raises(ValidationError) as refused:
        part(**values)
    (error,) = refused.value.errors()
    assert (error["type"], error["ctx"]["key"]) == ("impossible", key)


@pytest.mark.parametrize(
    "values",
    [
        {"loop": {"items_min": 1, "items_max": 1}},
        {"loop": {"seconds_min": 0, "seconds_max": 0.5}},
        {"video": {"width": 1, "height_max": 2}},
        {"stills": {"formats": ()}},
        {"video": {"containers": (), "codecs": {}}},
        {"layout": {"other_files": ()}},
    ],
)
def test_what_is_only_unusual_is_accepted(values: dict[str, Any]) -> None:
    profile = Profile(id="a", **values)
    dumped = profile.model_dump(exclude_unset=True)
    assert dumped == {"id": "a", **values}


@pytest.mark.parametrize(
    "values",
    [
        {"card": {"file_systems": ()}},
        {"card": {"partition_tables": ()}},
        {"video": {"frame_rates": ()}},
        {"video": {"bit_depths": ()}},
        {"video": {"chroma": ()}},
        {"video": {"codecs": {"H.264": {"profiles": ()}}}},
        {"audio": {"codecs": {"AAC": {"sample_rates": ()}}}},
    ],
)
def test_a_list_that_nothing_could_satisfy_is_refused(values: dict[str, Any]) -> None:
    with pytest.raises(ValidationError) as refused:
        Profile(id="a", **values)
    assert [error["type"] for error in refused.value.errors()] == ["too_short"]


def test_a_profile_cannot_be_changed_all_the_way_down() -> None:
    profile = Profile(
        id="a", video=Video(codecs={"H.264": CodecLimits(level_max="4.1")}), rules={"video-gop": "off"}
    )
    with pytest.raises(ValidationError, match="frozen"):
        profile.screen.overscan_percent = 3.0
    assert isinstance(profile.rules, MappingProxyType)
    assert isinstance(profile.video.codecs, MappingProxyType)
    with pytest.raises(TypeError):
        profile.video.codecs["VP9"] = CodecLimits()  # type: ignore[index]


def test_what_is_handed_in_can_change_later_without_touching_the_profile() -> None:
    rules: dict[Any, Any] = {"video-gop": "off"}
    profile = Profile(id="a", rules=rules)
    rules["video-gop"] = "fail"
    assert profile.rules == {"video-gop": "off"}


rates = st.sampled_from([23.976, 24, 25, 29.97, 30, 50, 59.94, "48000/1001", 12.5])
limits = st.fixed_dictionaries(
    {},
    optional={
        "level_max": st.sampled_from([4.1, "4.1", 5, "6.2"]),
        "width": st.integers(1, 65_536),
        "height_max": st.integers(1, 65_536),
        "frame_rates": st.lists(rates, min_size=1).map(tuple),
        "bit_rate_max": st.integers(1, 10**9),
        "chroma": st.lists(st.sampled_from(get_args(Chroma)), min_size=1).map(tuple),
        "scan": st.sampled_from(get_args(Scan)),
        "gop_seconds_max": st.floats(0.01, 1000),
    },
)
profiles = st.builds(
    Profile,
    id=st.from_regex(r"\A[a-z0-9][a-z0-9.-]*\Z"),
    title=st.text(max_size=20),
    video=st.fixed_dictionaries(
        {}, optional={"codecs": st.dictionaries(st.sampled_from(get_args(VideoCodec)), limits)}
    ),
    audio=st.fixed_dictionaries(
        {"true_peak_dbtp_max": st.none() | st.floats(-40, 3)},
        optional={
            "codecs": st.dictionaries(
                st.sampled_from(get_args(AudioCodec)), st.just({"sample_rates": (44_100, 48_000)})
            )
        },
    ),
    rules=st.dictionaries(st.sampled_from(RULE_NAMES), st.sampled_from(get_args(RuleSetting))),
)


@given(profiles)
def test_a_profile_survives_json_and_back(profile: Profile) -> None:
    assert Profile.model_validate_json(profile.model_dump_json()) == profile
    assert Profile.model_validate(profile.model_dump()) == profile
