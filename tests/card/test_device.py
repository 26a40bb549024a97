"""Sizes of devices on each system, asked in its own way, and the drive that a part belongs to."""

from __future__ import annotations

import errno
import struct
from pathlib import Path

import pytest

from mediacheck.card.device import (
    Ask,
    Geometry,
    is_device,
    mac_geometry,
    numbered_drive,
    other_geometry,
    raw_name,
    whole_device,
    windows_device,
    windows_geometry,
)


def answering(answers: dict[int, bytes]) -> Ask:
    """A device that knows these answers, and checks that so many bytes were asked for."""

    def ask(question: int, length: int) -> bytes:
        if question not in answers:
            raise OSError(errno.ENOTTY, "Inappropriate ioctl for device")
        assert length == len(answers[question])
        return answers[question]

    return ask


def test_macos_counts_blocks() -> None:
    """sys/disk.h: DKIOCGETBLOCKSIZE is _IOR('d', 24, uint32_t), ...COUNT is _IOR('d', 25, uint64_t)."""
    asked = {
        0x40000000 | 4 << 16 | ord("d") << 8 | 24: struct.pack("=I", 512),
        0x40000000 | 8 << 16 | ord("d") << 8 | 25: struct.pack("=Q", 62_333_952),
    }
    assert mac_geometry(answering(asked)) == Geometry(31_914_983_424, 512)


def test_windows_is_asked_for_the_length_and_the_geometry() -> None:
    """winioctl.h: CTL_CODE is device << 16 | access << 14 | function << 2 | method."""
    asked = {
        7 << 16 | 1 << 14 | 0x17 << 2: struct.pack("<q", 31_914_983_424),
        7 << 16: struct.pack("<qIIII", 3880, 12, 255, 63, 4096),
    }
    assert windows_geometry(answering(asked)) == Geometry(31_914_983_424, 4096)


def test_linux_is_asked_for_the_sector_size_only() -> None:
    assert other_geometry(answering({0x12 << 8 | 104: struct.pack("=i", 4096)}), 8192) == Geometry(8192, 4096)


@pytest.mark.parametrize("answer", [{}, {0x1268: struct.pack("=i", 0)}, {0x1268: struct.pack("=i", 513)}])
def test_a_sector_size_that_is_not_told_or_cannot_be_is_the_usual_one(answer: dict[int, bytes]) -> None:
    assert other_geometry(answering(answer), 8192) == Geometry(8192, 512)


def test_a_device_without_an_end_holds_nothing() -> None:
    """As /dev/null, and a reader of cards with none in it."""
    with pytest.raises(OSError, match="it holds nothing"):
        other_geometry(answering({}), 0)


def test_a_device_that_does_not_tell_its_size_is_an_error() -> None:
    for asked in (mac_geometry, windows_geometry):
        with pytest.raises(OSError, match="Inappropriate"):
            asked(answering({}))


@pytest.mark.parametrize(
    ("source", "device"),
    [
        (r"\\.\E:", r"\\.\E:"),
        ("\\\\.\\E:\\", r"\\.\E:"),
        (r"\\.\PhysicalDrive12", r"\\.\PhysicalDrive12"),
        ("\\\\.\\PhysicalDrive1\\", r"\\.\PhysicalDrive1"),
        (r"\\?\E:", r"\\?\E:"),
        (r"\\.\E:\file", None),
        ("E:", None),
        ("/dev/sdb", None),
        (r"\\server\share", None),
    ],
)
def test_names_of_windows_devices_are_told_from_other_names(source: str, device: str | None) -> None:
    assert windows_device(source) == device


@pytest.mark.parametrize(
    ("mounted", "raw"),
    [("E:\\", r"\\.\E:"), ("e:", r"\\.\e:"), ("/dev/sdb1", "/dev/sdb1"), ("/dev/disk4s1", "/dev/disk4s1")],
)
def test_a_mounted_drive_is_read_raw_under_the_name_for_that(mounted: str, raw: str) -> None:
    assert raw_name(mounted) == raw


@pytest.mark.parametrize(
    ("source", "whole"),
    [
        ("/dev/disk4s1", "/dev/disk4"),
        ("/dev/rdisk12s10", "/dev/rdisk12"),
        ("/dev/disk4", None),
        ("/dev/rdisk4", None),
    ],
)
def test_macos_names_parts_after_their_drive(source: str, whole: str | None) -> None:
    assert whole_device(source, "darwin") == whole


@pytest.mark.parametrize(("part", "drive"), [("sdb1", "sdb"), ("mmcblk0p1", "mmcblk0"), ("loop3p2", "loop3")])
def test_linux_keeps_parts_in_the_folder_of_their_drive(tmp_path: Path, part: str, drive: str) -> None:
    devices, classes = tmp_path / "devices", tmp_path / "class"
    (devices / drive / part).mkdir(parents=True)
    (devices / drive / part / "partition").write_text("1\n")
    classes.mkdir()
    (classes / part).symlink_to(devices / drive / part)
    (classes / drive).symlink_to(devices / drive)
    assert whole_device(f"/dev/{part}", "linux", classes) == f"/dev/{drive}"
    assert whole_device(f"/dev/{drive}", "linux", classes) is None
    assert whole_device("/dev/none", "linux", classes) is None


def test_windows_numbers_the_drive_of_a_volume() -> None:
    """STORAGE_DEVICE_NUMBER: kind of device, number of the drive, number of the part."""
    answer = {0x2D << 16 | 0x420 << 2: struct.pack("<III", 7, 3, 1)}
    assert numbered_drive(answering(answer)) == r"\\.\PhysicalDrive3"


def test_a_windows_drive_that_is_whole_or_not_there_has_no_other(tmp_path: Path) -> None:
    assert whole_device(r"\\.\PhysicalDrive1", "win32") is None
    assert whole_device(r"\\.\Q:", "win32") is None


def test_files_are_no_devices(tmp_path: Path) -> None:
    (tmp_path / "card.img").write_bytes(b"x")
    assert not is_device(str(tmp_path / "card.img"))
    assert is_device(r"\\.\E:")
    with pytest.raises(FileNotFoundError):
        is_device(str(tmp_path / "none"))
