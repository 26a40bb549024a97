"""Frozen stretches: what counts as a change, where stretches begin and end, and ffmpeg's freezedetect."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from mediacheck.measure.frozen import FrozenGauge
from mediacheck.measure.model import Span
from tests.measure.side_by_side import FOOTAGE, Clip, alike, seen_by, spans_in, watched

Picture = NDArray[np.uint8]
SCENE = np.random.default_rng(3).integers(0, 256, (90, 160, 3), dtype=np.uint8)


def plain(grey: float) -> Picture:
    return np.full((90, 160, 3), round(grey), np.uint8)


def spans(pictures: list[Picture] | Iterator[Picture], rate: int = 25) -> tuple[Span, ...]:
    return seen_by(FrozenGauge(), pictures, Fraction(rate))


def test_a_stretch_lasts_from_its_first_picture_to_the_one_that_differs() -> None:
    moving = [np.roll(SCENE, 3 * step, axis=1) for step in range(10)]
    assert spans([*moving, *[plain(90)] * 20, *moving], 10) == (Span(1.0, 3.0),)


def test_two_stills_in_a_row_are_two_stretches() -> None:
    assert spans([plain(90)] * 10 + [plain(120)] * 8, 10) == (Span(0.0, 1.0), Span(1.0, 1.8))


@pytest.mark.parametrize(("frames", "found"), [(4, ()), (5, (Span(0.0, 0.5),))])
def test_half_a_second_is_the_shortest_stretch(frames: int, found: tuple[Span, ...]) -> None:
    assert spans([plain(90)] * frames + [plain(200)], 10) == found


def test_one_picture_that_stays_is_frozen() -> None:
    gauge = FrozenGauge()
    gauge.see(0.0, SCENE)
    gauge.see(4.0, plain(90))
    assert gauge.result(4.2) == (Span(0.0, 4.0),)


def test_no_picture_is_not_frozen() -> None:
    assert FrozenGauge().result(0.0) == ()


@pytest.mark.parametrize("contrast", [15, 40, 120])
@pytest.mark.parametrize("step_px", [0.5, 1, 3])
def test_a_moving_object_of_two_percent_is_a_change(contrast: int, step_px: float) -> None:
    """17 x 17 of 160 x 90 pixels, that is 2 %, at no less than 12 pixels a second."""
    pictures = []
    for frame in range(75):
        picture = plain(100)
        left = int(frame * step_px) % 140
        picture[30:47, left : left + 17] += np.uint8(contrast)
        pictures.append(picture)
    assert spans(pictures) == ()


@pytest.mark.parametrize("seconds", [1, 3, 10])
def test_a_slow_fade_is_a_change(seconds: int) -> None:
    count = 25 * seconds
    assert spans(np.round(SCENE * (frame / count)).astype(np.uint8) for frame in range(count)) == ()


def test_drift_too_slow_for_any_two_neighbours_ends_the_stretch() -> None:
    """One step of 255 in a second: neighbours are alike, and still the picture goes from 100 to 110."""
    found = spans([plain(100 + frame / 25) for frame in range(250)])
    assert [span.end_s - span.start_s for span in found] == pytest.approx([2.5, 3, 3, 1.5], abs=0.1)
    assert [span.start_s for span in found[1:]] == [span.end_s for span in found[:-1]]


def _striped(first: int) -> Picture:
    """Grey, with bright lines in one cell: the even ones or the odd ones. The cell's mean is the same."""
    picture = plain(100)
    picture[40 + first : 50 : 2, 60:70] = 140
    return picture


def test_what_moves_within_a_cell_and_leaves_its_mean_alone_is_a_change() -> None:
    assert spans([_striped(0), _striped(1)] * 20) == ()


def test_a_change_of_colour_alone_is_a_change() -> None:
    """The two colours differ by less than one step of luma."""
    one, other = np.zeros((2, 90, 160, 3), np.uint8)
    one[:], other[:] = (90, 60, 90), (60, 69, 122)
    assert spans([one, other] * 20) == ()


@pytest.mark.parametrize("noise", [1, 2, 4])
def test_noise_that_nobody_sees_is_no_change(noise: int) -> None:
    random = np.random.default_rng(noise)
    still = SCENE // 2 + 60
    pictures = [still + random.integers(0, noise + 1, still.shape, dtype=np.uint8) for _ in range(50)]
    assert spans(pictures) == (Span(0.0, 2.0),)


def test_coarse_grain_all_over_is_a_change() -> None:
    """Snow of 16 steps leaves the means of cells alone, and stays under their limit one by one."""
    random = np.random.default_rng(0)
    pictures = [100 + random.integers(0, 17, (90, 160, 3), dtype=np.uint8) for _ in range(50)]
    assert spans(pictures) == ()


@pytest.mark.parametrize("shape", [(160, 90), (2, 160), (160, 2), (46, 160), (8, 8)])
def test_any_shape_of_screen_is_looked_at(shape: tuple[int, int]) -> None:
    one, other = np.zeros((*shape, 3), np.uint8), np.full((*shape, 3), 30, np.uint8)
    assert spans([one] * 20 + [other] * 20, 20) == (Span(0.0, 1.0), Span(1.0, 2.0))


@given(st.integers(0, 255), st.integers(1, 40), st.sampled_from([10, 24, 25, 30, 60]))
def test_a_constant_picture_is_one_stretch(grey: int, extra: int, rate: int) -> None:
    count = rate // 2 + 1 + extra
    assert spans([plain(grey)[:20, :20]] * count, rate) == (Span(0.0, count / rate),)


