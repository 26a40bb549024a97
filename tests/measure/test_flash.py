"""The flash gauge beside a slow reading of the definitions, its laws, and real footage.

The published limits, each from both sides, are in tests/standards/test_flash_limits.py.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from mediacheck.measure.flash import FlashGauge
from mediacheck.measure.luminance import LINEAR
from mediacheck.measure.model import Flash
from tests.measure.side_by_side import FOOTAGE, Clip, cut_footage, watched

Picture = NDArray[np.uint8]
NONE = Flash(0, None, 0, None)
GREYS = st.sampled_from([0, 60, 89, 90, 128, 200, 231, 232, 255])
RATES = st.sampled_from([10, 24, 25, 30, 50, 60])


def plain(*colour: int) -> Picture:
    return np.full((4, 4, 3), colour if len(colour) == 3 else colour[0], np.uint8)


def measured(pictures: Iterable[Picture], rate: float) -> Flash:
    gauge, count = FlashGauge(), 0
    for picture in pictures:
        gauge.see(count / rate, picture)
        count += 1
    return gauge.result(count / rate)


def changes_of(greys: list[int]) -> list[tuple[int, bool]]:
    """Where a single point of light changes by a tenth or more, and whether it becomes brighter."""
    found: list[tuple[int, bool]] = []
    low = high = float(LINEAR[greys[0]])
    for frame, grey in enumerate(greys):
        now = float(LINEAR[grey])
        low, high = min(low, now), max(high, now)
        last = found[-1][1] if found else None
        if last is not True and now - low >= 0.1 and low < 0.8:
            found.append((frame, True))
            high = now
        elif last is not False and high - now >= 0.1 and now < 0.8:
            found.append((frame, False))
            low = now
    return found


def slow_count(greys: list[int], rate: int) -> int:
    """Pairs of opposing changes less than a second apart, by their end; the most in any second."""
    changes, most = changes_of(greys), 0
    for brighter in (True, False):
        ends = [
            frame
            for (before, _), (frame, way) in itertools.pairwise(changes)
            if way is brighter and frame - before < rate
        ]
        most = max([most, *(sum(first <= end < first + rate for end in ends) for first in ends)])
    return most


@given(st.lists(GREYS, min_size=1, max_size=120), RATES)
def test_plain_pictures_are_counted_as_the_definition_reads(greys: list[int], rate: int) -> None:
    assert measured(map(plain, greys), rate).general_max == slow_count(greys, rate)


@given(st.lists(st.lists(GREYS, min_size=8, max_size=8), min_size=1, max_size=12))
def test_no_more_than_its_busiest_points_and_none_without_a_quarter_of_them(columns: list[list[int]]) -> None:
    """Each column of the picture has a life of its own; 8 pictures are less than a second."""
    frames = np.array(columns, np.uint8).T
    pictures = [np.repeat(row[np.newaxis, :, np.newaxis], 3, axis=2) for row in frames]
    single = sorted((slow_count(column, 30) for column in columns), reverse=True)
    assert measured(pictures, 30).general_max <= sum(single)
    busy = sum(count > 0 for count in single)
    if busy <= 0.25 * len(columns):
        assert measured(pictures, 30).general_max == 0


@given(st.tuples(*[st.integers(0, 255)] * 3), st.integers(0, 90), RATES)
def test_a_constant_picture_never_flashes(colour: tuple[int, int, int], count: int, rate: int) -> None:
    assert measured([plain(*colour)] * count, rate) == NONE


COLOURS = st.sampled_from([(0, 0, 0), (255, 255, 255), (255, 0, 0), (0, 0, 255), (120, 120, 120)])


@given(st.lists(COLOURS, max_size=80), st.lists(COLOURS, max_size=80), RATES)
def test_more_pictures_never_lower_the_maximum(
    first: list[tuple[int, int, int]], more: list[tuple[int, int, int]], rate: int
) -> None:
    gauge, results = FlashGauge(), [NONE]
    for frame, colour in enumerate([*first, *more]):
        gauge.see(frame / rate, plain(*colour))
        results.append(gauge.result((frame + 1) / rate))
    assert [r.general_max for r in results] == sorted(r.general_max for r in results)
    assert [r.red_max for r in results] == sorted(r.red_max for r in results)


@given(st.lists(COLOURS, min_size=1, max_size=80), RATES)
def test_the_second_that_is_named_lies_in_the_clip_and_only_with_flashes(
    colours: list[tuple[int, int, int]], rate: int
) -> None:
    found = measured([plain(*colour) for colour in colours], rate)
    for count, at_s in ((found.general_max, found.general_at_s), (found.red_max, found.red_at_s)):
        assert (at_s is not None) is (count > 0)
        assert at_s is None or 0 < at_s < len(colours) / rate


@given(st.lists(GREYS, min_size=1, max_size=60), st.integers(1, 30))
def test_a_still_before_the_flashes_changes_nothing_but_the_time(greys: list[int], still: int) -> None:
    plainly = measured(map(plain, greys), 25)
    later = measured(map(plain, [greys[0]] * still + greys), 25)
    assert later.general_max == plainly.general_max
    if plainly.general_at_s is not None:
        assert later.general_at_s == pytest.approx(plainly.general_at_s + still / 25)


def test_the_time_stamps_count_and_not_the_number_of_pictures() -> None:
    """The same six pictures: within a second, and two seconds apart each."""
    for step_s, expected in ((0.1, 3), (2.0, 0)):
        gauge = FlashGauge()
        for frame in range(7):
            gauge.see(frame * step_s, plain(255 * (frame % 2)))
        assert gauge.result(7 * step_s).general_max == expected


def test_a_flash_whose_cells_change_in_two_neighbouring_pictures_is_one_flash() -> None:
    """A quick fade: bright parts reach the limit a picture before dim ones; 15 % of the screen are each."""
    levels = np.zeros((90, 160))
    levels[:, :24], levels[:, 24:48] = 255, 130
    fade = [0, 0.5, 1, 1, 0.5, 0, 0, 0]
    pictures = [np.repeat((levels * step).astype(np.uint8)[:, :, np.newaxis], 3, axis=2) for step in fade]
    assert measured(pictures, 25).general_max == 1
    assert measured([picture[:, 14:] for picture in pictures], 25).general_max == 0


def test_bright_flashes_here_and_dark_ones_there_are_added_where_they_take_turns() -> None:
    """Two of each within a second, each on its own half of a grey screen."""
    pictures = []
    for frame in range(50):
        picture = np.full((10, 100, 3), 180, np.uint8)
        if frame in (10, 20):
            picture[:, :50] = 255
        if frame in (15, 25):
            picture[:, 50:] = 60
        pictures.append(picture)
    assert measured(pictures, 25) == Flash(4, 11 / 25, 0, None)


@pytest.mark.parametrize("shape", [(90, 160), (4, 4)])
def test_a_picture_that_the_caller_overwrites_is_remembered_as_it_was(shape: tuple[int, int]) -> None:
    gauge, memory = FlashGauge(), np.empty((*shape, 3), np.uint8)
    for frame in range(25):
        memory[:] = (255 * (frame // 3 % 2), 0, 0)
        gauge.see(frame / 25, memory)
    assert gauge.result(1.0) == Flash(4, 6 / 25, 4, 6 / 25)


@given(st.lists(COLOURS, max_size=40), st.sets(st.integers(0, 40)))
def test_asking_on_the_way_changes_nothing(colours: list[tuple[int, int, int]], asked: set[int]) -> None:
    """Some pictures are put together before they are looked at; none is lost, and none counts twice."""
    gauge = FlashGauge()
    for frame, colour in enumerate(colours):
        gauge.see(frame / 25, plain(*colour))
        if frame in asked:
            assert gauge.result(2.0) == measured([plain(*one) for one in colours[: frame + 1]], 25)
    assert gauge.result(2.0) == measured([plain(*colour) for colour in colours], 25)


@pytest.mark.parametrize("shape", [(90, 160), (160, 90), (160, 160), (120, 160), (2, 160), (46, 160), (1, 1)])
def test_any_shape_of_screen_is_looked_at(shape: tuple[int, int]) -> None:
    black, red = np.zeros((*shape, 3), np.uint8), np.zeros((*shape, 3), np.uint8)
    red[:, :, 0] = 255
    assert measured([black, red] * 3 + [black], 25) == Flash(3, 2 / 25, 3, 2 / 25)


@pytest.mark.parametrize("clip", FOOTAGE, ids=lambda clip: clip.name)
def test_real_footage_raises_no_alarm_however_it_is_cut_and_scaled(clip: Clip, ffmpeg: str) -> None:
    """More than three in a second would be an alarm. Nobody flashes in these clips."""
    alarms = {}
    for name, pictures in cut_footage(ffmpeg, clip):
        found = measured(pictures, float(clip.rate))
        if found.general_max > 3 or found.red_max > 0:
            alarms[name] = found
    assert alarms == {}


@pytest.mark.parametrize(("period", "expected"), [(10, 3), (8, 4), (5, 6)])
def test_flashes_survive_an_encoder(period: int, expected: int, ffmpeg: str, tmp_path: Path) -> None:
    """At 30 frames a second, through H.264 and limited range: 3, 3.75 and 6 flashes a second."""
    flashes = f"drawbox=c=white:t=fill:enable='lt(mod(n,{period}),2)*gt(n,10)'"
    source = f"testsrc2=s=320x180:r=30:d=2,lutrgb=r=val*0.4:g=val*0.4:b=val*0.4,{flashes}"
    clip = Clip("flashes", source, "-c:v libx264 -preset ultrafast -crf 28", Fraction(30))
    pictures, _ = watched(ffmpeg, clip, tmp_path, "null")
    assert measured(pictures, 30).general_max == expected
