"""exFAT's boot region and checksums are those of the specification, and survive composing and parsing."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.exfat_layout import (
    BootSector,
    boot_checksum,
    compose_boot_region,
    entry_set_checksum,
    name_hash,
    rotating_sums,
)

STANDARD = BootSector(
    volume_length=131072,
    fat_offset=2048,
    fat_length=128,
    cluster_heap_offset=4096,
    cluster_count=15872,
    first_cluster_of_root_directory=5,
    volume_serial_number=0x12345678,
    bytes_per_sector_shift=9,
    sectors_per_cluster_shift=3,
    percent_in_use=0,
    boot_code=bytes(390),
)
"""The volume of the worked example in our notes on the exFAT specification, 3.4."""

BYTES = {"jump_boot": 3, "file_system_name": 8, "must_be_zero": 53, "reserved": 7, "boot_code": 390}
WIDTHS = {
    **dict.fromkeys(("volume_length", "partition_offset"), 64),
    **dict.fromkeys(("file_system_revision", "volume_flags", "boot_signature"), 16),
    **dict.fromkeys(("bytes_per_sector_shift", "sectors_per_cluster_shift", "number_of_fats"), 8),
    **dict.fromkeys(("drive_select", "percent_in_use"), 8),
}
BOOT_SECTORS = st.builds(
    BootSector,
    **{
        field.name: st.binary(min_size=BYTES[field.name], max_size=BYTES[field.name])
        if field.name in BYTES
        else st.integers(0, 2 ** WIDTHS.get(field.name, 32) - 1)
        for field in fields(BootSector)
    },
)


def stored_checksum(boot: BootSector) -> int:
    """The checksum in the last sector of a boot region, which repeats it to its end."""
    last = compose_boot_region(boot)[-boot.sector_bytes :]
    assert last == last[:4] * (boot.sector_bytes // 4)
    return int.from_bytes(last[:4], "little")


def test_the_boot_checksum_is_that_of_figure_1() -> None:
    assert stored_checksum(STANDARD) == 0x021AD837
    assert stored_checksum(replace(STANDARD, boot_code=b"\xf4" * 390)) == 0x1A1AD8AF


def test_flags_and_percent_in_use_leave_the_boot_checksum_alone() -> None:
    assert stored_checksum(replace(STANDARD, volume_flags=2, percent_in_use=77)) == 0x021AD837
    assert stored_checksum(replace(STANDARD, drive_select=0)) != 0x021AD837


def test_the_fields_stand_where_table_4_says() -> None:
    sector = replace(STANDARD, volume_flags=0x0102, percent_in_use=0x4D).compose()
    assert sector[:11] == b"\xeb\x76\x90EXFAT   "
    assert (sector[72:80], sector[80:84]) == ((131072).to_bytes(8, "little"), (2048).to_bytes(4, "little"))
    assert (sector[92:96], sector[96:100]) == ((15872).to_bytes(4, "little"), (5).to_bytes(4, "little"))
    assert (sector[100:104].hex(), sector[104:108].hex()) == ("78563412", "00010201")
    assert (sector[108:113].hex(), sector[510:].hex()) == ("090301804d", "55aa")


@given(BOOT_SECTORS)
def test_a_boot_sector_survives_composing_and_parsing(boot: BootSector) -> None:
    assert BootSector.parse(boot.compose()) == boot
    assert len(boot.compose()) == 512


@given(st.binary(max_size=600))
def test_any_bytes_parse_to_what_composes_the_same(sector: bytes) -> None:
    assert BootSector.parse(sector).compose() == sector[:512].ljust(512, b"\0")


def test_a_boot_region_has_its_signatures_at_the_end_of_each_extended_sector() -> None:
    for shift in (9, 10, 11, 12):
        region = compose_boot_region(replace(STANDARD, bytes_per_sector_shift=shift), b"oem")
        size = 1 << shift
        assert len(region) == 12 * size
        ends = [region[(sector + 1) * size - 4 : (sector + 1) * size].hex() for sector in range(1, 9)]
        assert ends == ["000055aa"] * 8
        assert region[9 * size : 11 * size].rstrip(b"\0") == b"oem"
        assert region[11 * size :] == boot_checksum(region[: 11 * size]).to_bytes(4, "little") * (size // 4)


def test_sizes_places_and_serial() -> None:
    assert (STANDARD.sector_bytes, STANDARD.cluster_bytes, STANDARD.serial) == (512, 4096, "1234-5678")
    assert (STANDARD.fat_start_byte, STANDARD.heap_start_byte) == (2048 * 512, 4096 * 512)
    second = replace(STANDARD, volume_flags=1)
    assert second.fat_start_byte == STANDARD.fat_start_byte  # there is no second FAT to be active
    assert replace(second, number_of_fats=2).fat_start_byte == (2048 + 128) * 512


@given(st.lists(st.binary(max_size=70), max_size=20))
def test_many_sums_at_once_are_those_of_one_by_one(pieces: list[bytes]) -> None:
    assert rotating_sums(pieces).tolist() == [name_hash(piece) for piece in pieces]
    expected = [entry_set_checksum(piece) for piece in pieces]
    assert rotating_sums(pieces, frozenset((2, 3))).tolist() == expected
    assert rotating_sums(pieces).dtype == np.uint16
