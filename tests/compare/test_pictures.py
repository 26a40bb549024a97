"""The same picture is known again after encoding, and other clips of the same campaign are not taken for it.

What is far and what is near is measured on footage that nobody here made, on the sample media, and on clips
of the demo that share their style and colours.
"""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from mediacheck.compare.pairing import pairing, same_picture
from mediacheck.demo.clips import Clip, find_encoder, make_clip
from mediacheck.demo.scenes import SCENES_WATER
from mediacheck.loop import File
from mediacheck.measure.fingerprint import FingerprintGauge, distance
from mediacheck.measure.same_picture import SAME_PICTURE
from tests.compare.make import clip, measured
from tests.measure.strips import smalls
from tests.media.footage import real_footage, sample_clips

AGAIN = {
    "few bits": "-preset ultrafast -crf 40",
    "small": "-preset ultrafast -crf 30 -vf scale=trunc(iw/8)*2:-2",
    "MPEG-4": "-c:v mpeg4 -q:v 14",
    "H.265": "-c:v libx265 -preset ultrafast -crf 34 -x265-params log-level=none",
}
CAMPAIGN = ("drizzle", "spring", "rain-on-request", "never-forgets")
"""The nearest of the demo's clips: 0.137 apart and more at their full length."""


@cache
def fingerprint(path: Path, seconds: float = 99) -> bytes:
    gauge = FingerprintGauge()
    for second, picture in smalls(path):
        if second < seconds:
            gauge.see(second, np.asarray(picture))
    return gauge.result()


def file_of(path: Path, seconds: float = 99) -> File:
    return clip(path.name, path.name, measurements=measured([], fingerprint=fingerprint(path, seconds).hex()))


def encoded(source: Path, options: str, target: Path) -> Path:
    command = ["ffmpeg", "-v", "error", "-t", "2", "-i", str(source), "-an", "-threads", "1"]
    subprocess.run([*command, *options.split(), str(target)], check=True, timeout=60)
    return target


@pytest.mark.parametrize("again", AGAIN)
def test_what_was_encoded_again_shows_the_same(again: str, tmp_path: Path) -> None:
    sources = [one for one in real_footage() if one.stem in ("bikes", "carphone_pristine")]
    for source in (*sources, sample_clips()[-1]):
        changed = encoded(source, AGAIN[again], tmp_path / f"{source.stem}.mp4")
        assert distance(fingerprint(source, 2), fingerprint(changed)) < SAME_PICTURE * 0.8
        assert same_picture(file_of(source, 2), file_of(changed)) is True


def apart(clips: Sequence[Path], seconds: float) -> list[float]:
    prints = [fingerprint(each, seconds) for each in clips]
    return [distance(one, other) for one, other in combinations(prints, 2) if len(one) == len(other)]


def test_clips_that_have_nothing_to_do_with_each_other_are_far() -> None:
    footage = [one for one in real_footage() if one.stem != "carphone_distorted"]
    assert min(apart(footage, 3)) > 4 * SAME_PICTURE
    assert min(apart([*footage, *sample_clips()], 1.4)) > 1.5 * SAME_PICTURE


def test_clips_of_one_campaign_are_told_apart(tmp_path: Path) -> None:
    made = []
    for scene in CAMPAIGN:
        made.append(tmp_path / f"{scene}.mp4")
        make_clip(Clip(SCENES_WATER[scene], 2, 640, 360), made[-1], find_encoder(), tmp_path)
    assert min(apart(made, 99)) > 1.3 * SAME_PICTURE
    files = [file_of(each) for each in made]
    assert pairing(files[:2], files[2:]).pairs == ()
