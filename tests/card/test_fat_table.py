"""The table of clusters is read as the specification writes it, and its copies are held against it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card import fat_table
from mediacheck.card.fat_boot import Geometry, geometry_of
from mediacheck.card.fat_layout import FAT12, FAT16, FAT32, BootSector, FatType
from mediacheck.card.fat_table import (
    ENDS,
    OUTSIDE,
    TO_BAD,
    TO_FREE,
    Differences,
    Flags,
    compare_copies,
    flags_of,
    read_table,
    table_of,
    unpacked,
)
from mediacheck.card.medium import Aligned
from tests.card.media import Bytes, Device, image
from tests.card.test_fat_boot import with_clusters
from tests.card.test_fat_layout import NEW, OLD

KINDS = (FAT12, FAT16, FAT32)


def packed(entries: list[int], kind: FatType) -> bytes:
    """The bytes of a FAT, by the specification: FAT12 puts an entry at one and a half times its number."""
    if kind is not FAT12:
        return b"".join(entry.to_bytes(kind.entry_bits // 8, "little") for entry in entries)
    whole = bytearray(-(-len(entries) * 3 // 2) + 1)
    for number, entry in enumerate(entries):
        place = number + number // 2
        word = int.from_bytes(whole[place : place + 2], "little")
        word |= (entry & 0xFFF) << (4 if number & 1 else 0)
        whole[place : place + 2] = word.to_bytes(2, "little")
    return bytes(whole[: -(-len(entries) * 3 // 2)])


@given(st.lists(st.integers(0, 0xFFFFFFFF), max_size=60), st.sampled_from(KINDS))
def test_entries_come_out_as_they_were_packed(entries: list[int], kind: FatType) -> None:
    values = [entry & (0xFFFFFFFF if kind is FAT32 else kind.mask) for entry in entries]
    found = unpacked(bytearray(packed(values, kind)), kind).tolist()
    assert found == [value & kind.mask for value in values]


@given(st.binary(max_size=70), st.sampled_from(KINDS))
def test_half_an_entry_at_the_end_is_left_out(raw: bytes, kind: FatType) -> None:
    assert len(unpacked(bytearray(raw), kind)) == len(raw) * 8 // kind.entry_bits


def test_twelve_bits_are_unpacked_as_in_the_specification() -> None:
    assert unpacked(bytearray.fromhex("f8ffff 034000 056000 07f0ff"), FAT12).tolist() == [
        *(0xFF8, 0xFFF, 0x003, 0x004, 0x005, 0x006, 0x007, 0xFFF)
    ]


def entries(kind: FatType, *following: int) -> fat_table.Clusters:
    """A FAT whose clusters from 2 on lead there."""
    return np.array([kind.mask & ~0xFF | 0xF8, kind.mask, *following], np.uint32)


@pytest.mark.parametrize("kind", KINDS)
def test_stretches_end_where_a_chain_ends_or_jumps(kind: FatType) -> None:
    end, bad = kind.mask, kind.bad
    #                    2  3    4  5  6  7  8    9  10  11   12 13
    table = table_of(entries(kind, 3, end, 0, 6, 9, 0, bad, 4, 99, end, 1, 0), kind)
    assert table.last.tolist() == [3, 6, 8, 9, 10, 11, 12]
    assert table.clusters_end.tolist() == [4, 7, 8, 10, 11, 12, 13]
    assert table.following.tolist() == [ENDS, 3, TO_BAD, TO_FREE, OUTSIDE, ENDS, OUTSIDE]
    assert (table.free, table.bad, table.used) == (3, 1, 8)


def test_a_stretch_that_leads_into_a_free_cluster_ends_before_it() -> None:
    table = table_of(entries(FAT16, 3, 4, 0, 0xFFFF), FAT16)
    assert (table.last.tolist(), table.clusters_end.tolist()) == ([4, 5], [4, 6])
    assert table.following.tolist() == [TO_FREE, ENDS]


def test_the_last_cluster_leads_outside_where_it_leads_on() -> None:
    table = table_of(entries(FAT16, 3, 4, 5), FAT16)
    assert (table.last.tolist(), table.following.tolist()) == ([4], [OUTSIDE])


def test_blocks_are_seamless(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(8)
    values = np.where(rng.random(997) < 0.7, np.arange(3, 1000), rng.integers(0, 1000, 997)).tolist()
    whole = table_of(entries(FAT16, *values), FAT16)
    monkeypatch.setattr(fat_table, "BLOCK_ENTRIES", 10)
    pieces = table_of(entries(FAT16, *values), FAT16)
    assert pieces.last.tolist() == whole.last.tolist()
    assert (pieces.free, pieces.bad) == (whole.free, whole.bad)


def test_a_table_of_nothing_is_two_entries_of_ones() -> None:
    table = table_of(np.zeros(0, np.uint32), FAT32)
    assert (table.entries.tolist(), table.used) == ([0x0FFFFFFF] * 2, 0)


def volume(boot: BootSector, *tables: bytes) -> Bytes:
    """A volume with these bytes at the beginning of each copy of its table."""
    found = geometry_of(boot)
    places = [(found.fat_start_byte + copy * found.fat_bytes, table) for copy, table in enumerate(tables)]
    return Bytes(image(found.data_start_byte, [(0, boot.compose()), *places]))


def shape(kind: FatType, clusters: int = 0) -> tuple[BootSector, Geometry]:
    boot = with_clusters(
        clusters or {FAT12: 300, FAT16: 5_000, FAT32: 70_000}[kind], NEW if kind is FAT32 else OLD
    )
    return boot, geometry_of(boot)


@pytest.mark.parametrize("kind", KINDS)
def test_the_table_is_read_from_the_first_copy_and_no_further_than_the_clusters(kind: FatType) -> None:
    boot, found = shape(kind)
    table = read_table(volume(boot, packed([kind.mask, kind.mask, 5, 7], kind)), found)
    assert table.entries[:5].tolist() == [kind.mask, kind.mask, 5, 7, 0]
    assert (len(table.entries), table.type, table.worn) == (found.entries, kind, False)


def test_where_copies_are_not_kept_alike_the_active_one_is_read_alone() -> None:
    boot, _ = shape(FAT32)
    assert boot.fat32
    boot = replace(boot, fat32=replace(boot.fat32, flags=0x81))
    medium = volume(boot, packed([1, 2, 3], FAT32), packed([4, 5, 6], FAT32))
    assert read_table(medium, geometry_of(boot)).entries[:3].tolist() == [4, 5, 6]
    assert compare_copies(medium, geometry_of(boot)) == ()


def test_a_table_that_the_medium_breaks_off_is_as_long_as_what_is_there() -> None:
    boot, found = shape(FAT16)
    whole = volume(boot, packed([0xFFF8, 0xFFFF, 3, 4], FAT16))
    short = Bytes(whole.data[: found.fat_start_byte + 7])
    assert read_table(short, found).entries.tolist() == [0xFFF8, 0xFFFF, 3]


@pytest.mark.parametrize("kind", KINDS)
def test_copies_that_differ_are_told_by_the_clusters(kind: FatType, monkeypatch: pytest.MonkeyPatch) -> None:
    boot, found = shape(kind)
    first = [kind.mask, kind.mask, *range(3, 290)]
    other = list(first)
    for place in (1, 7, 8, 200, 288):
        other[place] ^= 1
    medium = volume(boot, packed(first, kind), packed(other, kind))
    wanted = (Differences(1, (1, 7, 8, 200, 288), 5, False),)
    assert compare_copies(medium, found) == wanted
    monkeypatch.setattr(fat_table, "BLOCK_BYTES", 12)
    assert compare_copies(medium, found) == wanted
    assert compare_copies(volume(boot, packed(first, kind), packed(first, kind)), found) == ()


def test_what_lies_behind_the_last_entry_may_differ() -> None:
    boot, found = shape(FAT16, 4_990)
    behind = found.fat_start_byte + found.entries * 2
    data = bytearray(volume(boot).data)
    assert behind < found.fat_start_byte + found.fat_bytes
    data[behind] = 1
    assert compare_copies(Bytes(bytes(data)), found) == ()


def test_only_the_first_differences_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    boot, found = shape(FAT16)
    monkeypatch.setattr(fat_table, "DIFFERENCES_NAMED_MAX", 3)
    medium = volume(boot, packed([1] * 9, FAT16), packed([2] * 9, FAT16))
    assert compare_copies(medium, found) == (Differences(1, (0, 1, 2), 9, False),)


def test_what_is_worn_out_is_read_from_a_copy() -> None:
    boot, found = shape(FAT16)
    table = packed([0xFFF8, 0xFFFF, 3, 4, 0xFFFF], FAT16)
    medium = Aligned(Device(volume(boot, table, table).data, worn=frozenset({found.fat_start_byte // 512})))
    read = read_table(medium, found)
    assert (read.entries[:5].tolist(), read.worn) == ([0xFFF8, 0xFFFF, 3, 4, 0xFFFF], True)
    assert compare_copies(medium, found) == (Differences(1, (), 0, True),)


def test_a_table_that_no_copy_can_be_read_of_is_an_error_of_the_medium() -> None:
    boot, found = shape(FAT16)
    sectors = frozenset((found.fat_start_byte + copy * found.fat_bytes) // 512 for copy in (0, 1))
    with pytest.raises(OSError, match="Input/output error"):
        read_table(Aligned(Device(volume(boot).data, worn=sectors)), found)


@pytest.mark.parametrize("kind", [FAT16, FAT32])
@pytest.mark.parametrize("boot_byte", [0, 1, 2, 3])
def test_both_places_tell_of_a_card_that_was_pulled_out(kind: FatType, boot_byte: int) -> None:
    boot = replace(NEW if kind is FAT32 else OLD, nt_flags=boot_byte)
    for noted, dirty, errors in (
        (kind.mask, False, False),
        (kind.mask & ~kind.clean, True, False),
        (kind.mask & ~kind.no_errors, False, True),
        (kind.mask & ~kind.clean & ~kind.no_errors, True, True),
    ):
        table = table_of(np.array([kind.mask, noted], np.uint32), kind)
        wanted = Flags(dirty or bool(boot_byte & 1), errors or bool(boot_byte & 2))
        assert flags_of(boot, table) == wanted


def test_fat12_has_no_such_bits_in_its_table() -> None:
    table = table_of(np.array([0xFF8, 0x000], np.uint32), FAT12)
    assert flags_of(replace(OLD, nt_flags=0), table) == Flags(False, False)
    assert flags_of(replace(OLD, nt_flags=1), table) == Flags(True, False)
