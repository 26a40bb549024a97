"""FAT, bitmap and folders of a new exFAT volume: to the byte, and of a huge one in little memory."""

from __future__ import annotations

import tracemalloc
from datetime import datetime
from itertools import repeat

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.exfat_entries import FileEntry, StreamEntry, compose_entry_set
from mediacheck.card.exfat_layout import BootSector, entry_set_checksum
from mediacheck.card.exfat_new_folders import Item, entry_sets, in_disk_order
from mediacheck.card.exfat_new_tables import PIECE_BYTES, bitmap_pieces, fat_pieces
from mediacheck.card.exfat_times import Stamp
from mediacheck.card.exfat_writer import lay_out
from mediacheck.card.new_volume import DoesNotFit, NewFile, NewFolder, NewVolume
from tests.card.new_images import MORNING

TIB = 1 << 40
PIECE_ENTRIES = PIECE_BYTES // 4


@given(st.lists(st.integers(1, 40), min_size=1, max_size=4))
def test_the_fat_is_that_of_chains_without_gaps(lengths: list[int]) -> None:
    """4.1: F8h, FFFFFFFFh, then each cluster leads to the next, and the last one to the end."""
    wanted = [0xFFFFFFF8, 0xFFFFFFFF]
    for length in lengths:
        first = len(wanted)
        wanted += [*range(first + 1, first + length), 0xFFFFFFFF]
    ends = [2 + sum(lengths[: number + 1]) for number in range(len(lengths))]
    assert np.frombuffer(b"".join(fat_pieces(ends)), "<u4").tolist() == wanted


@pytest.mark.parametrize("end", [PIECE_ENTRIES - 1, PIECE_ENTRIES, PIECE_ENTRIES + 1, 3 * PIECE_ENTRIES])
def test_the_fat_goes_on_in_the_next_piece(end: int) -> None:
    wanted = np.arange(1, end + 3)
    wanted[[1, end - 1, end + 1]], wanted[0] = 0xFFFFFFFF, 0xFFFFFFF8
    pieces = [*fat_pieces((end, end + 2))]
    assert np.array_equal(np.frombuffer(b"".join(pieces), "<u4"), wanted)
    assert max(map(len, pieces)) <= PIECE_BYTES


