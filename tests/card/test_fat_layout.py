"""The structures of a FAT volume stand where the specification puts them, and lose nothing on the way.

Offsets: Microsoft FAT32 File System Specification 1.03, BPB and BS tables, and FSInfo.
"""

from __future__ import annotations

import struct
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.fat_layout import FAT12, FAT16, FAT32, BootSector, Fat32Fields, FsInfo

OLD = BootSector(
    jump=b"\xeb\x3c\x90",
    maker=b"MSWIN4.1",
    sector_bytes=512,
    sectors_per_cluster=4,
    reserved_sectors=1,
    fats=2,
    root_slots=512,
    sectors_16=0x1234,
    media=0xF8,
    fat_sectors_16=17,
    sectors_per_track=32,
    heads=8,
    hidden_sectors=0x11223344,
    sectors_32=0x55667788,
    fat32=None,
    drive=0x80,
    nt_flags=1,
    extended_signature=0x29,
    serial=0xCAFE1234,
    label=b"GARDEN     ",
    type_text=b"FAT16   ",
    boot_code=bytes(448),
)
NEW = replace(
    OLD,
    jump=b"\xeb\x58\x90",
    root_slots=0,
    sectors_16=0,
    fat_sectors_16=0,
    fat32=Fat32Fields(0x01020304, 0x0081, 0, 2, 1, 6),
    boot_code=bytes(420),
)


def at(data: bytes, offset: int, layout: str) -> int:
    (value,) = struct.unpack_from(f"<{layout}", data, offset)
    return int(value)


def test_the_common_fields_stand_where_the_specification_puts_them() -> None:
    data = OLD.compose()
    assert (data[0:3], data[3:11], len(data)) == (OLD.jump, OLD.maker, 512)
    places = [(11, "H"), (13, "B"), (14, "H"), (16, "B"), (17, "H"), (19, "H"), (21, "B")]
    assert [at(data, *place) for place in places] == [512, 4, 1, 2, 512, 0x1234, 0xF8]
    places = [(22, "H"), (24, "H"), (26, "H"), (28, "I"), (32, "I")]
    assert [at(data, *place) for place in places] == [17, 32, 8, 0x11223344, 0x55667788]
    assert data[510:] == b"\x55\xaa"


def test_fat12_and_fat16_go_on_at_36() -> None:
    data = OLD.compose()
    places = [(36, "B"), (37, "B"), (38, "B"), (39, "I")]
    assert [at(data, *place) for place in places] == [0x80, 1, 0x29, 0xCAFE1234]
    assert (data[43:54], data[54:62]) == (b"GARDEN     ", b"FAT16   ")
    assert OLD.nt_flags_offset == 37


def test_fat32_goes_on_at_36_and_64() -> None:
    data = NEW.compose()
    places = [(36, "I"), (40, "H"), (42, "H"), (44, "I"), (48, "H"), (50, "H")]
    assert [at(data, *place) for place in places] == [0x01020304, 0x0081, 0, 2, 1, 6]
    places = [(64, "B"), (65, "B"), (66, "B"), (67, "I")]
    assert [at(data, *place) for place in places] == [0x80, 1, 0x29, 0xCAFE1234]
    assert (data[71:82], data[82:90]) == (b"GARDEN     ", b"FAT16   ")
    assert NEW.nt_flags_offset == 65


def test_lengths_come_from_the_field_that_is_in_use() -> None:
    assert (OLD.sectors, OLD.fat_sectors) == (0x1234, 17)
    assert (NEW.sectors, NEW.fat_sectors) == (0x55667788, 0x01020304)


@given(st.binary(min_size=512, max_size=512))
def test_any_boot_sector_survives_parsing_and_composing(data: bytes) -> None:
    assert BootSector.parse(data).compose() == data


def test_what_was_composed_parses_to_the_same_fields() -> None:
    assert BootSector.parse(OLD.compose()) == OLD
    assert BootSector.parse(NEW.compose()) == NEW


def test_boot_code_that_is_too_long_is_refused() -> None:
    with pytest.raises(ValueError, match="too long"):
        replace(OLD, boot_code=bytes(449)).compose()


@given(st.binary(min_size=512, max_size=512))
def test_any_information_sector_survives_parsing_and_composing(data: bytes) -> None:
    assert FsInfo.parse(data).compose() == data


def test_the_information_sector_has_its_signatures_and_counts_in_their_places() -> None:
    data = FsInfo(free_clusters=7, next_free=9).compose()
    assert (data[:4], data[484:488], data[508:]) == (b"RRaA", b"rrAa", b"\x00\x00\x55\xaa")
    assert (at(data, 488, "I"), at(data, 492, "I")) == (7, 9)
    assert FsInfo().signed
    assert not FsInfo(lead=0).signed
    assert not FsInfo(structure=0).signed
    assert not FsInfo(trail=0).signed


def test_the_marks_of_the_table_are_those_of_the_specification() -> None:
    assert [kind.bad for kind in (FAT12, FAT16, FAT32)] == [0xFF7, 0xFFF7, 0x0FFFFFF7]
    assert [kind.end for kind in (FAT12, FAT16, FAT32)] == [0xFF8, 0xFFF8, 0x0FFFFFF8]
    assert [kind.clean for kind in (FAT12, FAT16, FAT32)] == [0, 0x8000, 0x08000000]
    assert [kind.no_errors for kind in (FAT12, FAT16, FAT32)] == [0, 0x4000, 0x04000000]
