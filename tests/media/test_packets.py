"""The packets that an index lists are those that libavformat reads; what is reckoned from them is right."""

from __future__ import annotations

import struct
import subprocess
from array import array
from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.media.boxes import SampleTable, read_movie
from mediacheck.media.opening import open_container
from mediacheck.media.packets import (
    Demuxed,
    Packets,
    demux,
    frame_rate_mode,
    from_table,
    packet_facts,
)
from tests.conftest import ClipFactory
from tests.media.recipe import Variant
from tests.media.variants import BY_NAME, VARIANTS

INDEXED = [
    variant
    for variant in VARIANTS
    if variant.truth["container"] in ("MP4", "MOV") and variant.size and "fragments" not in variant.file_name
]


def listed(location: Path) -> Packets:
    with location.open("rb") as file:
        movie = read_movie(file, location.stat().st_size)
    packets = from_table(next(track for track in movie.tracks if track.handler == b"vide"))
    assert packets is not None
    return packets


def demuxed(location: Path) -> Demuxed:
    with open_container(location) as container:
        return demux(container, container.streams.video[0].index)


def from_the_first(times: Sequence[float]) -> list[float]:
    """Times counted from the earliest: an edit list moves them all, in libavformat's reading only."""
    return [round(time - min(times), 6) for time in times]


@pytest.mark.parametrize("variant", INDEXED, ids=lambda variant: variant.file_name)
def test_the_index_lists_what_libavformat_reads(variant: Variant, clip: ClipFactory) -> None:
    """Sizes, keyframes and times in decode and in show order, of each packet of every MP4 and MOV."""
    location = clip(variant)
    ours, theirs = listed(location), demuxed(location).picture
    assert theirs is not None
    assert list(ours.sizes) == list(theirs.sizes)
    assert ours.keys == theirs.keys
    assert from_the_first(ours.decode_s) == from_the_first(theirs.decode_s)
    assert from_the_first(ours.show_s) == from_the_first(theirs.show_s)
    assert frame_rate_mode(ours) == frame_rate_mode(theirs)
    assert ours.tick_s == theirs.tick_s


def test_there_are_indexed_variants_with_pictures_out_of_order(clip: ClipFactory) -> None:
    """The comparison above would miss the difference of decode and show times if no clip had any."""
    packets = listed(clip(BY_NAME["h264-film.mp4"]))
    assert list(packets.show_s) != sorted(packets.show_s)


@pytest.mark.parametrize("name", ["h264-flac.mkv", "h264-uneven.mkv", "h264.ts", "mpeg2.mpg", "h264.avi"])
def test_decode_times_never_go_back(name: str, clip: ClipFactory) -> None:
    """Also where the container keeps none (Matroska) or leaves some out (program streams)."""
    packets = demuxed(clip(BY_NAME[name])).picture
    assert packets is not None
    assert list(packets.decode_s) == sorted(packets.decode_s)
    assert len(packets.decode_s) == len(packets.sizes)


def test_bytes_and_lengths_are_counted_for_each_stream(clip: ClipFactory, ffprobe: str) -> None:
    """25 pictures of a 25th second, 48 frames of 1024 samples of sound; bytes as ffprobe lists them."""
    location = clip(BY_NAME["h264.m2ts"])
    found = demuxed(location)
    command = [ffprobe, "-v", "error", "-of", "csv=p=0", "-show_entries", "packet=stream_index,size"]
    lines = subprocess.run([*command, str(location)], capture_output=True, text=True, check=True).stdout
    rows = [tuple(map(int, line.rstrip(",").split(",")[:2])) for line in lines.split()]
    assert found.sizes == {stream: sum(size for one, size in rows if one == stream) for stream in (0, 1)}
    assert found.lengths == {0: Fraction(1), 1: Fraction(48 * 1024, 48_000)}


def table(
    durations: Sequence[int], *, keys: frozenset[int] | None = None, timescale: int = 1000
) -> SampleTable:
    """A track of samples of 1, 2, 3, ... bytes with these durations in ticks, shown as they are decoded."""
    starts = list(accumulate(durations, initial=0))[:-1]
    sizes = array("I", range(1, len(starts) + 1))
    return SampleTable(
        b"vide", timescale, 0, False, array("q", starts), array("q", starts), sizes, keys, sum(durations)
    )


