"""Any bytes given to the JPEG walker end with a frame or with none; the markers are in tests/standards."""

from __future__ import annotations

import io

from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from mediacheck.media.jpeg import FRAME_MARKERS, Frame, frame_of

FRAME = bytes.fromhex("ffc0 000b 08 0010 0020 01 01 11 00")
"""Baseline, 8 bits, one component."""


@given(st.binary(max_size=400), st.sampled_from((b"", b"\xff\xd8", b"\xff\xd8\xff\xe0\x00\x04ab")))
def test_any_bytes_give_a_frame_or_none(data: bytes, before: bytes) -> None:
    frame = frame_of(before + data)
    assert frame is None or frame.marker in FRAME_MARKERS


@given(st.integers(0, 1000))
def test_a_cut_file_gives_the_same_frame_or_none(length: int) -> None:
    file = io.BytesIO()
    Image.effect_noise((40, 30), 60).save(file, "JPEG", progressive=True)
    data = file.getvalue()
    assert frame_of(data) == Frame(0xC2, 8, 1, None)
    assert frame_of(data[:length]) in (None, Frame(0xC2, 8, 1, None))


def test_segments_without_length_do_not_stop_the_walk_for_ever() -> None:
    """A length of 0 or 1 is shorter than itself; the walk goes on behind it."""
    assert frame_of(b"\xff\xd8" + b"\xff\xe0\x00\x00" * 1000) is None
    assert frame_of(b"\xff\xd8" + b"\xff" * 100_000) is None
    assert frame_of(b"\xff\xd8" + b"\xff\xe0\x00\x00" * 9 + FRAME) == Frame(0xC0, 8, 1, None)


def test_a_frame_behind_a_large_profile_is_found() -> None:
    """Colour profiles and thumbnails may take many segments of up to 65,535 bytes before the frame."""
    segment = b"\xff\xe2\xff\xff" + bytes(65_533)
    assert frame_of(b"\xff\xd8" + 10 * segment + FRAME) == Frame(0xC0, 8, 1, None)
