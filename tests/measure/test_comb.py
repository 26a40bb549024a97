"""Woven pictures are told from whole ones where something moves; beside ffmpeg's idet."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import Literal

import numpy as np
import pytest

from mediacheck.measure.comb import CombGauge
from mediacheck.measure.model import Combed
from tests.measure.strips import Bytes, frames, make, told_by
from tests.media.footage import real_footage

EVERY = 7
Verdict = Literal["woven", "whole", "cannot tell"]

FIELDS = {
    "whole": "framestep=2",
    "top": "tinterlace=interleave_top",
    "bottom": "tinterlace=interleave_bottom",
    "smoothed": "interlace=lowpass=linear",
}
"""How 50 pictures a second become 25: every other one, or two woven into one."""
TEST = "testsrc2=s=320x180:r=50:d=1.2"
ZOOM = "mandelbrot=s=160x90:rate=50:end_pts=100,trim=duration=1.2"
SCROLL = "testsrc2=s=320x360:r=50:d=1.2,crop=320:180:x=0:y='n*2'"
LETTERING = (
    "color=white:s=320x180:r=50:d=1.2,drawtext=text='Seed range':fontsize=40:fontcolor=black:x=300-4*n:y=60"
)
STRIPES = "color=gray:s=160x90:r=50:d=0.8,geq=lum='128+100*mod(Y,2)':cb=128:cr=128"
RISING_STRIPES = "color=gray:s=160x90:r=50:d=0.8,geq=lum='128+80*lt(mod(Y+N,4),2)':cb=128:cr=128"

ALIKE = ""
SMALL_AND_SHARP = "idet compares whole pictures, and detail that stands still outweighs what little moves"

CASES: dict[str, tuple[str, str, Verdict, Verdict, str]] = {
    "test picture, whole": (TEST, "whole", "cannot tell", "woven", SMALL_AND_SHARP),
    "test picture, top": (TEST, "top", "woven", "woven", ALIKE),
    "test picture, bottom": (TEST, "bottom", "woven", "woven", ALIKE),
    "test picture, smoothed": (TEST, "smoothed", "woven", "woven", ALIKE),
    "zoom, whole": (ZOOM, "whole", "whole", "whole", ALIKE),
    "zoom, top": (ZOOM, "top", "woven", "woven", ALIKE),
    "zoom, bottom": (ZOOM, "bottom", "woven", "woven", ALIKE),
    "scroll, whole": (SCROLL, "whole", "whole", "woven", SMALL_AND_SHARP),
    "scroll, smoothed": (SCROLL, "smoothed", "woven", "woven", ALIKE),
    "lettering, whole": (LETTERING, "whole", "whole", "whole", ALIKE),
    "lettering, top": (LETTERING, "top", "woven", "woven", ALIKE),
    "stripes at rest": (STRIPES, "whole", "cannot tell", "cannot tell", ALIKE),
    "stripes rising, whole": (RISING_STRIPES, "whole", "cannot tell", "cannot tell", ALIKE),
    "stripes rising, woven": (RISING_STRIPES, "top", "cannot tell", "cannot tell", ALIKE),
    "film at 24 made 30": ("testsrc2=s=320x180:r=24:d=1.5", "telecine", "woven", "woven", ALIKE),
    "one field late": ("testsrc2=s=320x180:r=25:d=1.2", "phase=t", "woven", "woven", ALIKE),
}
REAL = ("bikes", "carphone_pristine")


def combed(clip: Path) -> Combed:
    """Two neighbours out of seven: a number that no film cadence divides."""
    gauge = CombGauge()
    for number, (before, after) in enumerate(pairwise(frames(clip))):
        if number % EVERY == 0:
            gauge.see(before.columns, after.columns)
    return gauge.result()


def verdict(found: Combed) -> Verdict:
    """What a rule might make of it; the gauge itself only counts."""
    if found.moving == 0:
        return "cannot tell"
    return "woven" if found.share >= 0.5 else "whole"


def idet(clip: Path) -> Verdict:
    """What most frames were, by its detection over several frames."""
    line = re.findall(r"Multi frame detection:(.*)", told_by(clip, "idet"))[-1]
    top, bottom, whole, unknown = (int(number) for number in re.findall(r"\d+", line))
    votes: dict[Verdict, int] = {"woven": top + bottom, "whole": whole, "cannot tell": unknown}
    return max(votes, key=lambda name: votes[name])


@pytest.mark.parametrize("name", CASES)
def test_weave_is_told_beside_idet(name: str, tmp_path: Path) -> None:
    source, weave, ours, theirs, why = CASES[name]
    rate = 30 if weave == "telecine" else 25
    clip = make(tmp_path / "clip.mp4", f"{source},{FIELDS.get(weave, weave)}", "-crf", "23", rate=rate)
    assert (verdict(combed(clip)), idet(clip)) == (ours, theirs)
    assert (ours == theirs) == (why == ALIKE)


FINE = {
    "test picture": "testsrc2=s=426x240:r=50:d=2",
    "test picture, blended between its moments": "testsrc2=s=426x240:r=25:d=2,framerate=50",
    "test picture, rolled up by two lines": "testsrc2=s=320x360:r=50:d=2,crop=320:180:x=0:y='n*2'",
}
"""Slow graphics with details of a line or two, at 50 pictures a second."""


@pytest.mark.parametrize("name", FINE)
def test_fine_graphics_that_move_slowly_are_no_combs(name: str, tmp_path: Path) -> None:
    """All of them are combs to idet."""
    clip = make(tmp_path / "clip.mp4", FINE[name], "-crf", "23", rate=50)
    assert len(list(frames(clip))) >= 90
    assert combed(clip).share == 0.0
    assert idet(clip) == "woven"


@pytest.mark.parametrize("name", FINE)
def test_the_same_graphics_woven_are_combs(name: str, tmp_path: Path) -> None:
    """Woven as cameras and editing programs do it, with neighbouring lines smoothed."""
    clip = make(tmp_path / "clip.mp4", f"{FINE[name]},{FIELDS['smoothed']}", "-crf", "23")
    found = combed(clip)
    assert found.share >= 0.8
    assert found.moving >= 5


ALIKE_IN_EVERY_WEAVE = {
    "small print, rolled up by two lines": "color=navy:s=320x180:r=50:d=2,"
    + ",".join(
        f"drawtext=text='small print':fontsize=14:fontcolor=white:x={x}:y='{y}-2*n'"
        for x, y in ((20, 180), (150, 150))
    ),
    "test picture, faded in": "testsrc2=s=426x240:r=50:d=0.1,loop=-1:2,fade=in:0:40,trim=duration=2",
}


@pytest.mark.parametrize("name", ALIKE_IN_EVERY_WEAVE)
def test_graphics_that_look_alike_whole_and_woven_tell_nothing(name: str, tmp_path: Path) -> None:
    """The first is combs to idet."""
    clip = make(tmp_path / "clip.mp4", ALIKE_IN_EVERY_WEAVE[name], "-crf", "23", rate=50)
    found = combed(clip)
    assert (found.share, found.moving) == (0.0, 0)
    assert found.unclear >= 8, "it moves all the time, and that must not pass for standing still"
    assert idet(clip) == ("woven" if "print" in name else "whole")


@pytest.mark.parametrize("height", range(1, 8))
def test_pictures_of_a_few_lines_are_taken(height: int) -> None:
    rng, gauge = np.random.default_rng(height), CombGauge()
    for before, after in rng.integers(0, 256, (50, 2, height, 32), dtype=np.uint8):
        gauge.see(before, after)
    assert gauge.result().share == 0.0


@pytest.mark.parametrize("weave", ["whole", "top", "bottom"])
@pytest.mark.parametrize("name", REAL)
def test_real_footage_whole_and_woven(name: str, weave: str, tmp_path: Path) -> None:
    (original,) = (path for path in real_footage() if path.stem == name)
    source = f"movie={original},setpts=N/50/TB,scale=320:-2,trim=duration=2.4,{FIELDS[weave]}"
    clip = make(tmp_path / "clip.mp4", source, "-crf", "23")
    found = combed(clip)
    assert found.moving >= 4
    assert found.share >= 0.8 if weave != "whole" else found.share == 0.0
    assert idet(clip) == ("whole" if weave == "whole" else "woven")


def test_real_footage_as_it_is_has_no_combs() -> None:
    """But for one pair or two in the clip that is spoilt on purpose."""
    found = {clip.stem: combed(clip) for clip in real_footage()}
    assert found.pop("carphone_distorted").share < 0.2
    assert {name: one.share for name, one in found.items()} == dict.fromkeys(found, 0.0)
    assert min(one.moving for one in found.values()) >= 10


def test_nothing_that_moves_gives_no_share() -> None:
    gauge, picture = CombGauge(), np.full((180, 32), 90, np.uint8)
    gauge.see(picture, picture)
    assert gauge.result() == Combed(0.0, 0)


def moving(seed: int, height: int = 180) -> Bytes:
    """Columns of soft stripes that pass sideways: (moments, height, 32)."""
    rng = np.random.default_rng(seed)
    wavelength, phase = rng.uniform(60, 200, height // 12), rng.uniform(0, 6.28, height // 12)
    place = 10 * np.arange(32) + rng.uniform(3, 9) * np.arange(40)[:, None, None]
    stripes = 128 + 100 * np.sin(6.28 * place / wavelength[None, :, None] + phase[None, :, None])
    return stripes.repeat(12, axis=1).astype(np.uint8)


@pytest.mark.parametrize("first_line", [0, 1])
@pytest.mark.parametrize("seed", range(6))
def test_pictures_woven_by_hand_are_all_found(seed: int, first_line: int) -> None:
    moments, gauge = moving(seed), CombGauge()
    woven = moments[::2].copy()
    woven[:, first_line::2] = moments[1::2, first_line::2]
    for before, after in pairwise(woven):
        gauge.see(before, after)
    found = gauge.result()
    assert found.moving >= 10
    assert found.share == 1.0


@pytest.mark.parametrize("seed", range(6))
def test_the_same_pictures_whole_have_none(seed: int) -> None:
    gauge = CombGauge()
    for before, after in pairwise(moving(seed)[::2]):
        gauge.see(before, after)
    assert gauge.result() == Combed(0.0, 19)


def test_noise_alone_tells_nothing() -> None:
    rng, gauge = np.random.default_rng(0), CombGauge()
    for _ in range(20):
        before, after = rng.integers(0, 256, (2, 180, 32), dtype=np.uint8)
        gauge.see(before, after)
    assert gauge.result() == Combed(0.0, 0, unclear=20)
