"""What The Sleuth Kit, an outside reader of file systems (package pytsk3), finds on an image.

It must not use the readers that are tested.
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

LABEL_ENDING = " (Volume Label Entry)"
LONG_NAME_MAX = 195
"""Of longer names on FAT its version 4 loses the last letters (tried out)."""


def _tsk() -> Any:
    """The package. On Linux it must be there; elsewhere its tests are skipped."""
    if find_spec("pytsk3") is None and sys.platform != "linux":
        pytest.skip("pytsk3 is not installed")
    return import_module("pytsk3")


@dataclass(frozen=True, slots=True)
class Seen:
    """One file."""

    path: str
    size_bytes: int
    sha256: str
    runs: tuple[tuple[int, int], ...]
    """Start on the medium and length, both in bytes; neighbours are one."""
    modified: datetime | None
    created: datetime | None
    """As clocks on the wall show it, in whole seconds."""
    short_name: str


@dataclass(frozen=True, slots=True)
class Disk:
    """One volume."""

    label: str | None
    serial: str
    size_bytes: int
    sector_bytes: int
    files: tuple[Seen, ...]
    """Those of a folder in the order of its directory, then those of the folders in it."""
    folders: tuple[str, ...]
    """Each before the folders in it."""


def read_disk(
    image: Path, start_byte: int = 0, whole_bytes_max: int = sys.maxsize, end_bytes: int = 0
) -> Disk:
    """The FAT or exFAT volume that begins there. Of larger files only so many bytes at each end are read."""
    tsk = _tsk()
    system = tsk.FS_Info(tsk.Img_Info(str(image)), offset=start_byte)
    walk = _Walk(tsk, system.info.block_size, start_byte, whole_bytes_max, end_bytes)
    walk.take(system.open_dir("/"), "")
    return Disk(
        walk.label or None,
        _serial(system.info.fs_id[: system.info.fs_id_used]),
        system.info.block_count * system.info.block_size,
        system.info.block_size,
        tuple(walk.files),
        tuple(walk.folders),
    )


class _Walk:
    def __init__(
        self, tsk: Any, block_bytes: int, start_byte: int, whole_bytes_max: int, end_bytes: int
    ) -> None:
        self.tsk, self.block_bytes, self.start_byte = tsk, block_bytes, start_byte
        self.whole_bytes_max, self.end_bytes = whole_bytes_max, end_bytes
        self.label: str | None = None
        self.files: list[Seen] = []
        self.folders: list[str] = []

    def take(self, directory: Any, prefix: str) -> None:
        """Take down what stands in a directory, then what stands in those within it."""
        within = []
        for found in directory:
            name = found.info.name.name.decode("utf-8")
            if name.endswith(LABEL_ENDING):
                self.label = name.removesuffix(LABEL_ENDING).rstrip()
            elif self._is_own(found) or name in (".", ".."):
                continue
            elif found.info.meta.type == self.tsk.TSK_FS_META_TYPE_DIR:
                within.append((prefix + name, found))
            else:
                self.files.append(self._seen(prefix + name, found))
        for path, found in within:
            self.folders.append(path)
            self.take(found.as_directory(), f"{path}/")

    def _is_own(self, found: Any) -> bool:
        """Whether it is deleted, or something that The Sleuth Kit adds: tables, orphans."""
        unused = int(found.info.name.flags) & int(self.tsk.TSK_FS_NAME_FLAG_UNALLOC)
        return bool(unused) or found.info.name.name.startswith(b"$") or found.info.meta is None

    def _seen(self, path: str, found: Any) -> Seen:
        meta = found.info.meta
        return Seen(
            path,
            meta.size,
            hashlib.sha256(self._content(found, meta.size)).hexdigest(),
            tuple(self._runs(found)),
            _moment(meta.mtime),
            _moment(meta.crtime),
            (found.info.name.shrt_name or b"").decode("ascii", "replace"),
        )

    def _content(self, found: Any, size_bytes: int) -> bytes:
        """All of it, or its two ends."""
        if size_bytes <= self.whole_bytes_max:
            data: bytes = found.read_random(0, size_bytes) if size_bytes else b""
            return data
        last: bytes = found.read_random(size_bytes - self.end_bytes, self.end_bytes)
        return bytes(found.read_random(0, self.end_bytes)) + last

    def _runs(self, found: Any) -> Iterator[tuple[int, int]]:
        start = length = 0
        for run in (run for attribute in found for run in attribute):
            place, more = self.start_byte + run.addr * self.block_bytes, run.len * self.block_bytes
            if place != start + length and length:
                yield start, length
                length = 0
            start, length = (start if length else place), length + more
        if length:
            yield start, length


def _moment(seconds: int) -> datetime | None:
    """It takes the card's times for those of this computer's clock."""
    return datetime.fromtimestamp(seconds) if seconds else None


def _serial(stored: list[int]) -> str:
    """As systems show it: "1234-ABCD"."""
    number = int.from_bytes(stored, "little")
    return f"{number >> 16:04X}-{number & 0xFFFF:04X}"