def test_the_numbers_of_a_small_table() -> None:
    """Four pictures, one of them held twice as long, two keyframes."""
    packets = from_table(table([40, 40, 80, 40], keys=frozenset((0, 2))))
    assert packets is not None
    facts = packet_facts(packets)
    assert (facts.count, facts.total_bytes, facts.keyframes) == (4, 1 + 2 + 3 + 4, 2)
    assert facts.starts_with_keyframe
    assert facts.duration_s == Fraction(200, 1000)
    assert facts.longest_gop_s == pytest.approx(0.12)
    assert (facts.shortest_interval_s, facts.longest_interval_s) == pytest.approx((0.04, 0.08))
    assert struct.unpack("<4d", facts.decode_times_s) == pytest.approx((0, 0.04, 0.08, 0.16))
    assert struct.unpack("<4I", facts.sizes_bytes) == (1, 2, 3, 4)
    assert frame_rate_mode(packets) == "variable"


def test_a_clip_that_does_not_start_with_a_keyframe_says_so() -> None:
    packets = from_table(table([40] * 4, keys=frozenset((1,))))
    assert packets is not None
    assert not packet_facts(packets).starts_with_keyframe


@pytest.mark.parametrize(
    ("shown", "keys", "leading"),
    [
        ([0, 40, 80, 120], (0, 2), 0),
        ([0, 120, 40, 80], (0,), 0),
        ([80, 0, 40, 120], (0, 3), 2),
        ([0, 40, 120, 80, 160], (2, 4), 3),
        ([0, 40], (), 0),
    ],
    ids=["all in order", "put in order later", "an open start", "a start without keyframe", "no keyframe"],
)
def test_leading_are_those_shown_before_the_first_keyframe(
    shown: list[int], keys: tuple[int, ...], leading: int
) -> None:
    decode = array("d", (40 * place / 1000 for place in range(len(shown))))
    show = array("d", (ticks / 1000 for ticks in shown))
    packets = Packets(decode, show, array("I", [1] * len(shown)), keys, 0.001, Fraction(1))
    assert packet_facts(packets).leading == leading


def test_no_list_of_keyframes_means_that_all_are() -> None:
    """ISO/IEC 14496-12 8.6.2: without a sync sample box every sample is one (from memory)."""
    packets = from_table(table([40] * 3))
    assert packets is not None
    assert packets.keys == (0, 1, 2)


def test_an_index_whose_tables_differ_in_length_is_not_used() -> None:
    longer = table([40] * 4)
    longer.sizes.pop()
    assert from_table(longer) is None
    assert from_table(table([])) is None


@given(st.lists(st.integers(1, 200), min_size=1, max_size=50), st.data())
def test_keyframe_distances_cover_the_clip(durations: list[int], data: st.DataObject) -> None:
    """The longest distance is at least an equal share, and at most the whole length."""
    count = len(durations)
    keys = data.draw(st.frozensets(st.integers(1, count - 1))) if count > 1 else frozenset[int]()
    packets = from_table(table(durations, keys=keys | {0}))
    assert packets is not None
    facts = packet_facts(packets)
    assert facts.keyframes == len(keys) + 1
    assert float(facts.duration_s) / facts.keyframes - 1e-9 <= facts.longest_gop_s
    assert facts.longest_gop_s <= float(facts.duration_s) + 1e-9


@pytest.mark.parametrize("rate", [Fraction(24000, 1001), Fraction(30000, 1001), Fraction(60), Fraction(25)])
@pytest.mark.parametrize("scale", [1000, 90_000])
def test_even_pictures_are_constant_whatever_the_clock_rounds(rate: Fraction, scale: int) -> None:
    """Matroska's clock of 1 ms and MPEG's of 1/90,000 s both round the times of NTSC pictures."""
    times = array("d", (round(number * scale / rate) / scale for number in range(200)))
    packets = Packets(times, times, array("I", [1] * 200), (0,), 1 / scale, Fraction(0))
    assert frame_rate_mode(packets) == "constant"


@pytest.mark.parametrize("scale", [25, 50, 25_000])
def test_a_clock_that_counts_pictures_hides_no_gap(scale: int) -> None:
    """One picture left out is one tick of a clock with 25 ticks a second, which is no rounding."""
    packets = from_table(table([scale // 25] * 20 + [2 * scale // 25] + [scale // 25] * 20, timescale=scale))
    assert packets is not None
    assert frame_rate_mode(packets) == "variable"


def test_a_picture_that_is_left_out_makes_the_rate_variable() -> None:
    times = array("d", (number / 25 for number in range(100) if number != 50))
    packets = Packets(times, times, array("I", [1] * 99), (0,), 0.001, Fraction(4))
    assert frame_rate_mode(packets) == "variable"


def test_too_few_pictures_have_no_rhythm() -> None:
    packets = from_table(table([40, 90]))
    assert packets is not None
    assert frame_rate_mode(packets) is None
