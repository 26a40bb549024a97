"""The walker of MP4 and MOV files says what the boxes say, and when a part of the file is missing."""

from __future__ import annotations

import io
import struct
from array import array
from collections.abc import Callable, Sequence
from itertools import accumulate

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.media import boxes
from mediacheck.media.boxes import Movie, read_movie
from tests.conftest import ClipFactory
from tests.media.mp4_writer import Track, box, ftyp, full_box, last_box, moov, rows, wide_box
from tests.media.recipe import Variant
from tests.media.variants import BY_NAME

MEDIA = box(b"mdat", bytes(210))
TICKS = st.lists(st.integers(0, 5000), min_size=1, max_size=30)


def walked(data: bytes) -> Movie:
    return read_movie(io.BytesIO(data), len(data))


@given(TICKS, st.integers(1, 90_000), st.sampled_from((0, 1)), st.data())
def test_a_track_says_what_was_written(
    durations: list[int], timescale: int, version: int, data: st.DataObject
) -> None:
    """Times, sizes, keyframes and clock, in both versions of the headers."""
    count = len(durations)
    sizes = data.draw(st.lists(st.integers(0, 10_000), min_size=count, max_size=count))
    offsets = data.draw(st.none() | st.lists(st.integers(-2000, 2000), min_size=count, max_size=count))
    keys = data.draw(st.none() | st.lists(st.integers(1, len(durations)), unique=True))
    track = Track(sizes, durations, offsets, keys, timescale=timescale, version=version)
    (table,) = walked(ftyp() + moov(track) + MEDIA).tracks
    starts = list(accumulate(durations, initial=0))[:-1]
    assert table == boxes.SampleTable(
        handler=b"vide",
        timescale=timescale,
        rotation=0,
        encrypted=False,
        decode_ticks=array("q", starts),
        show_ticks=array("q", map(sum, zip(starts, offsets or [0] * len(starts), strict=True))),
        sizes=array("I", sizes),
        keys=None if keys is None else frozenset(key - 1 for key in keys),
        total_ticks=sum(durations),
    )


def test_runs_of_equal_samples_are_counted_out() -> None:
    """stts and ctts count samples in runs; stsz may give one size for all (14496-12 8.6.1 and 8.7.3)."""
    track = Track(sizes=(7, 7, 7, 7), durations=(10, 10, 10, 10))
    written = track.write()
    runs = full_box(b"stts", rows((3, 10), (1, 30)))
    shown = full_box(b"ctts", rows((1, 20), (3, -10)), version=1)
    same = full_box(b"stsz", struct.pack(">II", 7, 4))
    old = [full_box(b"stts", rows(*[(1, 10)] * 4)), full_box(b"stsz", bytes(4), rows(*[(7,)] * 4))]
    table_start = written.index(b"stbl") - 4
    tables = written[table_start + 8 :].replace(old[0], runs).replace(old[1], same + shown)
    media = box(
        b"mdia", full_box(b"mdhd", struct.pack(">IIII", 0, 0, 1000, 60), bytes(4)),
        full_box(b"hdlr", bytes(4), b"vide", bytes(13)), box(b"minf", box(b"stbl", tables)),
    )  # fmt: skip
    (table,) = walked(ftyp() + box(b"moov", box(b"trak", media)) + MEDIA).tracks
    assert table.decode_ticks.tolist() == [0, 10, 20, 30]
    assert table.show_ticks.tolist() == [20, 0, 10, 20]
    assert table.sizes.tolist() == [7, 7, 7, 7]
    assert table.total_ticks == 60


@pytest.mark.parametrize(
    ("name", "first", "fragmented"),
    [
        ("h264-main-24.mp4", True, False),
        ("h264-film.mp4", False, False),
        ("h264-30.mov", False, False),
        ("h264-fragments.mp4", True, True),
        ("h264-fragments-base.mp4", True, True),
        ("h264-fragments-dash.mp4", True, True),
    ],
)
def test_where_the_index_is_in_files_of_ffmpeg(
    name: str, first: bool, fragmented: bool, clip: ClipFactory
) -> None:
    """ffmpeg puts it last unless it is asked for +faststart; fragments need it first."""
    movie = walked(clip(BY_NAME[name]).read_bytes())
    assert (movie.has_index, movie.index_first, movie.fragmented) == (True, first, fragmented)
    assert (movie.truncated, movie.encrypted) == (None, False)
    assert movie.brand == (b"qt  " if name.endswith(".mov") else movie.brand)


