"""Limits of file systems, held against the published texts named beside each."""

from __future__ import annotations

import struct

import pytest

from mediacheck.card.limits import FORBIDDEN_CHARACTERS, GREATEST_FILE_BYTES, refusal
from mediacheck.names import FileSystem
from mediacheck.rules.copying import file_too_big
from mediacheck.rules.model import PASSED
from tests.rules import make

FAT: tuple[FileSystem, ...] = ("FAT12", "FAT16", "FAT32")


@pytest.mark.parametrize("kind", FAT)
def test_the_greatest_file_on_fat_fills_the_size_field(kind: FileSystem) -> None:
    """Microsoft FAT32 File System Specification 1.03: DIR_FileSize, offset 28, 4 bytes, little-endian."""
    assert struct.pack("<I", GREATEST_FILE_BYTES[kind]) == b"\xff\xff\xff\xff"
    with pytest.raises(struct.error):
        struct.pack("<I", GREATEST_FILE_BYTES[kind] + 1)


def test_the_greatest_file_on_fat32_is_one_byte_short_of_4_gib() -> None:
    """Same: FFFFFFFFh bytes, and not the 4 GiB to which Microsoft's comparison table rounds it."""
    assert GREATEST_FILE_BYTES["FAT32"] == 4_294_967_295 == 4 * 1024**3 - 1


@pytest.mark.parametrize("kind", ["exFAT", "NTFS"])
def test_the_greatest_file_elsewhere_fills_64_bits(kind: FileSystem) -> None:
    """Microsoft, "File System Functionality Comparison", table "Limits": 2^64 - 1 bytes."""
    assert GREATEST_FILE_BYTES[kind] == 18_446_744_073_709_551_615


@pytest.mark.parametrize(("size_bytes", "fits"), [(4_294_967_295, True), (4_294_967_296, False)])
def test_the_rule_draws_the_line_at_that_byte(size_bytes: int, fits: bool) -> None:
    """FFFFFFFFh bytes fit on FAT32, and one more does not."""
    answer = file_too_big.judge(make.one(make.video_file(size_bytes=size_bytes)))
    assert (answer == PASSED) is fits


@pytest.mark.parametrize(
    ("mbit_s", "minutes", "seconds"),
    [(8, 71, 34), (10, 57, 15), (15, 38, 10), (20, 28, 37), (25, 22, 54), (50, 11, 27), (100, 5, 43)],
)
def test_how_long_a_clip_fits_on_fat32_at_a_constant_rate(mbit_s: int, minutes: int, seconds: int) -> None:
    """Worked examples: 4,294,967,295 bytes at a constant rate (computed; whole seconds)."""
    longest_s = 60 * minutes + seconds
    bytes_s = mbit_s * 1_000_000 // 8
    sizes = [
        file_too_big.judge(make.one(make.video_file(size_bytes=bytes_s * s)))
        for s in (longest_s, longest_s + 1)
    ]
    assert [answer == PASSED for answer in sizes] == [True, False]


def test_forbidden_characters_are_those_of_the_published_lists() -> None:
    """Microsoft, "Naming Files, Paths, and Namespaces"; exFAT specification 1.00, Table 35: the same set."""
    exfat_table_35 = {*range(0x0000, 0x0020), 0x22, 0x2A, 0x2F, 0x3A, 0x3C, 0x3E, 0x3F, 0x5C, 0x7C}
    assert {ord(character) for character in FORBIDDEN_CHARACTERS} == exfat_table_35


MICROSOFT_RESERVED = (
    *("CON", "PRN", "AUX", "NUL"),
    *(f"{port}{digit}" for port in ("COM", "LPT") for digit in "123456789¹²³"),
)


@pytest.mark.parametrize("ending", ["", ".txt", ".tar.gz", " .mp4"])
@pytest.mark.parametrize("device", MICROSOFT_RESERVED)
def test_device_names_are_refused_with_and_without_an_extension(device: str, ending: str) -> None:
    """Microsoft, "Naming Files, Paths, and Namespaces": NUL.txt and NUL.tar.gz are both equivalent to NUL."""
    assert refusal(device + ending) == f"Windows keeps the name {device} for a device"
    assert refusal(device.lower() + ending) == f"Windows keeps the name {device.lower()} for a device"


@pytest.mark.parametrize("name", ["COM0", "COM10", "LPT", "CONSOLE", "NUL1", "XCON", "CON_", "A.CON"])
def test_names_that_only_contain_a_device_name_are_free(name: str) -> None:
    """Same: the list above is complete."""
    assert refusal(name) is None


@pytest.mark.parametrize(("name", "why"), [("a.", "it ends in a full stop"), ("a ", "it ends in a space")])
def test_names_do_not_end_in_a_full_stop_or_space(name: str, why: str) -> None:
    """Same page; the FAT specification ignores trailing full stops and spaces of long names."""
    assert refusal(name) == why
    assert refusal(f".{name}x") is None
