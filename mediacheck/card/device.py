"""How large a raw device is, how it counts its bytes, and which whole drive a part of it belongs to.

It must not read what is on the device, and asks nothing that could change it.
"""

from __future__ import annotations

import io
import os
import re
import stat
import struct
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

USUAL_SECTOR_BYTES = 512
SECTOR_BYTES = (512, 1024, 2048, 4096)
"""Microsoft FAT32 specification 1.03, BPB_BytsPerSec; exFAT specification 1.00, 3.1.14."""

Ask = Callable[[int, int], bytes]
"""Puts one question (its number, and the length of the answer in bytes) to a device. Raises OSError."""

# Linux, include/uapi/linux/fs.h: _IO(0x12, 104), an int.
BLKSSZGET = 0x1268
# macOS, sys/disk.h: _IOR('d', 24, uint32_t) and _IOR('d', 25, uint64_t).
DKIOCGETBLOCKSIZE = 0x40046418
DKIOCGETBLOCKCOUNT = 0x40086419
# Windows, winioctl.h: CTL_CODE(7, 0x17, buffered, read), CTL_CODE(7, 0, buffered, any) and
# CTL_CODE(0x2D, 0x420, buffered, any).
IOCTL_DISK_GET_LENGTH_INFO = 0x7405C
IOCTL_DISK_GET_DRIVE_GEOMETRY = 0x70000
IOCTL_STORAGE_GET_DEVICE_NUMBER = 0x2D1080

_WINDOWS_DEVICE = re.compile(r"(\\\\[.?]\\([A-Za-z]:|PhysicalDrive\d+))\\?")
_WINDOWS_DRIVE = re.compile(r"([A-Za-z]:)\\?")
_MAC_PART = re.compile(r"(/dev/r?disk\d+)s\d+")


@dataclass(frozen=True, slots=True)
class Geometry:
    """The size of a medium and of its sectors."""

    size_bytes: int
    sector_bytes: int


def windows_device(source: str) -> str | None:
    r"""The name of a Windows device (`\\.\E:`, `\\.\PhysicalDrive1`) as it is opened; None for other names.

    A path library may have put a backslash at its end, which would mean the folder in it.
    """
    found = _WINDOWS_DEVICE.fullmatch(source)
    return found[1] if found else None


def raw_name(device: str) -> str:
    r"""The name under which a mounted device is read raw: on Windows `\\.\E:` for `E:\`, else the same."""
    found = _WINDOWS_DRIVE.fullmatch(device)
    return rf"\\.\{found[1]}" if found else device


def is_device(source: str) -> bool:
    """Whether this names a device, not a file. Raises OSError where there is nothing."""
    return bool(windows_device(source)) or not stat.S_ISREG(Path(source).stat().st_mode)


def geometry(opened: BinaryIO, platform: str = sys.platform) -> Geometry:
    """Size and sector size of an opened device. Raises OSError where it does not tell its size."""
    ask = _asker(opened)
    if platform == "win32":
        return windows_geometry(ask)
    if platform == "darwin":
        return mac_geometry(ask)
    return other_geometry(ask, opened.seek(0, io.SEEK_END))


def other_geometry(ask: Ask, end_byte: int) -> Geometry:
    """Linux and its like: the end of the device can be sought; its sectors are asked for."""
    if not end_byte:
        raise OSError("it holds nothing")
    return Geometry(end_byte, _sector_bytes(ask, BLKSSZGET, "=i"))


def mac_geometry(ask: Ask) -> Geometry:
    """macOS: seeking the end of a device gives 0, so its blocks are counted."""
    sector_bytes = struct.unpack("=I", ask(DKIOCGETBLOCKSIZE, 4))[0]
    blocks = struct.unpack("=Q", ask(DKIOCGETBLOCKCOUNT, 8))[0]
    return Geometry(blocks * sector_bytes, _usual_unless_valid(sector_bytes))


def windows_geometry(ask: Ask) -> Geometry:
    """Windows: the length of a volume or drive, and BytesPerSector, the last of DISK_GEOMETRY's fields."""
    size_bytes = struct.unpack("<q", ask(IOCTL_DISK_GET_LENGTH_INFO, 8))[0]
    return Geometry(size_bytes, _sector_bytes(ask, IOCTL_DISK_GET_DRIVE_GEOMETRY, "<20xI"))


def whole_device(
    source: str, platform: str = sys.platform, classes: Path = Path("/sys/class/block")
) -> str | None:
    """The drive that a device is a part of; None where it is a whole drive itself, or that is not known."""
    if platform == "win32":
        return _windows_whole(source)
    if platform == "darwin":
        found = _MAC_PART.fullmatch(source)
        return found[1] if found else None
    block = classes / Path(os.path.realpath(source)).name
    return f"/dev/{block.resolve().parent.name}" if (block / "partition").exists() else None


def _windows_whole(source: str) -> str | None:
    if not windows_device(source) or "PhysicalDrive" in source:
        return None
    with suppress(OSError), open(source, "rb", buffering=0) as opened:  # noqa: PTH123  # Path adds a backslash
        return numbered_drive(_asker(opened))
    return None


def numbered_drive(ask: Ask) -> str:
    """Windows: the drive of a volume, by the second field of STORAGE_DEVICE_NUMBER. Raises OSError."""
    number = struct.unpack("<4xI4x", ask(IOCTL_STORAGE_GET_DEVICE_NUMBER, 12))[0]
    return rf"\\.\PhysicalDrive{number}"


def _sector_bytes(ask: Ask, question: int, layout: str) -> int:
    try:
        answer = ask(question, struct.calcsize(layout))
    except OSError:
        return USUAL_SECTOR_BYTES
    return _usual_unless_valid(struct.unpack(layout, answer)[0])


def _usual_unless_valid(sector_bytes: int) -> int:
    return sector_bytes if sector_bytes in SECTOR_BYTES else USUAL_SECTOR_BYTES


def _asker(opened: BinaryIO) -> Ask:
    """Puts questions to a device in the way of this system."""
    if sys.platform == "win32":
        return lambda question, length: _device_io_control(opened.fileno(), question, length)
    else:  # noqa: RET505  # so that a check of types for Windows leaves this out
        from fcntl import ioctl

        return lambda question, length: ioctl(opened.fileno(), question, bytes(length))


if sys.platform == "win32":

    def _device_io_control(descriptor: int, question: int, length: int) -> bytes:
        import ctypes
        import msvcrt
        from ctypes import wintypes

        answer, used = ctypes.create_string_buffer(length), wintypes.DWORD()
        handle = wintypes.HANDLE(msvcrt.get_osfhandle(descriptor))
        control = ctypes.WinDLL("kernel32", use_last_error=True).DeviceIoControl
        if not control(handle, question, None, 0, answer, length, ctypes.byref(used), None):
            raise ctypes.WinError(ctypes.get_last_error())
        if used.value < length:
            raise OSError("the device gave half an answer")
        return answer.raw