ENCRYPTED = Variant(
    "h264-encrypted.mp4",
    "-c:v libx264 -preset veryfast -pix_fmt yuv420p -encryption_scheme cenc-aes-ctr"
    " -encryption_key 76a6c65c5ea762046bd749a2e632ccbb -encryption_kid a7e61c373e219033c21091fa607bf3b8",
    "MP4; H.264 High 25 8 4:2:0 progressive",
)


def test_an_encrypted_file_of_ffmpeg_is_known_by_its_sample_entry(clip: ClipFactory) -> None:
    """ISO/IEC 23001-7 common encryption: the entry is called encv and holds a sinf box (from memory)."""
    movie = walked(clip(ENCRYPTED).read_bytes())
    assert movie.encrypted
    assert [track.encrypted for track in movie.tracks] == [True]


@pytest.mark.parametrize("track", [Track(entry=b"encv"), Track(inside_entry=box(b"sinf", bytes(8)))])
def test_each_sign_of_encryption_counts(track: Track) -> None:
    assert walked(ftyp() + moov(track) + MEDIA).encrypted
    assert walked(ftyp() + moov(Track(), more=box(b"pssh", bytes(20))) + MEDIA).encrypted
    assert not walked(ftyp() + moov(Track()) + MEDIA).encrypted


def test_missing_parts_are_named() -> None:
    """What is said to the person, for each part that a cut can take away."""
    index, head = moov(Track(chunk_at=8)), ftyp()
    assert walked(head + index + MEDIA).truncated is None
    assert walked(head + MEDIA + index).truncated is None
    no_index = "but no index: it was cut off or never finished"
    assert walked(head + MEDIA).truncated == f"the file has pictures {no_index}"
    assert walked(head).truncated == f"the file has a beginning {no_index}"
    no_pictures = "the file has an index but no pictures: it was cut off or never finished"
    assert walked(head + index).truncated == no_pictures
    cut = "should go on for 10 more bytes after the end of the file"
    assert walked((head + index + MEDIA)[:-10]).truncated == f"the pictures and sound {cut}"
    assert walked((head + MEDIA + index)[:-10]).truncated == f"the index {cut}"
    assert (
        walked((head + index + MEDIA + box(b"free", bytes(20)))[:-10]).truncated
        == f"a part of the file {cut}"
    )
    last = box(b"moov", full_box(b"mvhd", bytes(96)), box(b"mvex")) + box(b"moof", bytes(8))
    assert walked(head + last).truncated == "the file ends where its next pictures should begin"


def test_an_index_that_points_behind_the_end_means_that_a_part_is_missing() -> None:
    """A last box of size 0 has no length of its own: the chunk offsets tell (stco and co64)."""
    beyond = "the index lists pictures or sound behind the end of the file"
    media = last_box(b"mdat", bytes(100))
    assert walked(ftyp() + moov(Track(chunk_at=8)) + media).truncated is None
    assert walked(ftyp() + moov(Track(chunk_at=5000)) + media).truncated == beyond
    offsets = full_box(b"co64", struct.pack(">IQ", 1, 1 << 33))
    track = Track().write().replace(full_box(b"stco", rows((48,))), offsets)
    for kind in (b"stbl", b"minf", b"mdia", b"trak"):
        at = track.index(kind) - 4
        longer = int.from_bytes(track[at : at + 4], "big") + 4
        track = track[:at] + longer.to_bytes(4, "big") + track[at + 4 :]
    assert walked(ftyp() + box(b"moov", track) + media).truncated == beyond