@given(st.lists(st.tuples(st.sampled_from([0, 90, 91, 200]), st.integers(1, 900)), max_size=40))
def test_stretches_are_ordered_disjoint_inside_the_clip_and_long_enough(steps: list[tuple[int, int]]) -> None:
    gauge, second = FrozenGauge(), 0.0
    for grey, length_ms in steps:
        gauge.see(second, plain(grey)[:20, :20])
        second += length_ms / 1000
    for end_s in (0.0, second / 2, second):
        found = gauge.result(end_s)
        edges = [edge for span in found for edge in (span.start_s, span.end_s)]
        assert edges == sorted(edges)
        assert all(0 <= edge <= end_s for edge in edges)
        assert all(span.end_s - span.start_s >= 0.5 for span in found)


BARS = "smptehdbars=s=320x180:r=10:d=2"
TEST_CARD = "testsrc2=s=320x180:r=10:d=3"
GREY = "color=gray:s=320x180:r=10:d=2"
STILL = "testsrc2=s=640x360:r=10:d=0.1,loop=loop=29:size=1"
DETECTOR = "freezedetect=n=-60dB:d=0.5"
"""The default noise limit; d, which is 2 s by default, as short as the gauge's own."""


def _over_grey(box: str, x: str) -> str:
    return f"{box}[box];{GREY}[grey];[grey][box]overlay=x='{x}':y=70:shortest=1"


def _box(colour: str, size: str) -> str:
    return f"color={colour}:s={size}:r=10:d=2"


CLIPS = (
    Clip("still", BARS),
    Clip("moving", TEST_CARD),
    Clip("black", "color=black:s=320x180:r=10:d=2"),
    Clip("frozen in the middle", f"{TEST_CARD},loop=loop=12:size=1:start=10"),
    Clip("frozen at the end", "testsrc2=s=320x180:r=10:d=1,tpad=stop_mode=clone:stop_duration=1.5"),
    Clip("frozen at the start", f"{TEST_CARD},loop=loop=12:size=1"),
    Clip("fade over two seconds", f"{BARS},fade=in:0:20"),
    Clip("dissolve", f"{BARS}[a];color=gray:s=320x180:r=10:d=2[b];[a][b]xfade=duration=1.8:offset=0.1"),
    Clip("very slow fade", "color=0xb0b0b0:s=320x180:r=10:d=4,fade=out:0:1200"),
    Clip("box of two percent moves", _over_grey(_box("white", "48x24"), "t*40")),
    Clip("faint box of two percent moves", _over_grey(_box("0x909090", "48x24"), "t*40")),
    Clip("box of two in a thousand moves", _over_grey(_box("white", "12x10"), "t*40")),
    Clip("box comes and goes", f"{GREY},drawbox=90:60:48:24:white:fill:enable='lt(mod(n,14),7)'"),
    Clip("two pictures in turn", f"{BARS},negate=enable='mod(n,2)'"),
    Clip("slides", f"{BARS}[a];{GREY},format=yuv420p[b];[a]format=yuv420p[c];[c][b]concat"),
    Clip("snow", f"{GREY},noise=alls=100:allf=t"),
    Clip("shimmer in a corner", f"{GREY}[b];{_box('gray', '80x48')},noise=alls=60:allf=t[c];[b][c]overlay"),
    Clip("grain on a still", f"{BARS},noise=c0s=8:c0f=t"),
    Clip("H.264 still, rich", STILL, "-c:v libx264 -preset veryfast -crf 20 -g 10"),
    Clip("H.264 still, short of bits", STILL, "-c:v libx264 -preset veryfast -crf 32 -g 10"),
    Clip("MPEG-4 still", STILL, "-c:v mpeg4 -q:v 20 -g 12"),
    Clip(
        "MPEG-2 still",
        STILL.replace("r=10:d=0.1", "r=25:d=0.04"),
        "-c:v mpeg2video -q:v 20 -g 12",
        Fraction(25),
    ),
    *FOOTAGE,
)
WHY_DIFFERENT = {
    "very slow fade": "a step and a half of 255 in a second: the gauge keeps pieces of over a second each",
    "grain on a still": "grain is no movement: freezedetect's noise limit of a quarter of a step is below it",
    "H.264 still, short of bits": "keyframes come out a little different; nobody calls that movement",
    "faint box of two percent moves": "freezedetect goes by the mean over the picture, which is too small",
    "MPEG-2 still": "as for H.264",
}


@pytest.mark.parametrize("clip", CLIPS, ids=lambda clip: clip.name)
def test_freezedetect_sees_the_same_or_the_difference_is_explained(
    clip: Clip, ffmpeg: str, tmp_path: Path
) -> None:
    pictures, log = watched(ffmpeg, clip, tmp_path, DETECTOR)
    ours = seen_by(FrozenGauge(), pictures, clip.rate)
    theirs = spans_in(log, "freeze_start", "freeze_end", float(len(pictures) / clip.rate))
    assert alike(ours, theirs, 1 / clip.rate) is (clip.name not in WHY_DIFFERENT), (ours, theirs)


def test_every_explained_difference_is_one_of_the_clips() -> None:
    assert set(WHY_DIFFERENT) <= {clip.name for clip in CLIPS}


@pytest.mark.parametrize("name", [clip.name for clip in CLIPS if clip.encode])
def test_an_encoded_still_is_one_stretch_from_end_to_end(name: str, ffmpeg: str, tmp_path: Path) -> None:
    clip = next(clip for clip in CLIPS if clip.name == name)
    pictures, _ = watched(ffmpeg, clip, tmp_path, DETECTOR)
    assert seen_by(FrozenGauge(), pictures, clip.rate) == (Span(0.0, float(len(pictures) / clip.rate)),)
