"""The table of a new FAT volume, held against one that is written entry by entry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.fat_layout import FAT16, FAT32, FatType
from mediacheck.card.fat_new_table import PIECE_BYTES, table_pieces


def written_by_hand(kind: FatType, lengths: list[int]) -> list[int]:
    """Specification, "FAT Data Structure": the medium and all ones, all ones, then each cluster leads on."""
    entries = [kind.mask - 0xFF | 0xF8, kind.mask]
    for length in lengths:
        entries += [len(entries) + place + 1 for place in range(length)]
        entries[-1] = kind.mask
    return entries


def composed(kind: FatType, lengths: list[int]) -> tuple[list[int], list[int]]:
    """The entries, and the lengths of the pieces in bytes."""
    pieces = list(table_pieces(kind, 0xF8, 2 + np.cumsum(lengths, dtype=np.int64)))
    size = kind.entry_bits // 8
    whole = b"".join(pieces)
    entries = [int.from_bytes(whole[place : place + size], "little") for place in range(0, len(whole), size)]
    return entries, [len(piece) for piece in pieces]


@pytest.mark.parametrize("kind", [FAT16, FAT32], ids=lambda kind: kind.name)
def test_first_entries_say_that_the_card_is_sound(kind: FatType) -> None:
    first = {"FAT16": [0xFFF8, 0xFFFF], "FAT32": [0x0FFFFFF8, 0x0FFFFFFF]}[kind.name]
    assert composed(kind, []) == (first, [kind.entry_bits // 4])
    assert first[1] & kind.clean == kind.clean
    assert first[1] & kind.no_errors == kind.no_errors


@given(st.sampled_from((FAT16, FAT32)), st.lists(st.integers(1, 9), max_size=30))
def test_any_chains(kind: FatType, lengths: list[int]) -> None:
    assert composed(kind, lengths)[0] == written_by_hand(kind, lengths)


@pytest.mark.parametrize("last", [-1, 0, 1])
def test_a_chain_ends_where_a_piece_does(last: int) -> None:
    """At the end of the first piece, and right before and behind it."""
    entries = PIECE_BYTES // 4
    lengths = [5, entries - 7 + last, 3, entries, 1]
    found, pieces = composed(FAT32, lengths)
    assert found == written_by_hand(FAT32, lengths)
    assert pieces == [PIECE_BYTES, PIECE_BYTES, (4 + last) * 4]


def test_a_huge_table_comes_in_pieces() -> None:
    """Of a volume of 2 TB full of one file: 64 million clusters, of which no more than a MiB is at hand."""
    pieces = table_pieces(FAT32, 0xF8, np.array([2 + (1 << 26)], np.int64))
    first = np.frombuffer(next(pieces), "<u4")
    assert first[2:].tolist() == list(range(3, PIECE_BYTES // 4 + 1))
    for number, piece in zip(range(1, 20), pieces, strict=False):
        assert len(piece) == PIECE_BYTES
        assert int.from_bytes(piece[:4], "little") == number * (PIECE_BYTES // 4) + 1
