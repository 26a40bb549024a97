"""The layout of MP4 and MOV boxes, as published.

Sources: Apple, QuickTime File Format (atom sizes, matrices, track header), which ISO/IEC 14496-12 takes over
(clause numbers from memory).
"""

from __future__ import annotations

import io
import struct

import pytest

from mediacheck.media.boxes import Box, read_movie, top_boxes
from tests.media.mp4_writer import Track, box, ftyp, last_box, moov, wide_box


def listed(data: bytes) -> list[Box]:
    return list(top_boxes(io.BytesIO(data), len(data)))


def test_a_box_has_a_32_bit_size_that_counts_itself_and_a_kind_of_four_letters() -> None:
    """Atom header: size 4 bytes, type 4 bytes, big-endian; the size counts the header (14496-12 4.2)."""
    data = bytes.fromhex("00000010 66747970 71742020 00000000 00000008 66726565")
    assert listed(data) == [Box(b"ftyp", 0, 8, 16, False), Box(b"free", 16, 24, 24, False)]


def test_size_1_means_that_64_bits_of_size_follow_the_kind() -> None:
    """The header is then 16 bytes long (extended size field)."""
    data = bytes.fromhex("00000001 6d646174 00000000 00000014 01020304") + box(b"free")
    assert listed(data) == [Box(b"mdat", 0, 16, 20, False), Box(b"free", 20, 28, 28, False)]


def test_size_0_means_up_to_the_end_of_the_file() -> None:
    """Only the last box may be written so."""
    assert listed(box(b"free") + last_box(b"mdat", bytes(100))) == [
        Box(b"free", 0, 8, 8, False),
        Box(b"mdat", 8, 16, 116, False),
    ]


def test_a_box_of_more_than_4_gib_needs_the_long_size() -> None:
    """FFFFFFFFh is the most that 32 bits can say; a claim beyond the file is a box that is cut."""
    data = struct.pack(">I4sQ", 1, b"mdat", 0x1_0000_0010) + bytes(10)
    assert listed(data) == [Box(b"mdat", 0, 16, 26, True)]


@pytest.mark.parametrize("size", [2, 7])
def test_a_size_smaller_than_its_own_header_is_no_box(size: int) -> None:
    """Sizes 2 to 7 cannot hold the eight bytes of the header."""
    assert listed(struct.pack(">I4s", size, b"free") + bytes(20)) == []


def test_a_long_size_smaller_than_its_own_header_is_no_box() -> None:
    assert listed(struct.pack(">I4sQ", 1, b"mdat", 15) + bytes(20)) == []


@pytest.mark.parametrize("write", [box, wide_box])
def test_the_index_may_stand_before_or_behind_the_media(write: type) -> None:
    """Progressive start needs moov before mdat; both orders are valid (14496-12 6.2.3, from memory)."""
    index, media = moov(Track(chunk_at=8)), write(b"mdat", bytes(210))
    assert walk(ftyp() + index + media) == (True, None)
    assert walk(ftyp() + media + index) == (False, None)
    assert walk(ftyp() + box(b"free") + media + box(b"free") + index) == (False, None)


def walk(data: bytes) -> tuple[bool | None, str | None]:
    movie = read_movie(io.BytesIO(data), len(data))
    return movie.index_first, movie.truncated


@pytest.mark.parametrize("version", [0, 1])
@pytest.mark.parametrize(
    ("matrix", "clockwise"),
    [
        ((1, 0, 0, 1), 0),
        ((0, 1, -1, 0), 90),
        ((-1, 0, 0, -1), 180),
        ((0, -1, 1, 0), 270),
    ],
)
def test_the_display_matrix_turns_clockwise(
    matrix: tuple[int, int, int, int], clockwise: int, version: int
) -> None:
    """a, b, c, d of the matrix (x' = ax + cy, y' = bx + dy; y grows downwards): b = 1, c = -1 is clockwise.

    Proved by decoding a marked frame: the mark at the top left is shown at the top right. The matrix stands
    at byte 40 of the track header's content, 52 in version 1 with its 64-bit times.
    """
    track = Track(matrix=matrix, version=version, chunk_at=8)
    header = track.write()
    start = header.index(b"tkhd") + 4 + (52 if version else 40)
    assert struct.unpack(">2i", header[start : start + 8]) == (matrix[0] << 16, matrix[1] << 16)
    data = ftyp() + moov(track) + box(b"mdat", bytes(210))
    assert [one.rotation for one in read_movie(io.BytesIO(data), len(data)).tracks] == [clockwise]


def test_the_version_0_track_header_is_92_bytes_long() -> None:
    """14496-12 8.3.2: 8 bytes of header, 4 of version and flags, 80 of fields."""
    header = Track().write()[8:]
    assert struct.unpack(">I4s", header[:8]) == (92, b"tkhd")


@pytest.mark.parametrize(("brand", "name"), [(b"qt  ", b"qt  "), (b"isom", b"isom"), (b"mp42", b"mp42")])
def test_the_major_brand_is_the_first_word_of_the_file_type_box(brand: bytes, name: bytes) -> None:
    """14496-12 4.3: major brand, minor version, compatible brands; "qt  " is QuickTime's (Apple)."""
    data = ftyp(brand) + moov(Track(chunk_at=8)) + box(b"mdat", bytes(210))
    assert read_movie(io.BytesIO(data), len(data)).brand == name