def test_a_text_under_the_name_of_a_film_is_not_called_cut_off() -> None:
    """Its first letters happen to read as a box of huge size."""
    for text in (
        b"ffconcat version 1.0\nfile 'other.mp4'\n",
        b"#EXTM3U\n#EXTINF:1,\nother.ts\n",
        b"abc",
        b"",
    ):
        movie = walked(text)
        assert (movie.truncated, movie.has_index, movie.tracks) == (None, False, ())


@given(st.booleans(), st.sampled_from((box, wide_box)), st.data())
def test_every_cut_through_the_index_or_the_media_is_noticed(
    index_last: bool, write: Callable[[bytes, bytes], bytes], data: st.DataObject
) -> None:
    media = write(b"mdat", bytes(210))
    parts = [moov(Track(chunk_at=8)), media]
    whole = ftyp() + b"".join(reversed(parts) if index_last else parts)
    length = data.draw(st.integers(len(ftyp()), len(whole) - 1))
    assert walked(whole).truncated is None
    assert walked(whole[:length]).truncated is not None


@settings(max_examples=300)
@given(st.data())
def test_any_change_of_bytes_ends_with_a_record(data: st.DataObject) -> None:
    """Boxes that overlap, claim too much or nothing, or count more rows than there are bytes."""
    whole = bytearray(ftyp() + moov(Track(offsets=(0, 40, -40)), Track(handler=b"soun")) + MEDIA)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(whole) - 4))
        whole[at : at + 4] = data.draw(st.sampled_from(EXTREMES) | st.binary(min_size=4, max_size=4))
    movie = walked(bytes(whole))
    room = len(whole)
    assert all(len(track.sizes) <= room and len(track.decode_ticks) <= room + 1 for track in movie.tracks)


def test_two_thousand_million_samples_of_one_size_are_not_believed() -> None:
    """stsz needs no table where all sizes are equal: the file itself must have room for them."""
    many = 0x7FFFFFFF
    data = ftyp() + moov(Track(sizes=(9,), durations=(40,), chunk_at=8)) + MEDIA
    one_size = full_box(b"stsz", bytes(4), rows((9,)))
    assert one_size in data
    data = data.replace(one_size, full_box(b"stsz", struct.pack(">III", 1, many, 0)))
    data = data.replace(full_box(b"stts", rows((1, 40))), full_box(b"stts", rows((many, 40))))
    (table,) = walked(data).tracks
    assert (len(table.sizes), len(table.decode_ticks)) == (len(data), len(data) + 1)


def test_a_keyframe_of_number_0_is_none() -> None:
    """Samples are counted from 1 (14496-12 8.6.2)."""
    (table,) = walked(ftyp() + moov(Track(keys=(0, 2), chunk_at=8)) + MEDIA).tracks
    assert table.keys == frozenset((1,))


EXTREMES: Sequence[bytes] = (
    bytes(4), b"\x00\x00\x00\x01", b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", b"\x00\x00\x00\x08",
    b"moov", b"trak", b"stbl", b"tkhd", b"mdhd", b"stts", b"stsz",
)  # fmt: skip


@given(st.binary(max_size=300), st.sampled_from((b"", ftyp(), ftyp() + b"\x00\x00\x01\x00moov")))
def test_any_bytes_end_with_a_record(data: bytes, before: bytes) -> None:
    assert isinstance(walked(before + data), Movie)


def test_headers_that_end_before_their_fields_are_survived() -> None:
    """A media header or track header of eight bytes at the very end of the index."""
    table = box(b"minf", box(b"stbl", full_box(b"stts", rows())))
    media = box(b"mdia", full_box(b"hdlr", bytes(4), b"vide", bytes(13)), table, box(b"mdhd"))
    movie = walked(ftyp() + box(b"moov", box(b"trak", box(b"tkhd"), media)) + MEDIA)
    assert [(track.timescale, track.rotation) for track in movie.tracks] == [(1, 0)]


def test_the_walk_over_top_boxes_is_bounded() -> None:
    """More boxes than any real file has are not walked to the end."""
    data = ftyp() + box(b"free") * (boxes.BOXES_MAX + 100)
    assert len(list(boxes.top_boxes(io.BytesIO(data), len(data)))) == boxes.BOXES_MAX
