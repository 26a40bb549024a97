"""What a line aims at: every valid profile gives lines or a reason, and the numbers keep the tables."""

from __future__ import annotations

from fractions import Fraction
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.encoding.codec import CODERS
from mediacheck.encoding.command import typed
from mediacheck.encoding.model import Frame, Refused, Tools
from mediacheck.encoding.still import StillLine, still_formats, still_line
from mediacheck.encoding.video import MASTER, VideoLine, video_codecs, video_lines
from mediacheck.media.levels import level_order
from mediacheck.names import LEVELS, PROFILES, Container, VideoCodec
from mediacheck.profile import Profile
from mediacheck.profile_files import bundled_names, load_profile

RATES = ("23.976", "24", "25", "29.97", "30", "50", "59.94", "60", "12.5", "120")
CODECS = get_args(VideoCodec)


def maybe(some: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | some


def a_few(names: tuple[Any, ...]) -> st.SearchStrategy[Any]:
    return st.lists(st.sampled_from(names), min_size=1, max_size=4, unique=True)


PIXELS = st.integers(1, 9000)
BITS = st.integers(1, 200_000_000)
PICTURE = {
    "frame_rates": maybe(a_few(RATES)),
    "bit_rate_max": maybe(BITS),
    "bit_rate_peak_max": maybe(BITS),
    "bit_depths": maybe(a_few((8, 10, 12))),
    "chroma": maybe(a_few(("4:0:0", "4:2:0", "4:2:2", "4:4:4"))),
    "scan": st.sampled_from((None, None, None, "progressive", "interlaced")),
    "gop_seconds_max": maybe(st.floats(0.001, 30)),
}
EXACT = st.fixed_dictionaries({"width": maybe(PIXELS), "height": maybe(PIXELS)})
AT_MOST = st.fixed_dictionaries({"width_max": maybe(PIXELS), "height_max": maybe(PIXELS)})


@st.composite
def profiles(draw: st.DrawFn) -> Profile:
    codecs = {}
    for codec in draw(a_few(CODECS)):
        codecs[codec] = {
            "level_max": draw(maybe(st.sampled_from(LEVELS[codec]))) if codec in LEVELS else None,
            "profiles": draw(maybe(a_few(PROFILES[codec]))) if codec in PROFILES else None,
        }
    picture = draw(st.fixed_dictionaries(PICTURE))
    screen = {"turned_degrees": draw(st.sampled_from((0, 90, 180, 270)))}
    if draw(st.booleans()):
        screen |= {"width": draw(PIXELS), "height": draw(PIXELS)}
    return Profile.model_validate(
        {
            "id": "any",
            "screen": screen,
            "player": {
                "buffer_seconds": draw(st.floats(0.01, 60)),
                "read_mbit_s": draw(maybe(st.floats(0.1, 200))),
            },
            "video": {
                **picture,
                **draw(EXACT | AT_MOST),
                "codecs": codecs,
                "containers": draw(maybe(a_few(get_args(Container)))),
            },
            "audio": {
                "use": draw(st.sampled_from(("none", "allowed", "required"))),
                "codecs": draw(maybe(st.just({"AAC": {"bit_rate_max": 64_000}, "WMA": {}}))),
                "loudness_lufs": draw(maybe(st.floats(-70, 0))),
                "true_peak_dbtp_max": draw(maybe(st.floats(-40, 3))),
            },
            "stills": {"width_max": draw(maybe(PIXELS))},
        }
    )


@given(profiles())
def test_any_profile_gives_for_each_codec_lines_that_can_be_typed_or_a_reason(profile: Profile) -> None:
    for codec in video_codecs(profile):
        found = video_lines(profile, codec)
        if isinstance(found, Refused):
            assert found.reason
            continue
        assert len(found) == (2 if profile.audio.use == "required" else 1)
        for line in found:
            assert typed(line.arguments(MASTER, f"o{line.suffix}")).startswith("ffmpeg ")
            keeps_its_limits(profile, line)


@given(profiles())
def test_any_profile_gives_for_each_still_a_line_that_can_be_typed_or_a_reason(profile: Profile) -> None:
    for still_format in still_formats(profile):
        line = still_line(profile, still_format)
        if isinstance(line, StillLine):
            assert typed(line.arguments(MASTER, "o.jpg")).startswith("ffmpeg ")
            assert line.frame.width <= (profile.stills.width_max or 9000)
        else:
            assert line.reason


def keeps_its_limits(profile: Profile, line: VideoLine) -> None:
    """What the target says against what the profile says."""
    limits, target = profile.video.limits_for(line.codec), line.target
    frame, budget = target.frame, target.budget
    assert frame.width % 2 == frame.height % 2 == 0
    assert limits.width in (None, frame.width)
    assert limits.height in (None, frame.height)
    assert frame.width <= (limits.width_max or frame.width)
    assert frame.height <= (limits.height_max or frame.height)
    assert limits.frame_rates is None or {target.rate, *line.other_rates} <= set(limits.frame_rates)
    assert limits.bit_depths is None or target.tools.bit_depth in limits.bit_depths
    assert limits.chroma is None or target.tools.chroma in limits.chroma
    slowest = min((target.rate, *line.other_rates))
    assert (target.keyframe_frames - 1) / slowest <= (limits.gop_seconds_max or 2)
    if line.codec in ("AV1", "ProRes"):
        assert limits.bit_rate_max is limits.bit_rate_peak_max is None
    for most in filter(None, (limits.bit_rate_max, limits.bit_rate_peak_max)):
        assert budget.rate_kbit_s * 1000 <= most
    for level in filter(None, (target.level,)):
        highest = limits.level_max or LEVELS[line.codec][-1]
        assert (level_order(line.codec, level) or 0) <= (level_order(line.codec, highest) or 0)


def line_for(codec: VideoCodec, **video: object) -> VideoLine:
    screen = video.pop("screen", {})
    codecs = {codec: {key: video.pop(key) for key in ("profiles", "level_max") if key in video}}
    profile = Profile.model_validate({"id": "x", "screen": screen, "video": {"codecs": codecs, **video}})
    lines = video_lines(profile, codec)
    assert not isinstance(lines, Refused), lines
    return lines[0]


@pytest.mark.parametrize(
    ("profile", "level", "size", "rate", "expected"),
    [
        # ITU-T H.264 Table A-1: level 4 MaxBR 20,000 and MaxCPB 25,000, times Table A-2's 1,250 or 1,000;
        # wanted are 0.4 bits for each pixel: 24,883 kbit/s for 1920x1080 at 30
        ("High", None, (1920, 1080), 30, ("4", 24_883, 24_883)),
        ("Main", "4", (1920, 1080), 30, ("4", 20_000, 24_883)),
        # level 3.1: MaxBR and MaxCPB 14,000, Main
        ("Main", "3.1", (1280, 720), 30, ("3.1", 11_059, 11_059)),
        # level 3: 10,000; 720x576 at 25 asks for 40,500 macroblocks a second, exactly MaxMBPS
        ("Constrained Baseline", "3", (720, 576), 25, ("3", 4_147, 4_147)),
        # level 1.3: MaxBR 768, MaxCPB 2,000
        ("Main", "1.3", (352, 288), 25, ("1.3", 768, 1_013)),
    ],
)
def test_h264_keeps_table_a_1(
    profile: str, level: str | None, size: tuple[int, int], rate: int, expected: tuple[str, int, int]
) -> None:
    video = {"width": size[0], "height": size[1], "frame_rates": [rate], "profiles": [profile]}
    target = line_for("H.264", **video, level_max=level).target
    assert (target.level, target.budget.rate_kbit_s, target.budget.buffer_kbit) == expected


def test_h265_keeps_tables_a_8_and_a_9_in_the_main_tier() -> None:
    """Level 4: MaxBR 12,000 and MaxCPB 12,000; level 3.1: 10,000."""
    target = line_for("H.265", width=1920, height=1080, level_max="4").target
    assert (target.budget.rate_kbit_s, target.budget.buffer_kbit) == (12_000, 12_000)
    target = line_for("H.265", width_max=1920, height_max=1080, level_max="3.1").target
    assert target.frame == Frame(1280, 720, bars=False)
    assert target.budget.rate_kbit_s == 8_294


def test_mpeg2_keeps_its_level() -> None:
    """ITU-T H.262 Table 8-13 and 8-14: Main 15 Mbit/s, 1,835,008 bits of buffer."""
    target = line_for("MPEG-2", width=720, height=576, frame_rates=[25], level_max="Main").target
    assert (target.budget.rate_kbit_s, target.budget.buffer_kbit) == (8_294, 1_835)


@pytest.mark.parametrize(
    ("video", "size", "rate"),
    [
        # a level that holds less than the screen: the largest clean step that fits (Table A-1)
        ({"screen": {"width": 3840, "height": 2160}, "level_max": "4.1"}, (1920, 1080), 30),
        ({"screen": {"width": 1920, "height": 1080}, "level_max": "3.1"}, (1280, 720), 30),
        # an exact size that the level holds at a lower rate only
        ({"width": 1920, "height": 1080, "level_max": "4", "frame_rates": [25, 50]}, (1920, 1080), 25),
        ({"width": 720, "height": 576, "level_max": "3", "frame_rates": [30, 25]}, (720, 576), 25),
        # one side exact: the other follows the screen, else 16:9
        ({"width": 1280, "screen": {"width": 1024, "height": 600}}, (1280, 750), 30),
        ({"width": 1280}, (1280, 720), 30),
        # 50 Hz screens
        ({"screen": {"width": 640, "height": 360, "refresh_hz": 50}}, (640, 360), 25),
        # nothing up to 30 allowed
        ({"width": 640, "height": 360, "frame_rates": [60, 50]}, (640, 360), 50),
    ],
)
def test_size_and_rate(video: dict[str, object], size: tuple[int, int], rate: int) -> None:
    target = line_for("H.264", **video).target
    assert ((target.frame.width, target.frame.height), target.rate) == (size, Fraction(rate))


def test_other_rates_are_those_that_the_level_holds() -> None:
    """1920x1080 needs level 4.2 above 30.1 frames a second (ITU-T H.264 Table A-1)."""
    rates = [24, 25, 30, 50, 60]
    line = line_for("H.264", width=1920, height=1080, frame_rates=rates, level_max="4.1")
    assert (line.target.rate, *line.other_rates) == (Fraction(30), Fraction(24), Fraction(25))
    assert line.target.keyframe_frames == 48  # two seconds at 24


@pytest.mark.parametrize(
    ("codec", "limits", "reason"),
    [
        ("VC-1", {}, "no encoder"),
        ("H.264", {"scan": "interlaced"}, "interlaced"),
        ("H.264", {"width": 1365, "height": 768}, "even numbers"),
        ("H.264", {"width": 1920, "height": 1080, "level_max": "3"}, "no level"),
        ("H.264", {"containers": ["WMV"]}, "WMV"),
        ("H.264", {"profiles": ["Extended"]}, "Extended"),
        ("H.264", {"bit_depths": [12]}, "combinations"),
        ("H.264", {"width": 1920, "height": 1080, "bit_rate_max": 100_000}, "too little"),
        ("MPEG-2", {"frame_rates": [15]}, "frame rates"),
        ("MPEG-4", {"level_max": "5"}, "level"),
        ("AV1", {"bit_rate_max": 9_000_000}, "bit rate"),
        ("VP9", {"bit_rate_peak_max": 9_000_000}, "bit rate"),
        ("MJPEG", {"profiles": ["Baseline"]}, "profile"),
    ],
)
def test_no_line_is_given_where_none_would_hold(
    codec: VideoCodec, limits: dict[str, Any], reason: str
) -> None:
    own = {key: limits[key] for key in ("profiles", "level_max") if key in limits}
    shared = {key: value for key, value in limits.items() if key not in own}
    profile = Profile.model_validate({"id": "x", "video": {"codecs": {codec: own}, **shared}})
    found = video_lines(profile, codec)
    assert isinstance(found, Refused)
    assert reason in found.reason


@pytest.mark.parametrize("name", bundled_names())
def test_every_codec_of_every_bundled_profile_has_a_line(name: str) -> None:
    profile = load_profile(name).profile
    lines = [video_lines(profile, codec) for codec in video_codecs(profile)]
    assert lines
    assert not any(isinstance(found, Refused) for found in lines)


def test_the_profile_names_are_those_of_the_standards() -> None:
    for codec in ("H.264", "H.265"):
        used: list[Tools] = list(CODERS[codec].tools)
        assert {tools.profile for tools in used} <= set(PROFILES[codec])
