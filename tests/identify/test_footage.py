"""The pictures of an item come in time, and no file makes them go on for ever."""

from __future__ import annotations

from pathlib import Path

import pytest

from mediacheck.identify import footage as room
from tests.identify.made import SAMPLES, WATER, encoded, item, item_of

JUMPS = "setpts='if(lt(N,30),PTS,PTS+2000000/TB)'"


def test_a_clock_that_jumps_makes_no_clip_of_weeks(tmp_path: Path) -> None:
    clip = encoded(SAMPLES / WATER, tmp_path / "a.mkv", "-vf", JUMPS, "-fps_mode", "vfr", "-c:v", "libx264")
    found = item_of(clip)
    assert abs(found.seconds - item(WATER).seconds) <= 0.5
    assert abs(len(found.trace) - len(item(WATER).trace)) <= 2


def test_what_comes_after_the_longest_loop_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "LONGEST_S", 1.0)
    assert item_of(SAMPLES / WATER).seconds <= 1.25
