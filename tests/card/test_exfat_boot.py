"""The boot sector is judged by its ranges, its checksum and its backup, and the backup helps where it can."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given

from mediacheck.card.damages import Damages
from mediacheck.card.exfat_boot import (
    NOTHING_TO_GO_BY,
    WORN,
    Boot,
    has_exfat,
    is_exfat,
    read_boot,
    wrong_fields,
)
from mediacheck.card.exfat_layout import BootSector, compose_boot_region
from mediacheck.errors import CardError
from tests.card.media import Bytes, Device
from tests.card.test_exfat_layout import BOOT_SECTORS, STANDARD

WHOLE_BACKUP = "its backup is whole, but players do not look there"


def told(main: bytes, backup: bytes) -> tuple[Boot, list[str]]:
    """What is chosen from a volume that begins with these regions, and what is told."""
    damages = Damages()
    boot = read_boot(Bytes(main + backup), damages)
    return boot, [damage.what for damage in damages.listed]


def flipped(region: bytes, place: int, bits: int = 1) -> bytes:
    return region[:place] + bytes((region[place] ^ bits,)) + region[place + 1 :]


REGION = compose_boot_region(STANDARD)


@pytest.mark.parametrize("shift", [9, 10, 11, 12])
def test_a_sound_volume_tells_nothing(shift: int) -> None:
    sector = replace(STANDARD, bytes_per_sector_shift=shift)
    region = compose_boot_region(sector)
    assert told(region, region) == (Boot(sector), [])


def test_is_exfat_by_the_name_in_the_first_sector() -> None:
    assert is_exfat(REGION[:512])
    assert not is_exfat(flipped(REGION, 4))
    assert not is_exfat(b"")
    assert not is_exfat(b"\xebX\x90MSDOS5.0" + bytes(500))


@pytest.mark.parametrize("shift", [9, 10, 11, 12])
def test_has_exfat_also_by_the_backup(shift: int) -> None:
    region = compose_boot_region(replace(STANDARD, bytes_per_sector_shift=shift))
    assert has_exfat(Bytes(bytes(len(region)) + region))
    assert has_exfat(Device(bytes(len(region)) + region, worn=frozenset((0,))))
    assert not has_exfat(Bytes(bytes(3 * len(region))))


def test_a_checksum_that_does_not_hold_sends_to_the_backup() -> None:
    boot, what = told(flipped(REGION, 200), REGION)
    assert boot == Boot(STANDARD, is_backup=True)
    assert what == [f"the boot sector is damaged (its checksum does not match); {WHOLE_BACKUP}"]
    assert boot.dirty is None
    assert told(flipped(REGION, len(REGION) - 1), REGION) == (boot, what)


def test_a_main_region_that_is_gone_or_unreadable() -> None:
    boot, what = told(bytes(len(REGION)), REGION)
    assert boot == Boot(STANDARD, is_backup=True)
    assert what == [f"the boot sector is damaged (it cannot be read, or does not say exFAT); {WHOLE_BACKUP}"]
    damages = Damages()
    assert read_boot(Device(REGION * 2, worn=frozenset((0,))), damages) == boot
    assert [damage.what for damage in damages.listed] == what


def test_an_unreadable_volume_without_a_backup_is_an_error_of_the_medium() -> None:
    with pytest.raises(OSError, match="Input/output"):
        read_boot(Device(REGION, worn=frozenset((0,))), Damages())


def test_a_damaged_backup_is_told_and_not_used() -> None:
    boot, what = told(REGION, flipped(REGION, 4000))
    assert boot == Boot(STANDARD)
    assert what == ["the backup of the boot sector is damaged (its checksum does not match)"]
    _, what = told(REGION, bytes(len(REGION)))
    assert what == ["the backup of the boot sector is damaged (it cannot be read, or does not say exFAT)"]


def test_a_backup_that_says_something_else() -> None:
    other = replace(STANDARD, volume_serial_number=1, cluster_count=15000, volume_flags=6, percent_in_use=3)
    boot, what = told(REGION, compose_boot_region(other))
    assert boot == Boot(STANDARD)
    assert what == ["the boot sector and its backup do not agree (number of clusters, serial number)"]


def test_another_boot_code_is_no_damage() -> None:
    """3: programs that start a computer may be changed without the backup."""
    other = compose_boot_region(replace(STANDARD, boot_code=b"\x90" * 390), b"oem")
    assert told(other, REGION) == (Boot(BootSector.parse(other)), [])


def test_where_both_are_damaged_what_is_left_is_used() -> None:
    both = "the boot sector is damaged (its checksum does not match), and so is its backup"
    assert told(flipped(REGION, 300), bytes(len(REGION)))[1] == [both]
    broken = compose_boot_region(replace(STANDARD, cluster_count=0))
    boot, what = told(broken, flipped(REGION, 4000))
    assert boot == Boot(STANDARD, is_backup=True)
    wrong = "number of clusters, place of the root folder"
    assert what == [f"the boot sector is damaged (wrong: {wrong}), and so is its backup"]


def test_nothing_to_go_by() -> None:
    broken = compose_boot_region(replace(STANDARD, cluster_count=0))
    with pytest.raises(CardError, match=NOTHING_TO_GO_BY):
        told(broken, broken)
    with pytest.raises(CardError, match=NOTHING_TO_GO_BY):
        told(b"", b"")


def test_flags() -> None:
    assert told(compose_boot_region(replace(STANDARD, volume_flags=2)), REGION)[0].dirty is True
    boot, what = told(compose_boot_region(replace(STANDARD, volume_flags=4)), REGION)
    assert (boot.dirty, what) == (False, [WORN])


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("jump_boot", b"\xeb\x58\x90"),
        ("file_system_name", b"exfat   "),
        ("must_be_zero", bytes(52) + b"\1"),
        ("boot_signature", 0x55AA),
        ("file_system_revision", 0x0200),
        ("bytes_per_sector_shift", 8),
        ("bytes_per_sector_shift", 13),
        ("sectors_per_cluster_shift", 17),
        ("number_of_fats", 0),
        ("number_of_fats", 3),
        ("fat_offset", 23),
        ("fat_length", 123),
        ("cluster_heap_offset", 2048 + 127),
        ("cluster_count", 15873),
        ("first_cluster_of_root_directory", 1),
        ("first_cluster_of_root_directory", 15874),
    ],
)
def test_each_field_out_of_its_range_is_named(name: str, value: int | bytes) -> None:
    assert wrong_fields(STANDARD) == ()
    assert wrong_fields(replace(STANDARD, **{name: value}))[0] == name  # type: ignore[arg-type]  # by name


def test_the_last_values_of_each_range_are_right() -> None:
    for right in (
        {"file_system_revision": 0x0163},
        {"fat_offset": 24, "fat_length": 2024},
        {"fat_length": 125},
        {"cluster_count": 15000},
        {"first_cluster_of_root_directory": 15873},
        {"number_of_fats": 2, "fat_length": 1024},
    ):
        assert wrong_fields(replace(STANDARD, **right)) == ()  # type: ignore[arg-type]  # by name
    small = replace(STANDARD, volume_length=2047, cluster_heap_offset=1024, cluster_count=1, fat_offset=24)
    assert wrong_fields(small) == ("volume_length", "first_cluster_of_root_directory")


@given(BOOT_SECTORS)
def test_no_boot_sector_is_too_odd_to_judge(sector: BootSector) -> None:
    assert isinstance(wrong_fields(sector), tuple)