@pytest.mark.parametrize("used", [0, 1, 7, 8, 9, 8 * PIECE_BYTES - 1, 8 * PIECE_BYTES, 16 * PIECE_BYTES + 3])
def test_the_bitmap_has_one_bit_for_each_cluster_in_use(used: int) -> None:
    """7.1.5: the lowest bit of the first byte is that of cluster 2."""
    pieces = [*bitmap_pieces(used)]
    bits = np.unpackbits(np.frombuffer(b"".join(pieces), np.uint8), bitorder="little")
    assert np.array_equal(bits, np.arange(-(-used // 8) * 8) < used)
    assert max(map(len, pieces), default=0) <= PIECE_BYTES


def test_an_entry_set_is_that_of_the_worked_example() -> None:
    """Our notes on the exFAT specification, 6.3.3 and 7.6.4: accepted by fsck.exfat."""
    new = NewFile("promo.mp4", 5, datetime(2025, 1, 1, 4))
    (entries,) = entry_sets([Item(new, 6, 5)])
    assert (entries[2:4].hex(), entries[36:38].hex()) == ("8abd", "8af8")
    assert (entries[1], entries[4:20].hex()) == (2, "20000000" + "0020215a" * 3)
    assert (entries[20:25].hex(), entries[33]) == ("0000808080", 3)


@given(
    st.lists(
        st.tuples(
            st.text(min_size=1, max_size=60),
            st.integers(0, 2**40),
            st.datetimes(datetime(1980, 1, 1), datetime(2107, 12, 31)),
        ),
        max_size=6,
    ),
    st.booleans(),
)
def test_many_sets_at_once_are_those_of_one_by_one(
    items: list[tuple[str, int, datetime]], is_folder: bool
) -> None:
    """6.3.3, 6.3.4.2: what is empty does not say that it lies in one piece."""
    made = [
        Item(NewFolder(name, moment) if is_folder else NewFile(name, size, moment), 9, size)
        for name, size, moment in items
    ]
    for item, found in zip(made, map(b"".join, map(entry_sets, ([item] for item in made))), strict=True):
        stamp = Stamp.of(item.new.modified)
        stamp = Stamp(stamp.timestamp, stamp.increment_10ms, 0x80)
        stream = StreamEntry.parse(found[32:])
        file = FileEntry(0, 0, 0x10 if is_folder else 0x20, stamp, stamp, Stamp(stamp.timestamp, 0, 0x80))
        assert found == compose_entry_set(file, stream, item.new.name)
        assert (stream.first_cluster, stream.flags) == (9, 3 if item.size_bytes else 1)
        assert stream.valid_data_length == stream.data_length == item.size_bytes
        assert entry_set_checksum(found) == int.from_bytes(found[2:4], "little")
    assert b"".join(entry_sets(made)) == b"".join(b"".join(entry_sets([item])) for item in made)


def test_a_folder_that_exfat_cannot_list_is_named() -> None:
    """9.5: 256 MiB, here of sets of 19 entries and four of 3. The root has three entries more."""
    long, short = NewFile("n" * 255, 0, MORNING), NewFile("n", 0, MORNING)
    most = (*repeat(long, (1 << 28) // (19 * 32)), *repeat(short, 4))
    fitting = NewFolder("Long", MORNING, most)
    found = in_disk_order(NewFolder("", MORNING, (), (fitting,)), 1 << 15)
    assert [(folder.path, folder.clusters) for folder in found] == [("", 1), ("Long", 1 << 13)]
    words = (
        "{} has 441,{} files and folders, whose names take 268,435,{} bytes, and exFAT allows 268,435,456 "
        "in a folder"
    )
    seeds = NewFolder("Seeds", MORNING, (), (NewFolder("Long", MORNING, (*most, short)),))
    said = words.format("the folder Seeds/Long", 510, 520)
    with pytest.raises(DoesNotFit, match=f"^{said}$"):
        in_disk_order(NewFolder("", MORNING, (), (seeds,)), 1 << 15)
    with pytest.raises(DoesNotFit, match=f"^{words.format('the root folder', 509, 520)}$"):
        in_disk_order(NewFolder("", MORNING, most), 1 << 15)


def test_folders_in_folders_beyond_any_stack() -> None:
    folder = NewFolder("last", MORNING, (NewFile("deep.mp4", 1, MORNING),))
    for _ in range(3000):
        folder = NewFolder("f", MORNING, (), (folder,))
    root = NewFolder("", MORNING, (NewFile("first.mp4", 1, MORNING),), (folder,))
    laid_out = lay_out(NewVolume("exFAT", 0, 1 << 24, 4096, 1, root))
    assert [placed.path for placed in laid_out.files] == ["first.mp4", "f/" * 3000 + "last/deep.mp4"]
    assert laid_out.files[0].start_byte + 4096 == laid_out.files[1].start_byte


@pytest.mark.parametrize(
    ("size_bytes", "cluster_bytes", "most_bytes"),
    [(128 * TIB, 131_072, 110 << 20), (2 * TIB, 512, 500 << 20), (16 * TIB, 4096, 500 << 20)],
)
def test_a_huge_volume_takes_little_memory(size_bytes: int, cluster_bytes: int, most_bytes: int) -> None:
    """Four fifths full. Its tables are long; what is zero in them is not among the pieces."""
    files = tuple(NewFile(f"{number}.mp4", size_bytes // 5, MORNING) for number in range(4))
    volume = NewVolume("exFAT", 0, size_bytes, cluster_bytes, 1, NewFolder("", MORNING, files))
    tracemalloc.start()
    laid_out = lay_out(volume)
    total = done = 0
    for place, piece in laid_out.head():
        assert place >= done
        assert 0 < len(piece) <= 4 << 20
        done, total = place + len(piece), total + len(piece)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 8 << 20
    clusters = laid_out.capacity_bytes // cluster_bytes
    assert clusters // 10 < total < most_bytes
    assert done <= laid_out.files[0].start_byte < laid_out.files[0].start_byte + size_bytes // 5
    first = BootSector.parse(next(iter(laid_out.head()))[1])
    assert (first.cluster_count, first.percent_in_use) == (
        clusters,
        laid_out.used_bytes * 100 // laid_out.capacity_bytes,
    )
