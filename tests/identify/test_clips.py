"""Clips are found again however they were encoded, and the seconds in which two differ are named."""

from __future__ import annotations

from pathlib import Path

import pytest

from mediacheck.identify.clips import Cuts
from tests.identify.made import CLIPS, OFFERS, SAMPLES, SEEDS, WATER, encoded, item, item_of

CHANGES = {
    "as it is": (),
    "100 kbit/s": ("-b:v", "100k"),
    "a quarter of the size": ("-vf", "scale=iw/4:-2"),
    "bars above and below": ("-vf", "pad=iw:iw*3/4:0:(oh-ih)/2"),
    "bars at the sides": ("-vf", "pad=iw*4/3:ih:(ow-iw)/2"),
    "a tenth cut off": ("-vf", "crop=iw*.9:ih*.9"),
    "brighter, paler and of another hue": ("-vf", "eq=brightness=0.12:contrast=1.3:saturation=.6,hue=h=25"),
    "15 frames a second": ("-r", "15"),
    "stretched": ("-vf", "scale=640:480,setsar=1"),
    "its middle": ("-ss", "0.5", "-t", "2"),
}


@pytest.fixture(scope="module")
def cuts() -> Cuts:
    return Cuts({name: item(name).trace for name in CLIPS})


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("name", [WATER, OFFERS])
def test_a_clip_is_found_after_it_was_changed(name: str, change: str, cuts: Cuts, tmp_path: Path) -> None:
    clip = encoded(SAMPLES / name, tmp_path / "a.mp4", *CHANGES[change])
    found = cuts.find(item_of(clip).trace)
    assert found[0].item == name
    assert found[0].differing == ()
    wanted_s = 0.5 if change == "its middle" else 0.0
    assert found[0].offset_s == pytest.approx(wanted_s, abs=0.26)


def test_a_clip_of_something_else_is_not_found(tmp_path: Path) -> None:
    others = Cuts({name: item(name).trace for name in CLIPS if name != SEEDS})
    assert others.find(item(SEEDS).trace) == ()
    noise = tmp_path / "noise.mp4"
    encoded(SAMPLES / WATER, noise, "-vf", "geq=lum='random(1)*255':cb=128:cr=128")
    assert others.find(item_of(noise).trace) == ()


def test_a_black_clip_shows_nothing(cuts: Cuts, tmp_path: Path) -> None:
    black = encoded(SAMPLES / WATER, tmp_path / "a.mp4", "-vf", "lutyuv=y=16:u=128:v=128")
    assert cuts.find(item_of(black).trace) == ()


def test_the_seconds_that_differ_are_named(cuts: Cuts, tmp_path: Path) -> None:
    box = "drawbox=x=iw*0.3:y=ih*0.4:w=iw*0.3:h=ih*0.2:c=white:t=fill:enable='between(t,1,2)'"
    clip = encoded(SAMPLES / WATER, tmp_path / "a.mp4", "-vf", box)
    first = cuts.find(item_of(clip).trace)[0]
    ((start, end),) = first.differing
    assert first.item == WATER
    assert start == pytest.approx(1.0, abs=0.26)
    assert end == pytest.approx(2.0, abs=0.3)
