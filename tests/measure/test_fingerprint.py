"""Fingerprints: bits as imagehash defines them, near for the same clip in other clothes, far for another."""

from __future__ import annotations

import subprocess
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.measure.fingerprint import FingerprintGauge, distance
from tests.measure.strips import Bytes, smalls
from tests.media.footage import real_footage

NEAR, FAR = 0.13, 0.45
"""Measured: up to 0.10 for what was encoded anew, scaled or cropped by 5 %; 0.50 and more for other clips."""


def fingerprint(pictures: list[Bytes], rate: float = 25) -> bytes:
    gauge = FingerprintGauge()
    for number, picture in enumerate(pictures):
        gauge.see(number / rate, picture)
    return gauge.result()


@cache
def fingerprint_of(clip: Path) -> bytes:
    gauge = FingerprintGauge()
    for second, picture in smalls(clip):
        gauge.see(second, picture)
    return gauge.result()


def grey(luma: Bytes) -> Bytes:
    return luma[:, :, None].repeat(3, axis=2)


RAMP = np.linspace(0, 255, 160).astype(np.uint8)[None].repeat(90, axis=0)
ZEROS, ONES = "00" * 8, "ff" * 8
HASHES = {
    "left to right": (RAMP, ONES, ZEROS),
    "right to left": (RAMP[:, ::-1], ZEROS, ZEROS),
    "top to bottom": (np.linspace(0, 255, 90).astype(np.uint8)[:, None].repeat(160, axis=1), ZEROS, ONES),
    "black": (np.zeros((90, 160), np.uint8), ZEROS, ZEROS),
    "white": (np.full((90, 160), 255, np.uint8), ZEROS, ZEROS),
}
"""dhash and dhash_vertical of imagehash 4.3.2 for the same pictures at 256 x 256 (values run with it)."""


@pytest.mark.parametrize("name", HASHES)
def test_hashes_of_ramps_are_those_of_imagehash(name: str) -> None:
    luma, across, down = HASHES[name]
    record = fingerprint([grey(luma)])
    assert (len(record), record[0], record[1:9].hex(), record[9:17].hex()) == (21, 1, across, down)


def test_first_bit_is_top_left_and_most_significant() -> None:
    """As in imagehash: only (row 0, column 0) gives 8000000000000000."""
    cells = np.full((8, 9), 90, np.uint8)
    cells[:, 1:] = 80
    cells[0, 1:] = 120
    picture = cells.repeat(10, axis=0).repeat(20, axis=1)
    assert fingerprint([grey(picture)])[1:9].hex() == "8000000000000000"


def test_colour_contrast_and_flatness_stand_behind_the_bits() -> None:
    plain = np.full((90, 160, 3), (200, 30, 7), np.uint8)
    assert fingerprint([plain])[17:] == bytes((200, 30, 7, 0x80))
    assert fingerprint([grey(RAMP)])[17:] == bytes((127, 127, 127, 74))


def test_a_record_for_each_half_second_told_by_its_middle() -> None:
    """Picture N has level 2 N; at 25 a second, number 6 is on the screen at 0.25 s, number 18 at 0.75 s."""
    pictures = [np.full((90, 160, 3), 2 * number, np.uint8) for number in range(50)]
    records = fingerprint(pictures)[1:]
    assert [records[place + 16] for place in range(0, len(records), 20)] == [12, 36, 62, 86]


def test_a_picture_that_stays_counts_for_every_half_second_it_stays() -> None:
    gauge = FingerprintGauge()
    for second, level in ((0.0, 40), (1.6, 90), (2.0, 0)):
        gauge.see(second, np.full((90, 160, 3), level, np.uint8))
    assert [gauge.result()[place] for place in (17, 37, 57, 77)] == [40, 40, 40, 90]


def test_no_pictures_leave_the_version_alone() -> None:
    assert FingerprintGauge().result() == b"\x01"
    assert distance(b"\x01", b"\x01") == 0.0
    assert distance(b"\x01", fingerprint([grey(RAMP)])) == 1.0


def test_flat_pictures_go_by_their_colour() -> None:
    black, white, dark = (fingerprint([np.full((90, 160, 3), level, np.uint8)]) for level in (0, 255, 8))
    assert distance(black, white) == 1.0
    assert distance(black, dark) == pytest.approx(8 / 255)
    assert distance(black, fingerprint([grey(RAMP)])) == pytest.approx(0.5 + 127 / 255)


@pytest.mark.parametrize("spoilt", [b"", b"\x02" + bytes(20), b"\x01" + bytes(19)])
def test_what_is_no_fingerprint_is_refused(spoilt: bytes) -> None:
    with pytest.raises(ValueError, match="no fingerprint of version 1"):
        distance(spoilt, b"\x01")


PRINTS = st.integers(0, 6).flatmap(lambda count: st.binary(min_size=20 * count, max_size=20 * count))


@settings(deadline=None)
@given(PRINTS, PRINTS)
def test_distance_is_a_share_alike_both_ways_and_0_for_the_same(one: bytes, other: bytes) -> None:
    ours, theirs = b"\x01" + one, b"\x01" + other
    assert 0 <= distance(ours, theirs) <= 1
    assert distance(ours, theirs) == distance(theirs, ours)
    assert distance(ours, ours) == 0


CLOTHES = {
    "poor encoder": ("null", "-crf 40"),
    "a quarter of the size": ("scale=trunc(iw/8)*2:-2", "-crf 30"),
    "cropped by 5 %": ("crop=iw*0.95:ih*0.95,scale=trunc(iw/2)*2:-2", "-crf 28"),
    "29.97 a second": ("fps=30000/1001", "-crf 28 -r 30000/1001"),
    "15 a second": ("fps=15", "-crf 28 -r 15"),
    "MPEG-4": ("null", "-c:v mpeg4 -q:v 12"),
}


@pytest.mark.parametrize("clothes", CLOTHES)
@pytest.mark.parametrize("name", ["bikes", "carphone_pristine"])
def test_the_same_clip_in_other_clothes_is_near(name: str, clothes: str, tmp_path: Path) -> None:
    (original,) = (clip for clip in real_footage() if clip.stem == name)
    picture_filter, options = CLOTHES[clothes]
    changed = tmp_path / "clip.mp4"
    command = ["ffmpeg", "-v", "error", "-t", "3", "-i", str(original), "-vf", picture_filter, "-an"]
    subprocess.run([*command, "-preset", "ultrafast", *options.split(), str(changed)], check=True, timeout=60)
    found = fingerprint_of(changed)
    assert len(found) == 1 + 20 * 6
    assert distance(fingerprint_of(original)[: len(found)], found) < NEAR


def test_other_clips_are_far_but_a_spoilt_copy_is_near() -> None:
    prints = {clip.stem: fingerprint_of(clip) for clip in real_footage()}
    for one, other in combinations(sorted(prints), 2):
        length = min(len(prints[one]), len(prints[other]))
        apart = distance(prints[one][:length], prints[other][:length])
        assert (apart < NEAR) if {one, other} == {"carphone_distorted", "carphone_pristine"} else apart > FAR


def test_what_only_one_clip_has_counts_against_it() -> None:
    whole = fingerprint([grey(RAMP)] * 100)
    assert len(whole) == 1 + 8 * 20
    assert distance(whole, whole[:-20]) == 0
    assert distance(whole, whole[:81]) == pytest.approx(3 / 7)
