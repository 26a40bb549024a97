"""Each defect that can be mended is: by the least change, to a full check without a finding, as other
programs see it too."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from mediacheck.repair.causes import WITH_BARS, WITH_ENDS, WITH_FIT
from mediacheck.repair.outcome import Fixed
from tests.repair.bench import fixed, hashes
from tests.repair.defects import CASES, Case

RATES = {Fraction(24), Fraction(25), Fraction(30), Fraction(30000, 1001)}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_it_is_mended(case: Case, ffmpeg: str, ffprobe: str, tmp_path: Path) -> None:
    source, out = tmp_path / "masters", tmp_path / "ready"
    source.mkdir()
    case.make(source)
    before = hashes(source)
    found = fixed(source, out, case.profile, case.wishes)
    broken = [finding for finding in found.planned.before.findings if finding.rule == case.rule]
    assert broken
    asks_for_a_wish = case.rule in WITH_BARS | WITH_ENDS | WITH_FIT
    assert all(finding.fixable != asks_for_a_wish for finding in broken)
    assert hashes(source) == before, "a source is only read"
    assert found.after is not None
    assert [(f.rule, f.message) for f in found.after.findings if f.rule not in case.remains] == []
    assert found.verdict == ("warn" if case.remains else "pass")
    assert [(r.item.path, r.item.change) for r in found.results] == [(case.path, case.change)]
    assert list(hashes(out)) == [case.path]
    _holds_for_others(case, found, out / str(case.path), ffmpeg, ffprobe)


def _holds_for_others(case: Case, found: Fixed, path: Path, ffmpeg: str, ffprobe: str) -> None:
    if path.suffix in (".jpg", ".png"):
        _still(case, path)
        return
    decoded = subprocess.run(
        [ffmpeg, "-v", "warning", "-i", str(path), "-f", "null", "-"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert decoded.stderr == ""
    command = [ffprobe, "-v", "error", "-show_streams", "-show_format", "-of", "json", str(path)]
    told = json.loads(subprocess.run(command, capture_output=True, check=True).stdout)
    pictures = [stream for stream in told["streams"] if stream["codec_type"] == "video"]
    sounds = [stream for stream in told["streams"] if stream["codec_type"] == "audio"]
    assert len(pictures) == 1
    assert len(told["streams"]) == 1 + len(sounds)
    _picture(pictures[0])
    _sound(case, sounds)


def _picture(stream: Mapping[str, Any]) -> None:
    assert (stream["codec_name"], stream["pix_fmt"]) == ("h264", "yuv420p")
    assert stream["profile"] in ("High", "Main", "Constrained Baseline")
    assert stream["level"] <= 30
    assert (stream["width"], stream["height"]) == (320, 180)
    assert stream.get("sample_aspect_ratio", "1:1") == "1:1"
    assert stream.get("field_order", "progressive") == "progressive"
    assert Fraction(stream["r_frame_rate"]) in RATES
    assert not [side for side in stream.get("side_data_list", ()) if side.get("rotation")]


def _sound(case: Case, streams: list[Mapping[str, Any]]) -> None:
    use = case.profile.audio.use
    assert len(streams) <= (0 if use == "none" else 1)
    if use == "required":
        assert len(streams) == 1
    for stream in streams:
        assert stream["codec_name"] == "aac"
        assert stream["sample_rate"] in ("44100", "48000")
        assert stream["channels"] <= 2


def _still(case: Case, path: Path) -> None:
    with Image.open(path) as image:
        image.load()
        assert image.format == ("PNG" if path.suffix == ".png" else "JPEG")
        assert image.mode == "RGB"
        assert image.width <= (case.profile.stills.width_max or 0)
        assert image.height <= (case.profile.stills.height_max or 0)
        assert "progressive" not in image.info
        assert image.getexif().get(0x0112, 1) == 1


def test_there_are_enough_of_them() -> None:
    assert len(CASES) >= 50
    assert len({case.name for case in CASES}) == len(CASES)
