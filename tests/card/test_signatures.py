"""File systems are told by their marks, and nothing else is taken for one."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.medium import Aligned, Window, open_medium
from mediacheck.card.signatures import boot_sector_of, by_backup_at, file_system_at, is_blank
from mediacheck.names import FileSystem
from tests.card.card_programs import found, run
from tests.card.media import Bytes, Device, image

MIB = 1 << 20


def told(data: bytes) -> FileSystem | None:
    return file_system_at(Bytes(data))


def formatted(path: Path, size_bytes: int, program: str, *options: str) -> bytes:
    with path.open("wb") as file:
        file.truncate(size_bytes)
    run(program, *options, path)
    return path.read_bytes()


@pytest.mark.parametrize(
    ("kind", "size_bytes", "options"),
    [
        ("FAT12", 1440 * 1024, ()),
        ("FAT12", 1440 * 1024, ("-S", "4096")),
        ("FAT16", 16 * MIB, ("-F", "16")),
        ("FAT16", 64 * MIB, ("-S", "2048")),
        ("FAT32", 64 * MIB, ("-F", "32")),
        ("FAT32", 40 * MIB, ("-F", "32", "-s", "1", "-f", "1")),
    ],
)
def test_what_mkfs_fat_makes_is_fat_of_its_kind(
    tmp_path: Path, kind: FileSystem, size_bytes: int, options: tuple[str, ...]
) -> None:
    data = formatted(tmp_path / "card.img", size_bytes, "mkfs.fat", *options)
    assert told(data) == kind
    assert boot_sector_of(data[:512]) == kind


@pytest.mark.parametrize("cluster", ["4K", "128K"])
def test_what_mkfs_exfat_makes_is_exfat(tmp_path: Path, cluster: str) -> None:
    data = formatted(tmp_path / "card.img", 8 * MIB, "mkfs.exfat", "-c", cluster)
    assert told(data) == "exFAT"


@pytest.mark.parametrize("version", ["ext2", "ext3", "ext4"])
def test_what_mke2fs_makes_is_ext(tmp_path: Path, version: str) -> None:
    if found("mke2fs") is None:
        pytest.skip("mke2fs is not installed")
    data = formatted(tmp_path / "card.img", 8 * MIB, "mke2fs", "-q", "-t", version)
    assert told(data) == "ext"


def descriptors(*marks: bytes, step: int = 2048) -> list[tuple[int, bytes]]:
    """ECMA-119 and ECMA-167: from 32 KiB on, a number and five letters in each sector."""
    return [(32768 + place * step, b"\x00" + mark + b"\x01") for place, mark in enumerate(marks)]


@pytest.mark.parametrize(
    ("kind", "pieces"),
    [
        # Linux, fs/ntfs3/ntfs.h: system_id at 3
        ("NTFS", [(0, b"\xeb\x52\x90NTFS    "), (510, b"\x55\xaa")]),
        # Apple File System Reference: nx_magic, behind 32 bytes of obj_phys_t
        ("APFS", [(32, b"NXSB")]),
        # Apple, TN1150: signature "H+" version 4, "HX" version 5, 1024 bytes from the start
        ("HFS+", [(1024, b"H+\x00\x04")]),
        ("HFS+", [(1024, b"HX\x00\x05")]),
        # Linux, fs/ext4/ext4.h: s_magic 0xEF53, little-endian, at 0x38 of the superblock at 1024
        ("ext", [(1024 + 0x38, b"\x53\xef")]),
        ("ISO 9660", descriptors(b"CD001", b"CD001")),
        ("UDF", descriptors(b"BEA01", b"NSR02", b"TEA01")),
        ("UDF", descriptors(b"BEA01", b"NSR03", b"TEA01")),
        # A disc for old and new systems has both
        ("UDF", descriptors(b"CD001", b"CD001", b"BEA01", b"NSR02", b"TEA01")),
        # ECMA-167, 2/8.2: sectors larger than 2 KiB hold one descriptor each
        ("UDF", descriptors(b"BEA01", b"NSR03", b"TEA01", step=4096)),
        (None, descriptors(b"TEA01")),
        (None, [(32, b"NXSC"), (1024, b"BD"), (32769, b"CD002")]),
        # Linux, superblock of a swap space, and nothing else
        (None, [(4086, b"SWAPSPACE2")]),
        (None, []),
    ],
)
def test_marks_at_their_published_places_are_told(
    kind: FileSystem | None, pieces: list[tuple[int, bytes]]
) -> None:
    data = image(256 * 1024, pieces)
    assert told(data) == kind
    assert told(data[: 64 * 1024]) == kind
    assert file_system_at(Window(Bytes(b"x" * 512 + data), 512, len(data))) == kind
    assert file_system_at(Aligned(Device(data, 4096))) == kind


def test_an_mbr_is_no_boot_sector() -> None:
    assert boot_sector_of(bytes(510) + b"\x55\xaa") is None


@given(st.binary(max_size=4096))
def test_any_bytes_are_told_or_not(data: bytes) -> None:
    assert told(data) in (None, "NTFS", "APFS", "HFS+", "ext", "FAT12", "FAT16", "FAT32", "exFAT")


def test_a_disc_without_end_is_left_after_a_while() -> None:
    class Endless(Bytes):
        reads = 0

        def read(self, offset: int, length: int) -> bytes:
            Endless.reads += 1
            return (b"\x00BEA01" if offset >= 32768 else b"").ljust(length, b"\0")[:length]

    assert file_system_at(Endless(b"")) is None
    assert Endless.reads < 200


@pytest.mark.parametrize("fill", [b"\x00", b"\xff"])
@pytest.mark.parametrize("size_bytes", [1, 512, MIB, 3 * MIB])
def test_a_card_from_the_factory_is_blank(fill: bytes, size_bytes: int) -> None:
    assert is_blank(Bytes(fill * size_bytes))


def test_what_is_behind_the_first_mib_is_left_over_from_before() -> None:
    assert is_blank(Bytes(bytes(MIB) + b"x"))


@pytest.mark.parametrize("data", [b"", bytes(MIB - 1) + b"x", b"\xff" + bytes(MIB), b"x" * MIB])
def test_anything_else_is_not_blank(data: bytes) -> None:
    assert not is_blank(Bytes(data))


@pytest.mark.parametrize(
    ("kind", "program", "options", "unit"),
    [
        ("FAT32", "mkfs.fat", ("-F", "32"), 512),
        ("FAT32", "mkfs.fat", ("-F", "32", "-S", "4096"), 4096),
        ("exFAT", "mkfs.exfat", (), 512),
    ],
)
def test_a_lost_boot_sector_is_told_by_its_backup(
    tmp_path: Path, kind: FileSystem, program: str, options: tuple[str, ...], unit: int
) -> None:
    size_bytes = 300 * MIB if unit == 4096 else 40 * MIB
    path = tmp_path / "card.img"
    with path.open("wb") as file:
        file.truncate(size_bytes)
    run(program, *options, path)
    with path.open("r+b") as file:
        file.write(bytes(unit))
    medium = open_medium(str(path))
    assert file_system_at(medium) is None
    assert by_backup_at(medium) == kind
    medium.close()


def test_without_a_backup_nothing_is_told() -> None:
    assert by_backup_at(Bytes(bytes(MIB))) is None
