"""Colour bars of every kind and way round are known; other colourful pictures are not taken for them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.measure.colour_bars import shows_colour_bars
from tests.measure.strips import Bytes, make, smalls

SIZE, SD = "s=640x360:d=0.08", "s=480x360:d=0.08"
BARS = {
    "SMPTE": f"smptebars={SIZE}",
    "SMPTE, turned": f"smptebars={SIZE},transpose=1",
    "SMPTE, on its head": f"smptebars={SIZE},hflip,vflip",
    "SMPTE, 4:3 in 16:9": f"smptebars={SD},pad=640:360:80:0",
    "HD": f"smptehdbars={SIZE}",
    "HD, turned the other way": f"smptehdbars={SIZE},transpose=2",
    "EBU 75 %": f"pal75bars={SIZE}",
    "EBU 100 %": f"pal100bars={SIZE}",
    "EBU, 4:3 in 16:9": f"pal75bars={SD},pad=640:360:80:0",
    "EBU with a name": f"pal75bars={SIZE},drawbox=c=black:x=150:y=150:w=300:h=60:t=fill",
}
OTHERS = {
    "test pattern": f"testsrc={SIZE}",
    "second test pattern": f"testsrc2={SIZE}",
    "red, green, blue": f"rgbtestsrc={SIZE}",
    "luma and chroma ramps": f"yuvtestsrc={SIZE}",
    "all colours": f"colorspectrum={SIZE}",
    "bars among other things": "smptebars=s=320x180:d=0.08,pad=640:360:160:90:color=green",
}


@pytest.mark.parametrize("name", BARS)
def test_bars_are_known(name: str, tmp_path: Path) -> None:
    pictures = smalls(make(tmp_path / "clip.mp4", BARS[name], "-crf", "32"))
    assert [shows_colour_bars(picture) for _, picture in pictures] == [True, True]


@pytest.mark.parametrize("name", OTHERS)
def test_other_colourful_pictures_are_no_bars(name: str, tmp_path: Path) -> None:
    pictures = smalls(make(tmp_path / "clip.mp4", OTHERS[name], "-crf", "32"))
    assert [shows_colour_bars(picture) for _, picture in pictures] == [False, False]


EIGHT = ((1, 1, 1), (1, 1, 0), (0, 1, 1), (0, 1, 0), (1, 0, 1), (1, 0, 0), (0, 0, 1), (0, 0, 0))


def stripes(order: list[int], level: int) -> Bytes:
    """Eight upright stripes."""
    line = np.array([EIGHT[place] for place in order], np.uint8).repeat(20, axis=0) * np.uint8(level)
    return line[None].repeat(90, axis=0)


@settings(max_examples=60, deadline=None)
@given(st.permutations(range(8)), st.sampled_from([180, 191, 255]))
def test_only_their_own_order_makes_bars_of_stripes(order: list[int], level: int) -> None:
    row = "".join(str(place) for place in order)
    own = "123456" in row or "654321" in row
    assert shows_colour_bars(stripes(order, level)) == own


def test_both_directions_of_the_order_are_bars() -> None:
    assert [shows_colour_bars(stripes(order, 191)) for order in ([*range(8)], [*range(7, -1, -1)])] == [
        True,
        True,
    ]


@pytest.mark.parametrize(("level", "bars"), [(100, False), (109, False), (110, True)])
def test_dull_stripes_are_no_bars(level: int, bars: bool) -> None:
    assert shows_colour_bars(stripes([*range(8)], level)) is bars


@pytest.mark.parametrize(("weaker", "bars"), [(63, True), (64, False)])
def test_what_is_dark_in_a_bar_ends_at_35_percent_of_what_shines(weaker: int, bars: bool) -> None:
    """63 of 180, to the step."""
    assert shows_colour_bars(np.maximum(stripes([*range(8)], 180), np.uint8(weaker))) is bars
