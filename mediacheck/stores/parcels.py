"""What an installer sent: files, folders and ZIP archives, unpacked in memory within limits.

It must not understand what is in a file. Nothing is ever written where an archive says.
"""

from __future__ import annotations

import lzma
import os
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO

FILE_MAX_BYTES = 64_000_000
"""The largest photo or report that is taken."""
ARCHIVE_MAX_BYTES = 2_000_000_000
"""Of all files in one archive, unpacked."""
ARCHIVE_MAX_FILES = 20_000
LEFT_BEHIND = ("__macosx/", ".ds_store", "thumbs.db", "desktop.ini")
"""What computers put into folders and archives by themselves."""
BESIDE = (".html", ".csv", ".sha256")
"""What lies beside reports and says the same; passed over in folders and archives."""
UNPACKING = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, struct.error, NotImplementedError, EOFError, OSError,
    ValueError, RuntimeError,
)  # fmt: skip
"""What zipfile raises at archives that are damaged, locked, or packed in a way that it does not know."""
LINKED = "it is a link to a folder, which is not followed"
NO_DAY = (1980, 1, 1)
"""The first day that an archive can name: many packers write it where they know none (common practice)."""


@dataclass(frozen=True, slots=True)
class Parcel:
    """One file that came. `shown`: its path as people know it; `content` is None where `refused` says why."""

    shown: str
    content: bytes | None
    changed_at: datetime | None = None
    """By the file system or the archive; without a time zone where the archive has none."""
    refused: str = ""


def parcels(places: Sequence[Path]) -> Iterator[Parcel]:
    """Every file of these files, folders and archives, in a fixed order. What cannot be read is told of."""
    for place in places:
        if place.is_dir():
            yield from _files_in(place)
        else:
            yield from _file(place)


def _files_in(folder: Path) -> Iterator[Parcel]:
    passed: list[Parcel] = []
    found: list[Path] = []

    def closed(error: OSError) -> None:
        passed.append(Parcel(str(error.filename), None, refused=_unreadable(error)))

    for parent, folders, names in os.walk(folder, onerror=closed):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        links = [Path(parent, name) for name in folders if Path(parent, name).is_symlink()]
        passed += [Parcel(str(link), None, refused=LINKED) for link in links]
        files = (name for name in names if not name.startswith(".") and not _left_behind(name))
        found += (Path(parent, name) for name in files)
    yield from passed
    for path in sorted(found):
        yield from _file(path)


def _left_behind(name: str) -> bool:
    lowered = name.casefold()
    return (
        lowered.endswith((*LEFT_BEHIND, *BESIDE)) or lowered.startswith("__macosx/") or "/._" in f"/{lowered}"
    )


def _file(path: Path) -> Iterator[Parcel]:
    try:
        told = path.stat()
        if not stat.S_ISREG(told.st_mode):
            yield Parcel(str(path), None, refused="it is a device or pipe, not a file")
        elif path.suffix.casefold() == ".zip":
            with path.open("rb") as file:
                yield from _unpacked(str(path), file)
        elif told.st_size > FILE_MAX_BYTES:
            yield Parcel(str(path), None, refused=_too_large(FILE_MAX_BYTES))
        else:
            yield Parcel(str(path), path.read_bytes(), _changed_at(told.st_mtime))
    except OSError as error:
        yield Parcel(str(path), None, refused=_unreadable(error))


def _unreadable(error: OSError) -> str:
    return f"it cannot be read: {error.strerror or error}"


def _changed_at(seconds: float) -> datetime | None:
    """None where the file system tells a day that is in no calendar."""
    try:
        return datetime.fromtimestamp(seconds).astimezone()
    except (ValueError, OverflowError, OSError):
        return None


def _unpacked(shown: str, file: IO[bytes]) -> Iterator[Parcel]:
    try:
        archive = zipfile.ZipFile(file)
    except UNPACKING as error:
        yield Parcel(shown, None, refused=f"it is no ZIP archive that can be opened: {error}")
        return
    with archive:
        members = [one for one in archive.infolist() if not one.is_dir() and not _left_behind(one.filename)]
        if len(members) > ARCHIVE_MAX_FILES:
            yield Parcel(shown, None, refused=f"it holds more than {ARCHIVE_MAX_FILES:,} files")
            return
        left = ARCHIVE_MAX_BYTES
        for member in sorted(members, key=lambda one: one.filename):
            most_bytes = min(FILE_MAX_BYTES, left)
            parcel = _member(shown, archive, member, most_bytes)
            if member.file_size <= most_bytes:
                left -= member.file_size  # also where it is damaged: the work was done
            yield parcel


def _member(shown: str, archive: zipfile.ZipFile, member: zipfile.ZipInfo, most_bytes: int) -> Parcel:
    """One file of an archive; how long it is, is found by unpacking and not by what the archive says."""
    name = f"{shown}/{member.filename}"
    if member.file_size > most_bytes:
        return Parcel(name, None, refused=_too_large(most_bytes))
    try:
        with archive.open(member) as packed:
            content = packed.read(most_bytes + 1)
    except UNPACKING as error:
        return Parcel(name, None, refused=f"it cannot be unpacked: {error}")
    if len(content) > most_bytes:
        return Parcel(name, None, refused=_too_large(most_bytes))
    return Parcel(name, content, _packed_at(member))


def _packed_at(member: zipfile.ZipInfo) -> datetime | None:
    """By the clock of whoever packed it; None where that was never set."""
    try:
        return datetime(*member.date_time) if member.date_time[:3] != NO_DAY else None
    except ValueError:
        return None


def _too_large(most_bytes: int) -> str:
    if most_bytes < FILE_MAX_BYTES:
        return "the archive unpacks to more than is ever sent"
    return f"it is larger than {FILE_MAX_BYTES // 1_000_000} MB, which no report or photo is"
