"""Black stretches: what counts as black, where it begins and ends, and ffmpeg's blackdetect beside it."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from mediacheck.measure.black import BlackGauge, is_black
from mediacheck.measure.model import Span
from tests.measure.side_by_side import FOOTAGE, Clip, alike, seen_by, spans_in, watched

Picture = NDArray[np.uint8]


def plain(*colour: int) -> Picture:
    """One colour all over; one number is a grey."""
    return np.full((90, 160, 3), colour if len(colour) == 3 else colour[0], np.uint8)


def with_patch(pixels: int, colour: int = 255) -> Picture:
    """Black, with so many pixels of a grey in one block at the upper left."""
    picture = plain(0).reshape(-1, 3)
    picture[:pixels] = colour
    return picture.reshape(90, 160, 3)


def spans(pictures: list[Picture], rate: int = 10) -> tuple[Span, ...]:
    return seen_by(BlackGauge(), pictures, Fraction(rate))


def test_a_stretch_lasts_until_the_picture_that_ends_it() -> None:
    seen = spans([plain(200)] * 3 + [plain(0)] * 4 + [plain(200)] * 2 + [plain(0)])
    assert seen == (Span(0.3, 0.7), Span(0.9, 1.0))


def test_the_time_stamps_count_and_not_the_number_of_pictures() -> None:
    gauge = BlackGauge()
    for second, grey in ((0.0, 0), (0.2, 0), (3.5, 200), (3.6, 0)):
        gauge.see(second, plain(grey))
    assert gauge.result(9.0) == (Span(0.0, 3.5), Span(3.6, 9.0))


def test_no_picture_is_no_black() -> None:
    assert BlackGauge().result(0.0) == ()


def test_asking_twice_or_going_on_after_asking_changes_nothing() -> None:
    gauge = BlackGauge()
    gauge.see(0.0, plain(0))
    assert gauge.result(1.0) == gauge.result(1.0) == (Span(0.0, 1.0),)
    gauge.see(2.0, plain(99))
    assert gauge.result(3.0) == (Span(0.0, 2.0),)


@pytest.mark.parametrize(("grey", "black"), [(0, True), (16, True), (25, True), (26, False), (128, False)])
def test_a_tenth_of_the_range_is_the_limit(grey: int, black: bool) -> None:
    assert is_black(plain(grey)) is black


@pytest.mark.parametrize("colour", [(0, 0, 255), (0, 0, 60), (40, 0, 0), (0, 26, 0)])
def test_a_deep_colour_is_not_black_however_little_luma_it_has(colour: tuple[int, int, int]) -> None:
    assert not is_black(plain(*colour))


@pytest.mark.parametrize(("pixels", "black"), [(0, True), (287, True), (288, True), (289, False)])
def test_two_in_a_hundred_pixels_may_be_bright(pixels: int, black: bool) -> None:
    """2 % of 14,400 pixels is 288; they are spread out here, so that no cell holds more than one."""
    picture = plain(0)
    rows, columns = np.divmod(np.arange(pixels), 40)
    picture[rows * 4, columns * 4] = 60
    assert is_black(picture) is black


def test_a_caption_of_one_in_a_hundred_leaves_the_picture_black() -> None:
    assert is_black(with_patch(144))


def test_a_dark_scene_in_which_something_is_drawn_is_not_black() -> None:
    across = np.linspace(0, 24, 160, dtype=np.uint8)
    scene = np.repeat(np.tile(across, (90, 1))[:, :, np.newaxis], 3, axis=2)
    assert not is_black(scene)


def test_grain_on_black_is_still_black() -> None:
    grain = np.random.default_rng(1).integers(0, 20, (90, 160, 3), dtype=np.uint8)
    assert is_black(grain)


@pytest.mark.parametrize("shape", [(2, 160), (160, 90), (160, 2), (90, 160), (1, 1)])
def test_any_shape_of_screen_is_looked_at(shape: tuple[int, int]) -> None:
    assert is_black(np.zeros((*shape, 3), np.uint8))
    assert not is_black(np.full((*shape, 3), 90, np.uint8))


@given(st.lists(st.tuples(st.booleans(), st.integers(1, 200)), max_size=40), st.integers(0, 9000))
def test_stretches_are_ordered_disjoint_and_inside_the_clip(
    steps: list[tuple[bool, int]], end_ms: int
) -> None:
    gauge, second = BlackGauge(), 0.0
    for dark, length_ms in steps:
        gauge.see(second, plain(0 if dark else 99)[:4, :4])
        second += length_ms / 1000
    found = gauge.result(end_ms / 1000)
    edges = [edge for span in found for edge in (span.start_s, span.end_s)]
    assert edges == sorted(set(edges))
    assert all(0 <= edge <= end_ms / 1000 for edge in edges)


@given(st.lists(st.booleans(), min_size=1, max_size=30))
def test_black_time_is_the_time_of_the_black_pictures(dark: list[bool]) -> None:
    found = spans([plain(0 if one else 99)[:4, :4] for one in dark])
    assert sum(span.end_s - span.start_s for span in found) == pytest.approx(sum(dark) / 10)


TEST_CARD = "testsrc2=s=320x180:r=10:d=2"
DETECTOR = "blackdetect=d=0.05:pix_th=0.10:pic_th=0.98"
"""The default limits; d, which is 2 s by default, as short as a frame, since the gauge records them all."""
CLIPS = (
    Clip("black", "color=black:s=320x180:r=10:d=2"),
    Clip("white", "color=white:s=320x180:r=10:d=2"),
    Clip("test card", TEST_CARD),
    Clip("black in the middle", f"{TEST_CARD},drawbox=c=black:t=fill:enable='between(n,5,11)'"),
    Clip("single black frames", f"{TEST_CARD},drawbox=c=black:t=fill:enable='eq(mod(n,6),3)'"),
    Clip("black at both ends", f"{TEST_CARD},drawbox=c=black:t=fill:enable='lt(n,4)+gt(n,15)'"),
    Clip("fade in", f"{TEST_CARD},fade=in:0:10"),
    Clip("slow fade", "testsrc2=s=320x180:r=10:d=3,fade=in:0:60"),
    Clip("fade out", f"{TEST_CARD},fade=out:8:10"),
    Clip("grey under the limit", "color=0x171717:s=320x180:r=10:d=2"),
    Clip("grey over the limit", "color=0x1c1c1c:s=320x180:r=10:d=2"),
    Clip("caption of one percent", "color=black:s=320x180:r=10:d=2,drawbox=90:80:24:24:white:fill"),
    Clip("caption of four percent", "color=black:s=320x180:r=10:d=2,drawbox=90:80:48:48:white:fill"),
    Clip("thin strip of picture", "testsrc2=s=320x2:r=10:d=2,pad=320:180:0:88"),
    Clip("broad strip of picture", "testsrc2=s=320x40:r=10:d=2,pad=320:180:0:70"),
    Clip("dim scene", f"{TEST_CARD},lutrgb=r=val*0.25:g=val*0.25:b=val*0.25"),
    Clip("nearly dark scene", f"{TEST_CARD},lutrgb=r=val*0.09:g=val*0.09:b=val*0.09"),
    Clip("deep blue", "color=0x0000b0:s=320x180:r=10:d=2"),
    Clip("fine grain", "color=black:s=320x180:r=10:d=2,noise=alls=12:allf=t"),
    Clip("coarse grain", "color=black:s=320x180:r=10:d=2,noise=c0s=36:c0f=t"),
    Clip("encoded black", f"{TEST_CARD},drawbox=c=black:t=fill:enable='gt(n,9)'", "-c:v mpeg4 -q:v 12"),
    *FOOTAGE,
)
WHY_DIFFERENT = {
    "nearly dark scene": "a scene is drawn in the dark: blackdetect does not ask for that",
    "deep blue": "blue has little luma, but it is seen: the gauge goes by the strongest colour",
    "coarse grain": "one pixel of grain in twenty is over the limit, and none is where pixels are averaged",
    "slow fade": "something is drawn in the first frames of the fade: for the gauge, black ends earlier",
}


@pytest.mark.parametrize("clip", CLIPS, ids=lambda clip: clip.name)
def test_blackdetect_sees_the_same_or_the_difference_is_explained(
    clip: Clip, ffmpeg: str, tmp_path: Path
) -> None:
    pictures, log = watched(ffmpeg, clip, tmp_path, DETECTOR)
    ours = seen_by(BlackGauge(), pictures, clip.rate)
    theirs = spans_in(log, "black_start", "black_end", float(len(pictures) / clip.rate))
    assert alike(ours, theirs, 1 / clip.rate) is (clip.name not in WHY_DIFFERENT), (ours, theirs)


def test_every_explained_difference_is_one_of_the_clips() -> None:
    assert set(WHY_DIFFERENT) <= {clip.name for clip in CLIPS}
