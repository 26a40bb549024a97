"""Black bars to the pixel, and no bars where the picture is merely dark; beside ffmpeg's cropdetect."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.measure.bars import BarsGauge
from mediacheck.measure.model import Bars
from tests.measure.strips import Bytes, frames, make, told_by
from tests.media.footage import real_footage

NONE = Bars(0, 0, 0, 0)
FULL = "testsrc2=s=320x180:d=1"
CROPDETECT = "cropdetect=limit=28:round=2:reset=0:skip=0"
"""Limit 28 of limited range is where a sample of ours counts as lit."""

ALIKE = ""
TWO_LINES = "cropdetect forgives two black lines at the top and at the left"
DARK_FRAMES = "cropdetect has no notion of a frame too dark to tell"
LETTERING = "cropdetect takes the outline of lettering on black for a picture"
ONE_SIDE = "cropdetect keeps the outline of a subtitle; we leave a bar alone in which something was shown"

CASES = {
    "full": (FULL, NONE, "320:180:0:0", ALIKE),
    "letterbox": ("testsrc2=s=320x136:d=1,pad=320:180:0:22", Bars(22, 22, 0, 0), "320:136:0:22", ALIKE),
    "pillarbox": ("testsrc2=s=240x180:d=1,pad=320:180:40", Bars(0, 0, 40, 40), "240:180:40:0", ALIKE),
    "all round": ("testsrc2=s=240x136:d=1,pad=320:180:40:22", Bars(22, 22, 40, 40), "240:136:40:22", ALIKE),
    "uneven": ("testsrc2=s=310x150:d=1,pad=320:180:4:20", Bars(20, 10, 4, 6), "310:150:4:20", ALIKE),
    "portrait": ("testsrc2=s=180x76:d=1,pad=180:320:0:122", Bars(122, 122, 0, 0), "180:76:0:122", ALIKE),
    "two lines": ("testsrc2=s=320x176:d=1,pad=320:180:0:2", Bars(2, 2, 0, 0), "320:176:0:2", ALIKE),
    "noise": (
        "testsrc2=s=320x136:d=1,pad=320:180:0:22,noise=alls=8:allf=t",
        Bars(22, 22, 0, 0),
        "320:136:0:22",
        ALIKE,
    ),
    "fade in": (
        "testsrc2=s=320x136:d=1,pad=320:180:0:22,fade=in:d=0.5",
        Bars(22, 22, 0, 0),
        "320:136:0:22",
        ALIKE,
    ),
    "full, fades in": (f"{FULL},fade=in:d=0.8", NONE, "320:180:0:0", ALIKE),
    "bars for half of the clip": (
        "testsrc2=s=320x136:d=0.6,pad=320:180:0:22[a];testsrc2=s=320x180:d=0.6[b];[a][b]concat",
        NONE,
        "320:180:0:0",
        ALIKE,
    ),
    "black top in one scene": (
        f"{FULL},drawbox=c=black:w=iw:h=40:t=fill:enable='lt(t,0.6)'",
        NONE,
        "320:180:0:0",
        ALIKE,
    ),
    "black": ("color=black:s=320x180:d=1", None, None, ALIKE),
    "dark throughout": (f"{FULL},eq=brightness=-0.45:contrast=0.2", None, None, ALIKE),
    "a lamp at night": (
        "color=black:s=320x180:d=1,drawbox=c=white:x=150:y=60:w=20:h=40:t=fill",
        None,
        "20:40:150:60",
        DARK_FRAMES,
    ),
    "lettering": (
        "color=black:s=320x180:d=1,drawtext=text='GARDEN':fontcolor=white:fontsize=60:x=(w-tw)/2:y=60",
        NONE,
        "248:42:34:62",
        LETTERING,
    ),
    "subtitle": (
        "testsrc2=s=320x136:d=1,pad=320:180:0:22,drawbox=c=white:x=90:y=164:w=140:h=6:t=fill:enable='lt(t,0.4)'",
        Bars(22, 0, 0, 0),
        "320:148:0:22",
        ONE_SIDE,
    ),
}
REAL_PADDED = {
    "bigbuckbunny": ("scale=320:134,pad=320:180:0:23", Bars(23, 23, 0, 0)),
    "bikes": ("scale=240:180,pad=320:180:41", Bars(0, 0, 41, 39)),
    "carphone_pristine": ("scale=220:180,pad=320:180:50", Bars(0, 0, 50, 50)),
}


def bars_of(clip: Path) -> Bars | None:
    """As the decode hands frames over: two neighbours out of every five."""
    gauge = BarsGauge()
    for number, frame in enumerate(frames(clip)):
        if number % 5 < 2:
            gauge.see(frame.columns, frame.rows)
    return gauge.result()


def cropdetect(clip: Path) -> str | None:
    """Width, height, x and y of the last crop that it proposes; None where it finds no picture."""
    crops = re.findall(r"crop=(\S+)", told_by(clip, CROPDETECT))
    return None if crops[-1].startswith("-") else str(crops[-1])


@pytest.mark.parametrize("name", CASES)
def test_bars_to_the_pixel_beside_cropdetect(name: str, tmp_path: Path) -> None:
    source, bars, crop, why = CASES[name]
    clip = make(tmp_path / "clip.mp4", source, "-crf", "30")
    assert (bars_of(clip), cropdetect(clip)) == (bars, crop)
    height, width = (320, 180) if name == "portrait" else (180, 320)
    assert (_crop_of(bars, height, width) == crop) == (why == ALIKE)


def _crop_of(bars: Bars | None, height: int, width: int) -> str | None:
    if bars is None:
        return None
    left, top = bars.left_px, bars.top_px
    return f"{width - left - bars.right_px}:{height - top - bars.bottom_px}:{left}:{top}"


def test_real_footage_has_no_bars() -> None:
    assert {clip.stem: bars_of(clip) for clip in real_footage()} == {
        "bigbuckbunny": NONE,
        "bikes": NONE,
        "carphone_distorted": NONE,
        "carphone_pristine": NONE,
    }


@pytest.mark.parametrize("name", REAL_PADDED)
def test_bars_round_real_footage_survive_a_poor_encoder(name: str, tmp_path: Path) -> None:
    shape, bars = REAL_PADDED[name]
    (clip,) = (path for path in real_footage() if path.stem == name)
    source = f"movie={clip},{shape},format=yuv444p,trim=duration=2"
    padded = make(tmp_path / "clip.mp4", source, "-crf", "36", "-pix_fmt", "yuv444p")
    assert bars_of(padded) == bars


def test_no_frames_give_no_answer() -> None:
    assert BarsGauge().result() is None


def lit_picture(height: int, width: int, seed: int) -> Bytes:
    """Nothing in it is dark."""
    return np.random.default_rng(seed).integers(80, 256, (height, width), dtype=np.uint8)


SIDE = st.just(0) | st.integers(2, 18)


@settings(max_examples=40, deadline=None)
@given(st.tuples(SIDE, SIDE, SIDE, SIDE), st.integers(0, 10), st.integers(0, 2**32 - 1))
def test_any_bars_are_found_as_they_are(sides: tuple[int, int, int, int], noise: int, seed: int) -> None:
    top, bottom, left, right = sides
    height, width = 90, 160
    gauge = BarsGauge()
    for number in range(4):
        frame = np.random.default_rng(seed + number).integers(0, noise + 1, (height, width), dtype=np.uint8)
        inside = (height - top - bottom, width - left - right)
        frame[top : height - bottom, left : width - right] = lit_picture(*inside, seed + number)
        gauge.see(frame[:, 2::5].copy(), frame[2::5].copy())
    assert gauge.result() == Bars(top, bottom, left, right)


def test_a_dark_frame_speaks_against_a_bar_but_never_for_it() -> None:
    gauge, picture = BarsGauge(), np.zeros((90, 160), np.uint8)
    for _ in range(5):
        gauge.see(picture[:, ::5].copy(), picture[::5].copy())
    assert gauge.result() is None
    picture[20:70] = 200
    for _ in range(3):
        gauge.see(picture[:, ::5].copy(), picture[::5].copy())
    assert gauge.result() == Bars(20, 20, 0, 0)
    picture[:] = 0
    picture[5, 60:100] = 90
    gauge.see(picture[:, ::5].copy(), picture[::5].copy())
    assert gauge.result() == Bars(0, 20, 0, 0)
