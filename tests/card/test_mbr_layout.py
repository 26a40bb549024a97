"""An MBR survives bytes and back, and its numbers stand where the published pages put them."""

from __future__ import annotations

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.mbr_layout import Mbr, MbrEntry

SECTORS = st.integers(0, 2**32 - 1)
ENTRIES = st.builds(
    MbrEntry,
    *(st.integers(0, 255), SECTORS, SECTORS, st.integers(0, 255)),
    *(st.binary(min_size=3, max_size=3), st.binary(min_size=3, max_size=3)),
)


@given(st.binary(min_size=510, max_size=510))
def test_any_sector_that_ends_as_an_mbr_is_composed_as_it_was(data: bytes) -> None:
    sector = data + b"\x55\xaa"
    mbr = Mbr.parse(sector + b"more")
    assert mbr is not None
    assert mbr.compose() == sector


@given(st.tuples(ENTRIES, ENTRIES, ENTRIES, ENTRIES), SECTORS)
def test_any_mbr_is_parsed_as_it_was_composed(
    entries: tuple[MbrEntry, MbrEntry, MbrEntry, MbrEntry], signature: int
) -> None:
    mbr = Mbr(entries, signature)
    assert Mbr.parse(mbr.compose()) == mbr


@pytest.mark.parametrize("sector", [b"", bytes(511), bytes(512), bytes(510) + b"\xaa\x55"])
def test_what_does_not_end_as_an_mbr_is_none(sector: bytes) -> None:
    assert Mbr.parse(sector) is None


def test_the_numbers_stand_where_the_sd_specification_has_them() -> None:
    """Pages that quote it: entries at 446, type at +4, first sector at +8, number of sectors at +12."""
    sector = Mbr.of(
        MbrEntry.of(0x0C, 8192, 62_325_760, active=True), MbrEntry.of(0x83, 62_333_952, 1)
    ).compose()
    assert (sector[446], sector[450]) == (0x80, 0x0C)
    assert struct.unpack_from("<II", sector, 454) == (8192, 62_325_760)
    assert (sector[462], sector[466]) == (0, 0x83)
    assert sector[478:510] == bytes(32)
    assert sector[510:] == b"\x55\xaa"


@pytest.mark.parametrize(
    ("sector", "chs"),
    [
        (0, b"\x00\x01\x00"),
        (62, b"\x00\x3f\x00"),
        (63, b"\x01\x01\x00"),
        (255 * 63 - 1, b"\xfe\x3f\x00"),
        (255 * 63, b"\x00\x01\x01"),
        (1023 * 255 * 63, b"\x00\xc1\xff"),
        (1024 * 255 * 63, b"\xfe\xff\xff"),
    ],
)
def test_places_are_counted_in_cylinders_heads_and_sectors_too(sector: int, chs: bytes) -> None:
    assert MbrEntry.of(0x0C, sector, 1).first_chs == chs


def test_an_mbr_marks_parts_as_active_or_not_and_nothing_else() -> None:
    assert Mbr.of(MbrEntry(1, 1, 1, 0x80), MbrEntry(1, 1, 1, 0)).valid
    assert not Mbr.of(MbrEntry(1, 1, 1, 0x7F)).valid


def test_a_type_has_a_name_or_its_number() -> None:
    assert [MbrEntry(kind).type_name for kind in (0x0C, 0x07, 0x4D)] == ["FAT32", "exFAT or NTFS", "type 4D"]
