"""Frame rates with an even cadence, and targets that suit one master."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from mediacheck.encoding.model import Frame, Refused
from mediacheck.measure.model import Bars, Leader, Measurements
from mediacheck.measure.model import Span as Stretch
from mediacheck.profile import CodecLimits, Profile
from mediacheck.repair import ends, geometry
from mediacheck.repair.aim import Aim, aim_for, rates
from mediacheck.repair.geometry import Shown, box_for, cut, placed, shown, turns_for_panel
from mediacheck.repair.model import Fit, Span
from tests.rules import make

F = Fraction
NTSC = F(30000, 1001)


@pytest.mark.parametrize(
    ("own", "allowed", "first"),
    [
        (F(25), [24, 25, 30], F(25)),
        (F(50), [24, 25, 30], F(25)),
        (F(60), [24, 25, 30], F(30)),
        (F(60000, 1001), [24, 25, 29.97, 30], NTSC),
        (F(15), [24, 25, 30], F(30)),
        (F(24), [25, 30], F(25)),
        (F(24000, 1001), [24, 30], F(24)),
        (F(120), [24, 25], F(24)),
        (F(48), [25, 30], F(30)),
    ],
)
def test_the_cadence_is_as_even_as_can_be(own: Fraction, allowed: list[float], first: Fraction) -> None:
    limits = Profile.model_validate({"video": {"frame_rates": allowed}}).video.limits_for("H.264")
    found = rates(make.video_facts(frame_rate=own), limits, Profile(), None)
    assert found[0] == first
    assert len(found) == len(allowed), "the others are tried where a level refuses the first"


def test_where_nothing_limits_the_rate_the_masters_own_is_kept() -> None:
    assert rates(make.video_facts(frame_rate=F(50)), CodecLimits(), Profile(), None)[0] == 50
    assert rates(make.video_facts(frame_rate=F(120)), CodecLimits(), Profile(), None)[0] == 30
    uneven = make.video_facts(frame_rate=F(50), frame_rate_mode="variable")
    assert rates(uneven, CodecLimits(), Profile(), None)[0] == 30
    assert rates(make.video_facts(frame_rate=None), CodecLimits(), Profile(), None)[0] == 30


def aimed(profile: Profile, **video: Any) -> Aim:
    found = aim_for(make.video_facts(**video), profile)
    assert not isinstance(found, Refused)
    return found


def test_a_level_that_does_not_hold_the_masters_rate_gets_the_next_best() -> None:
    level = {"H.264": {"level_max": "4.1"}}
    profile = Profile.model_validate({"video": {"codecs": level, "width": 1920, "height": 1080}})
    assert aimed(profile, frame_rate=F(60)).target.rate == 30


def test_the_codec_that_most_players_know_comes_first() -> None:
    both = Profile.model_validate({"video": {"codecs": {"H.265": {}, "H.264": {}}}})
    assert aimed(both).codec == "H.264"
    assert aimed(Profile.model_validate({"video": {"codecs": {"H.265": {}}}})).codec == "H.265"
    assert isinstance(
        aim_for(make.video_facts(), Profile.model_validate({"video": {"codecs": {"VC-1": {}}}})), Refused
    )
    assert isinstance(aim_for(make.video_facts(), Profile.model_validate({"video": {"codecs": {}}})), Refused)


HD = Frame(1920, 1080, bars=True)


@pytest.mark.parametrize(
    ("picture", "exact", "size"),
    [
        (Shown(1920, 1080, F(16, 9)), True, (1920, 1080)),
        (Shown(1280, 720, F(16, 9)), True, (1920, 1080)),
        (Shown(1280, 720, F(16, 9)), False, (1280, 720)),
        (Shown(3840, 2160, F(16, 9)), False, (1920, 1080)),
        (Shown(720, 576, F(4, 3)), False, (1920, 1080)),
        (Shown(1366, 768, F(683, 384)), False, (1366, 768)),
    ],
)
def test_a_picture_is_not_made_larger_without_need(
    picture: Shown, exact: bool, size: tuple[int, int]
) -> None:
    box = box_for(picture, HD, exact)
    assert (box.width, box.height) == size


@pytest.mark.parametrize(
    ("fit", "filters"),
    [
        ("contain", ["scale=1440:1080", "pad=1920:1080:-1:-1", "setsar=1"]),
        ("cover", ["scale=1920:1440", "crop=1920:1080", "setsar=1"]),
        ("stretch", ["scale=1920:1080", "setsar=1"]),
    ],
)
def test_ways_to_another_shape(fit: Fit, filters: list[str]) -> None:
    assert [step.replace(":flags=lanczos:c", "") for step in placed(F(4, 3), HD, fit, "c")] == filters


@pytest.mark.parametrize("fit", ["contain", "cover", "stretch"])
def test_bars_thinner_than_a_line_are_none(fit: Fit) -> None:
    assert list(placed(F(1366, 768), HD, fit, "c")) == ["scale=1920:1080:flags=lanczos:c", "setsar=1"]


def test_what_a_viewer_sees() -> None:
    assert shown(720, 576, F(64, 45), 0).shape == F(16, 9)
    turned = shown(1920, 1080, F(1), 90)
    assert (turned.width, turned.height, turned.is_upright) == (1080, 1920, True)
    assert not shown(1920, 1080, F(1), 180).is_upright


def test_panels() -> None:
    upright, lying = shown(1080, 1920, F(1), 0), shown(1920, 1080, F(1), 0)
    assert turns_for_panel(upright, HD, 90)
    assert turns_for_panel(upright, HD, 270)
    assert not turns_for_panel(lying, HD, 90), "it lies as the panel takes it"
    assert not turns_for_panel(upright, HD, 0)
    assert not turns_for_panel(upright, HD, 180)
    assert geometry.against_panel(90) == "transpose=cclock"


@pytest.mark.parametrize(
    ("bars", "size", "crop"),
    [
        (None, (1920, 1080), None),
        (Bars(0, 0, 0, 0), (1920, 1080), None),
        (Bars(140, 140, 0, 0), (1920, 800), "crop=1920:800:0:140"),
        (Bars(0, 0, 241, 239), (1438, 1080), "crop=1438:1080:242:0"),
        (Bars(600, 600, 0, 0), (1920, 1080), None),
    ],
)
def test_bars_are_cut_in_even_numbers(bars: Bars | None, size: tuple[int, int], crop: str | None) -> None:
    assert cut(1920, 1080, bars) == (size, crop)


def clip(
    leader: tuple[tuple[float, float], ...] = (), black: tuple[tuple[float, float], ...] = ()
) -> Measurements:
    return Measurements(
        frames=250,
        seconds=10.0,
        leader=tuple(Leader("countdown", *part) for part in leader),
        black=tuple(Stretch(*part) for part in black),
    )


@pytest.mark.parametrize(
    ("found", "kept"),
    [
        (clip(), None),
        (clip(leader=((0.0, 3.0),)), Span(3.0, None)),
        (clip(leader=((0.0, 3.0),), black=((3.1, 4.0), (9.0, 10.0))), Span(4.0, 9.0)),
        (clip(black=((4.0, 6.0),)), None),
        (clip(black=((0.0, 1.0), (4.0, 6.0))), Span(1.0, None)),
        (clip(black=((0.0, 10.0),)), None),
        (clip(leader=((0.0, 5.0), (5.2, 9.9))), None),
    ],
)
def test_ends(found: Measurements, kept: Span | None) -> None:
    assert ends.kept(found) == kept
