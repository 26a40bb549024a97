"""What the encoder says of a new file is what was asked of it, with no limit that it could not keep.

The outside source is x264 itself: its log names profile and level, and warns where a level does not hold the
picture or the buffer runs dry.
"""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path

import pytest

from mediacheck.media.levels import level_order
from tests.repair.bench import fixed
from tests.repair.films import Film, player, x264
from tests.repair.masters import facts_of

SPOKEN = re.compile(r"profile (?P<profile>[\w :]+), level (?P<level>[\d.]+b?)")


@pytest.mark.parametrize("level", ["1.3", "2", "3"])
def test_x264_names_the_level_that_was_asked_for_and_has_no_complaint(
    level: str, ffmpeg: str, tmp_path: Path
) -> None:
    (tmp_path / "masters").mkdir()
    Film(tone=None, video=x264("-level:v", "4.1", "-pix_fmt", "yuv420p")).make(tmp_path / "masters" / "a.mp4")
    codecs = {"H.264": {"profiles": ["Main"], "level_max": level}}
    found = fixed(tmp_path / "masters", tmp_path / "ready", player(video={"codecs": codecs}))
    assert found.verdict == "pass"
    record = json.loads((tmp_path / "ready.fix-report.json").read_text("utf-8"))
    (command,) = record["items"][0]["made"]["commands"]
    places = {"MASTER": str(tmp_path / "masters" / "a.mp4"), "NEW": str(tmp_path / "again.mp4")}
    line = [ffmpeg, "-hide_banner", "-y", *(places.get(word, word) for word in command[1:])]
    said = subprocess.run(line, capture_output=True, text=True, check=True).stderr
    spoken = SPOKEN.search(said)
    assert spoken is not None
    assert spoken["profile"] == "Main"
    order = level_order("H.264", spoken["level"].removesuffix(".0"))
    most = level_order("H.264", level)
    assert order is not None
    assert most is not None
    assert order <= most
    assert "level limit" not in said
    assert "underflow" not in said
    # With a buffer to keep, x264 goes by what its other threads have done so far: bits differ under load.
    again, ready = (facts_of(tmp_path / place) for place in ("again.mp4", "ready/a.mp4"))
    assert again.video is not None
    assert ready.video is not None
    assert (again.video.level, again.duration) == (ready.video.level, ready.duration)
