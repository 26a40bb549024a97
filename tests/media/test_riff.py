"""The walker of AVI files finds an index, and notices what is cut off."""

from __future__ import annotations

import io
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.media.riff import Avi, read_avi
from tests.conftest import ClipFactory
from tests.media.variants import BY_NAME


def chunk(kind: bytes, content: bytes) -> bytes:
    """Four letters, a little-endian size that leaves out these eight bytes, content padded to even."""
    return kind + struct.pack("<I", len(content)) + content + b"\x00" * (len(content) % 2)


def riff(form: bytes, *chunks: bytes) -> bytes:
    return chunk(b"RIFF", form + b"".join(chunks))


HEADERS = chunk(b"LIST", b"hdrl" + chunk(b"avih", bytes(56)))
MEDIA = chunk(b"LIST", b"movi" + chunk(b"00dc", bytes(33)))
INDEX = chunk(b"idx1", bytes(16))
OPEN_DML = chunk(b"LIST", b"hdrl" + chunk(b"LIST", b"strl" + chunk(b"indx", bytes(24))))


def walked(data: bytes) -> Avi:
    return read_avi(io.BytesIO(data), len(data))


def test_an_index_is_idx1_at_the_end_or_indx_in_the_headers() -> None:
    """The old index and that of OpenDML; without either a player cannot jump back to the start."""
    assert walked(riff(b"AVI ", HEADERS, MEDIA, INDEX)) == Avi(True, None)
    assert walked(riff(b"AVI ", HEADERS, chunk(b"JUNK", b"odd"), MEDIA, INDEX)) == Avi(True, None)
    assert walked(riff(b"AVI ", OPEN_DML, MEDIA)) == Avi(True, None)
    assert walked(riff(b"AVI ", HEADERS, MEDIA)) == Avi(False, None)


def test_the_parts_of_a_file_beyond_a_gigabyte_are_walked_in_turn() -> None:
    """OpenDML: further RIFF chunks of form AVIX follow the first."""
    first, second = riff(b"AVI ", HEADERS, MEDIA, INDEX), riff(b"AVIX", MEDIA)
    assert walked(first + second) == Avi(True, None)
    cut = walked((first + second)[:-5])
    assert cut == Avi(True, "the file should go on for 5 more bytes after its end")


def test_the_letters_of_an_index_inside_the_media_are_none() -> None:
    decoy = chunk(b"LIST", b"movi" + chunk(b"00dc", b"idx1indx"))
    assert walked(riff(b"AVI ", HEADERS, decoy)) == Avi(False, None)


@pytest.mark.parametrize("name", ["h264.avi", "mjpeg.avi", "mpeg4-b-frames.avi", "mpeg4-pixel-12-11.avi"])
def test_every_cut_of_a_file_of_ffmpeg_is_noticed(name: str, clip: ClipFactory) -> None:
    data = clip(BY_NAME[name]).read_bytes()
    assert walked(data) == Avi(True, None)
    for missing in {1, 2, 100, len(data) // 3, len(data) - 12}:
        sentence = f"the file should go on for {missing:,} more bytes after its end"
        assert walked(data[:-missing]).truncated == sentence


def test_a_file_of_ffmpeg_whose_index_is_taken_away_has_none(clip: ClipFactory) -> None:
    data = clip(BY_NAME["mjpeg.avi"]).read_bytes()
    assert walked(data.replace(b"idx1", b"JUNK")) == Avi(False, None)


@given(st.binary(max_size=300), st.sampled_from((b"", b"RIFF", riff(b"AVI ", HEADERS)[:-20])))
def test_any_bytes_end_with_a_record(data: bytes, before: bytes) -> None:
    assert isinstance(walked(before + data), Avi)


@given(st.lists(st.sampled_from((b"RIFF", b"LIST", b"idx1", b"hdrl", b"AVI ", bytes(4), b"\xff" * 4))))
def test_sizes_of_nothing_or_of_everything_end_too(words: list[bytes]) -> None:
    assert isinstance(walked(b"RIFF" + b"".join(words)), Avi)
