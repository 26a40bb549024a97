"""The markers of JPEG files, as ITU-T T.81 Annex B and Table B.1 give them.

The numbers stand in Pillow's table of markers too; the files here are written by Pillow and by hand.
"""

from __future__ import annotations

import io

import pytest
from PIL import Image, JpegImagePlugin

from mediacheck.media.jpeg import FRAME_MARKERS, PROGRESSIVE_MARKERS, Frame, frame_of

START, SCAN = b"\xff\xd8", b"\xff\xda"
FRAME = bytes.fromhex("000b 08 0010 0020 01 01 11 00")
"""Length 11, 8 bits, 16 lines of 32 samples, one component (B.2.2)."""
KINDS = {
    0xC0: "baseline",
    0xC1: "extended sequential",
    0xC2: "progressive",
    0xC3: "lossless",
    0xC5: "differential sequential",
    0xC6: "differential progressive",
    0xC7: "differential lossless",
    0xC9: "extended sequential, arithmetic",
    0xCA: "progressive, arithmetic",
    0xCB: "lossless, arithmetic",
    0xCD: "differential sequential, arithmetic",
    0xCE: "differential progressive, arithmetic",
    0xCF: "differential lossless, arithmetic",
}
"""Table B.1: SOF0 to SOF15. C4 is DHT, C8 is JPG (reserved), CC is DAC."""


def saved(mode: str = "RGB", **options: object) -> bytes:
    file = io.BytesIO()
    Image.linear_gradient("L").resize((64, 48)).convert(mode).save(file, "JPEG", **options)
    return file.getvalue()


def test_the_frame_markers_are_those_of_the_table() -> None:
    assert set(KINDS) == FRAME_MARKERS
    assert {marker for marker, kind in KINDS.items() if "progressive" in kind} == PROGRESSIVE_MARKERS


def test_pillow_knows_the_same_frame_markers() -> None:
    named = {marker - 0xFF00 for marker, row in JpegImagePlugin.MARKER.items() if row[0].startswith("SOF")}
    assert named == FRAME_MARKERS


@pytest.mark.parametrize("marker", sorted(KINDS))
def test_each_frame_marker_is_found(marker: int) -> None:
    frame = frame_of(START + bytes([0xFF, marker]) + FRAME)
    assert frame == Frame(marker, 8, 1, None)
    assert frame.progressive == ("progressive" in KINDS[marker])


@pytest.mark.parametrize("marker", [0xC4, 0xC8, 0xCC])
def test_tables_and_the_reserved_marker_are_no_frames(marker: int) -> None:
    """What follows them counts: a progressive frame behind them is found."""
    before = START + bytes([0xFF, marker]) + FRAME
    assert frame_of(before) is None
    assert frame_of(before + b"\xff\xc2" + FRAME) == Frame(0xC2, 8, 1, None)


def test_baseline_and_progressive_files_of_pillow() -> None:
    assert frame_of(saved(progressive=False)) == Frame(0xC0, 8, 3, None)
    assert frame_of(saved(progressive=True)) == Frame(0xC2, 8, 3, None)
    assert frame_of(saved("L")) == Frame(0xC0, 8, 1, None)


def test_the_adobe_segment_tells_how_four_inks_are_coded() -> None:
    """APP14 "Adobe": its last byte is 0 for CMYK, 2 for YCCK (Adobe Technical Note 5116, from memory)."""
    cmyk = saved("CMYK")
    assert frame_of(cmyk) == Frame(0xC0, 8, 4, 0)
    at = cmyk.index(b"Adobe") + 11
    assert frame_of(cmyk[:at] + b"\x02" + cmyk[at + 1 :]) == Frame(0xC0, 8, 4, 2)


def test_fill_bytes_and_markers_without_length_are_stepped_over() -> None:
    """B.1.1.2: any marker may have FFh before it; B.1.1.3: TEM and RSTn stand alone."""
    data = START + b"\xff\xff\xff\xe0\x00\x04ab" + b"\xff\x01" + b"\xff\xd0" + b"\xff\xc0" + FRAME
    assert frame_of(data) == Frame(0xC0, 8, 1, None)


def test_what_looks_like_a_marker_inside_a_segment_is_none() -> None:
    """A thumbnail in an APP1 segment has frame markers of its own."""
    inside = b"\xff\xc2" + FRAME
    segment = b"\xff\xe1" + (2 + len(inside)).to_bytes(2, "big") + inside
    assert frame_of(START + segment + b"\xff\xc0" + FRAME) == Frame(0xC0, 8, 1, None)


def test_no_frame_before_the_end_is_none() -> None:
    assert frame_of(START + SCAN + b"\x00\x08\x01\x01\x00\x00\x3f\x00" + b"\x12\x34\xff\x00\x56") is None
    assert frame_of(START + b"\xff\xd9") is None
    assert frame_of(START) is None
