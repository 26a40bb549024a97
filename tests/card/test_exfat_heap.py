"""Clusters lie where the boot sector says, and nothing is read or promised beyond the end of the medium."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from mediacheck.card.damages import Damages
from mediacheck.card.exfat_entries import StreamEntry, parse_stream_rows
from mediacheck.card.exfat_fat import Chain
from mediacheck.card.exfat_heap import PIECE_BYTES, Claims, Heap
from mediacheck.card.medium import Window
from mediacheck.card.within import Run
from tests.card.media import Bytes
from tests.card.test_exfat_layout import STANDARD

BOOT = replace(
    STANDARD,
    fat_offset=24,
    fat_length=1,
    cluster_heap_offset=32,
    cluster_count=20,
    sectors_per_cluster_shift=0,
)
HEAP_BYTE = 32 * 512
WHOLE = HEAP_BYTE + 20 * 512
CHAIN = Chain(((2, 2), (10, 1)), 3)


def heap(size_bytes: int = WHOLE) -> Heap:
    """Each cluster is full of its own number."""
    clusters = b"".join(bytes((number,)) * 512 for number in range(2, 22))
    return Heap(Bytes((bytes(HEAP_BYTE) + clusters)[:size_bytes]), BOOT, Damages())


def test_clusters_are_read_one_by_one() -> None:
    assert [(number, data[:1], len(data)) for number, data in heap().clusters(CHAIN)] == [
        *((2, b"\2", 512), (3, b"\3", 512), (10, b"\x0a", 512))
    ]
    short = heap(HEAP_BYTE + 700)
    assert [(number, len(data)) for number, data in short.clusters(CHAIN)] == [(2, 512), (3, 188)]


def test_large_clusters_are_read_in_pieces() -> None:
    boot = replace(BOOT, sectors_per_cluster_shift=10, cluster_heap_offset=0, cluster_count=3)
    large = Heap(Bytes(bytes(3 << 19)), boot, Damages())
    assert [(number, len(data)) for number, data in large.clusters(Chain(((2, 2),), 2))] == [
        *((2, PIECE_BYTES), (2, PIECE_BYTES), (3, PIECE_BYTES), (3, PIECE_BYTES))
    ]


@pytest.mark.parametrize(("length", "expected"), [(0, b""), (1, b"\2"), (513, b"\2\3"), (1025, b"\2\3\x0a")])
def test_the_bytes_of_a_chain(length: int, expected: bytes) -> None:
    data = b"".join(heap().pieces(CHAIN, length))
    assert (len(data), bytes(sorted(set(data)))) == (length, expected)
    assert len(b"".join(heap().pieces(CHAIN, 10_000))) == 1536


def test_runs_are_whole_clusters_of_the_whole_medium() -> None:
    whole = heap()
    two, ten = Run(HEAP_BYTE, 1024), Run(HEAP_BYTE + 8 * 512, 512)
    assert whole.runs(CHAIN, 1500, 1500) == (two, ten)
    assert whole.runs(CHAIN, 1000, 1000) == (two,)
    assert whole.runs(CHAIN, 0, 0) == ()
    inner = Heap(Window(Bytes(bytes(100 + WHOLE)), 100, WHOLE), BOOT, Damages())
    assert inner.runs(CHAIN, 1500, 1500) == (Run(HEAP_BYTE + 100, 1024), Run(HEAP_BYTE + 8 * 512 + 100, 512))


def test_runs_end_where_the_valid_bytes_or_the_medium_end() -> None:
    assert heap().runs(CHAIN, 1500, 1499) == (Run(HEAP_BYTE, 1024), Run(HEAP_BYTE + 8 * 512, 475))
    assert heap().runs(CHAIN, 1500, 30) == (Run(HEAP_BYTE, 30),)
    assert heap(HEAP_BYTE + 600).runs(CHAIN, 1500, 1500) == (Run(HEAP_BYTE, 600),)
    assert heap(HEAP_BYTE + 600).there_bytes(CHAIN, 1500) == 600
    assert heap(HEAP_BYTE).runs(CHAIN, 1500, 1500) == ()
    assert heap(10).there_bytes(CHAIN, 1500) == 0


def test_what_a_stream_entry_tells_of() -> None:
    whole = heap()
    assert whole.chain(0, 0, no_fat_chain=False) == Chain((), 0)
    assert whole.chain(5, 513, no_fat_chain=True) == Chain(((5, 2),), 2)
    assert whole.chain(0, 1, no_fat_chain=True).ending == "outside"


@pytest.mark.parametrize(
    ("entry", "expected"),
    [
        (StreamEntry(1, 0, 513, 5, 513, 3), 2),
        (StreamEntry(1, 0, 1024, 20, 1024, 3), 2),
        (StreamEntry(1, 0, 1024, 21, 1024, 3), 0),
        (StreamEntry(1, 0, 513, 1, 513, 3), 0),
        (StreamEntry(1, 0, 512, 5, 513, 3), 0),
        (StreamEntry(1, 0, 513, 5, 513, 1), 0),
        (StreamEntry(1, 0, 0, 0, 0, 3), 0),
        (StreamEntry(1, 0, (1 << 64) - 1, 5, (1 << 64) - 1, 3), 0),
    ],
)
def test_a_file_in_one_piece(entry: StreamEntry, expected: int) -> None:
    rows = parse_stream_rows(np.frombuffer(entry.compose(), np.uint8).reshape(1, -1))
    assert heap().in_one_piece(rows).tolist() == [expected > 0]
    assert heap(WHOLE - 1).in_one_piece(rows).tolist() == [False]
    assert not expected or heap().clusters_of(rows["data_length"]).tolist() == [expected]


def test_claims_know_who_holds_what() -> None:
    claims = Claims()
    claims.add("the root folder", CHAIN)
    claims.add_files(["a.mp4"], [5], [4])
    claims.add("b.mp4", Chain((), 0), "b.mp4")
    assert claims.owners == ["the root folder", "a.mp4", "b.mp4"]
    assert claims.paths == [None, "a.mp4", "b.mp4"]
    assert [*zip(claims.starts, claims.counts, claims.holders, strict=True)] == [
        (2, 2, 0),
        (10, 1, 0),
        (5, 4, 1),
    ]
