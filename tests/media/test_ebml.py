"""The outermost elements of Matroska files tell its kind, and whether the file is whole."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.media.ebml import Matroska, may_be_turned, read_matroska
from mediacheck.media.sniff import HEAD_BYTES
from tests.conftest import ClipFactory
from tests.media.variants import BY_NAME

SEGMENT = 0x18538067


def size(value: int | None, width: int = 1) -> bytes:
    """A size in `width` bytes (RFC 8794 section 4): a marker bit, then the value; all ones is unknown."""
    ones = (1 << 7 * width) - 1
    return ((1 << 7 * width) | (ones if value is None else value)).to_bytes(width, "big")


def element(identity: int, content: bytes, width: int = 1) -> bytes:
    return identity.to_bytes((identity.bit_length() + 7) // 8, "big") + size(len(content), width) + content


def header(doc_type: bytes) -> bytes:
    return element(0x1A45DFA3, element(0x4286, b"\x01") + element(0x4282, doc_type))


def walked(data: bytes, length: int | None = None) -> Matroska:
    return read_matroska(data[:HEAD_BYTES], len(data) if length is None else length)


@pytest.mark.parametrize("doc_type", ["matroska", "webm"])
@pytest.mark.parametrize("width", [1, 2, 4, 8])
def test_the_doc_type_and_the_segment_size_are_read(doc_type: str, width: int) -> None:
    """RFC 8794: sizes may be written in 1 to 8 bytes; a text may be padded with zeros (section 7.4)."""
    data = header(doc_type.encode() + b"\x00\x00") + element(SEGMENT, bytes(90), width)
    assert walked(data) == Matroska(doc_type, None)
    missing = "the file should go on for 30 more bytes after its end"
    assert walked(data, len(data) - 30) == Matroska(doc_type, missing)


def test_elements_before_the_segment_are_stepped_over() -> None:
    """A Void element may stand anywhere (RFC 8794 section 11.3.2)."""
    data = header(b"webm") + element(0xEC, bytes(40)) + element(SEGMENT, bytes(20))
    assert walked(data, len(data) - 1).truncated == "the file should go on for 1 more bytes after its end"


def test_a_segment_of_unknown_size_is_not_called_cut_off() -> None:
    """Live recordings have no size; where they end nobody can tell (RFC 8794 section 6.2)."""
    for width in (1, 4, 8):
        data = header(b"matroska") + SEGMENT.to_bytes(4, "big") + size(None, width) + bytes(50)
        assert walked(data) == Matroska("matroska", None)


@pytest.mark.parametrize("name", ["h264-flac.mkv", "vp9-opus.webm", "h265-hlg.mkv"])
def test_every_cut_of_a_file_of_ffmpeg_is_noticed(name: str, clip: ClipFactory) -> None:
    data = clip(BY_NAME[name]).read_bytes()
    kind = "webm" if name.endswith(".webm") else "matroska"
    assert walked(data) == Matroska(kind, None)
    for missing in (1, 50, len(data) // 2, len(data) - 200):
        sentence = f"the file should go on for {missing:,} more bytes after its end"
        assert walked(data[:-missing]) == Matroska(kind, sentence)


def test_a_stream_of_ffmpeg_into_a_pipe_has_no_size(clip: ClipFactory, ffmpeg: str, tmp_path: Path) -> None:
    place = tmp_path / "live.mkv"
    source = str(clip(BY_NAME["h264-flac.mkv"]))
    command = [ffmpeg, "-v", "error", "-i", source, "-c", "copy", "-f", "matroska", "-"]
    place.write_bytes(subprocess.run(command, capture_output=True, check=True).stdout)
    assert walked(place.read_bytes()) == Matroska("matroska", None)


def test_a_turned_picture_is_looked_for_only_where_a_projection_stands(clip: ClipFactory) -> None:
    """Matroska keeps a rotation in Projection (7670h) in the tracks, which stand before the first cluster."""
    assert may_be_turned(clip(BY_NAME["h264-turned.mkv"]).read_bytes())
    assert not may_be_turned(clip(BY_NAME["h264-flac.mkv"]).read_bytes())
    cluster, projection = b"\x1f\x43\xb6\x75", b"\x76\x70\x84"
    assert not may_be_turned(header(b"webm") + cluster + projection)
    assert may_be_turned(header(b"webm") + projection + cluster)
    assert may_be_turned(header(b"webm")), "the tracks may stand further on"


@given(st.binary(max_size=300), st.sampled_from((b"", header(b"webm"), b"\x1a\x45\xdf\xa3")))
def test_any_bytes_end_with_a_record(data: bytes, before: bytes) -> None:
    assert isinstance(walked(before + data), Matroska)
