"""What the decode leaves out for speed does not show in the small pictures."""

from __future__ import annotations

import io
import re
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from mediacheck.measure.graph import Plan, plan
from mediacheck.measure.pieces import pieces
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from tests.media.footage import real_footage

LIMIT_S = 60
ENCODERS = {"h264": "-c:v libx264 -bf 3 -preset veryfast", "h265": "-c:v libx265 -preset ultrafast -bf 4"}
LOW_QUALITY = "-crf 36"


def small_pictures(work: Plan) -> NDArray[Any]:
    out = subprocess.run(work.command, capture_output=True, timeout=LIMIT_S, check=True).stdout
    return np.stack([piece.data for piece in pieces(io.BytesIO(out), work) if piece.kind == "small"])


def whole_work(work: Plan) -> Plan:
    """The same, with every filter of the decoder and every line of the picture."""
    command = list(work.command)
    place = command.index("-skip_loop_filter")
    del command[place : place + 2]
    graph = command.index("-filter_complex") + 1
    whole, count = re.subn(
        r"\[s0\](?:field|crop)=.*blend=all_mode=average:repeatlast=0\[(s\d+)\];\[\1\]", "[s0]", command[graph]
    )
    assert count == 1
    assert "field" not in whole
    command[graph] = whole
    return replace(work, command=tuple(command))


@pytest.mark.parametrize("codec", ENCODERS)
def test_small_pictures_are_those_of_the_whole_decode_within_a_level(
    codec: str, ffmpeg: str, tmp_path: Path
) -> None:
    """Blocky pictures of a poor quality, where the loop filter has most to do."""
    clip = tmp_path / "clip.mp4"
    film = ["-i", str(real_footage()[0]), "-t", "2", "-vf", "scale=1920:1080", "-an"]
    call = [ffmpeg, "-nostdin", "-v", "error", *film, *ENCODERS[codec].split(), *LOW_QUALITY.split()]
    subprocess.run([*call, str(clip)], check=True, timeout=LIMIT_S)
    facts = read_facts(clip, clip.name)
    assert isinstance(facts, MediaFacts)
    work = plan(Path(ffmpeg), f"file:{clip}", facts, 0)
    ours, whole = small_pictures(work), small_pictures(whole_work(work))
    assert ours.shape == whole.shape
    difference = np.abs(ours.astype(float) - whole)
    assert float(difference.mean()) < 1.0
    assert float(np.abs(ours.mean(axis=(1, 2, 3)) - whole.mean(axis=(1, 2, 3))).max()) < 0.5
    assert float(np.percentile(difference, 99.9)) < 12


@pytest.mark.parametrize(
    ("size", "pixels", "paired"),
    [
        ("1280x720", "yuv420p", True),
        ("720x1280", "yuv422p10le", True),
        ("642x538", "yuv444p", False),
        ("1281x719", "gray", True),
        ("1280x718", "yuv410p", True),
        ("1280x722", "gbrp", True),
        ("1280x721", "bgr0", True),
        ("322x182", "yuv420p", False),
    ],
)
def test_pictures_of_any_height_and_form_are_made_small(
    size: str, pixels: str, paired: bool, ffmpeg: str, tmp_path: Path
) -> None:
    """Lines go in pairs where a cell has enough of them; up to three at the foot stay out then."""
    clip = tmp_path / "clip.mkv"
    film = ["-f", "lavfi", "-i", f"testsrc2=s={size}:r=25:d=0.4", "-pix_fmt", pixels, "-c:v", "ffv1"]
    subprocess.run([ffmpeg, "-nostdin", "-v", "error", *film, str(clip)], check=True, timeout=LIMIT_S)
    facts = read_facts(clip, clip.name)
    assert isinstance(facts, MediaFacts)
    work = plan(Path(ffmpeg), f"file:{clip}", facts, 0)
    ours = small_pictures(work)
    assert len(ours) == 10
    assert ("blend" in " ".join(work.command)) is paired
    if paired:
        difference = np.abs(ours.astype(float) - small_pictures(whole_work(work)))
        assert float(difference.mean()) < 2.0
