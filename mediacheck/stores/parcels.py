"""What an installer sent: files, folders and ZIP archives, unpacked in memory within limits.

It must not understand what is in a file. Nothing is ever written where an archive says.
"""

from __future__ import annotations

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
UNPACKING = (zipfile.BadZipFile, zlib.error, NotImplementedError, EOFError, OSError, ValueError, RuntimeError)
"""What zipfile raises at archives that are damaged, locked, or packed in a way that it does not know."""


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
            for path in sorted(_files_in(place)):
                yield from _file(path)
        else:
            yield from _file(place)


def _files_in(folder: Path) -> Iterator[Path]:
    for parent, folders, names in folder.walk() if hasattr(folder, "walk") else _walked(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        yield from (parent / name for name in names if not name.startswith(".") and not _left_behind(name))


def _walked(folder: Path) -> Iterator[tuple[Path, list[str], list[str]]]:
    """`Path.walk` comes with Python 3.12."""
    import os

    for parent, folders, names in os.walk(folder):
        yield Path(parent), folders, names


def _left_behind(name: str) -> bool:
    lowered = name.casefold()
    return (
        lowered.endswith((*LEFT_BEHIND, *BESIDE)) or lowered.startswith("__macosx/") or "/._" in f"/{lowered}"
    )


def _file(path: Path) -> Iterator[Parcel]:
    try:
        if path.suffix.casefold() == ".zip":
            with path.open("rb") as file:
                yield from _unpacked(str(path), file)
            return
        if path.stat().st_size > FILE_MAX_BYTES:
            yield Parcel(str(path), None, refused=_too_large(FILE_MAX_BYTES))
            return
        changed = datetime.fromtimestamp(path.stat().st_mtime).astimezone()
        yield Parcel(str(path), path.read_bytes(), changed)
    except OSError as error:
        yield Parcel(str(path), None, refused=f"it cannot be read: {error.strerror or error}")


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
            parcel = _member(shown, archive, member, min(FILE_MAX_BYTES, left))
            left -= len(parcel.content or b"")
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
    """By the clock of whoever packed it."""
    try:
        return datetime(*member.date_time)
    except ValueError:
        return None


def _too_large(most_bytes: int) -> str:
    if most_bytes < FILE_MAX_BYTES:
        return "the archive unpacks to more than is ever sent"
    return f"it is larger than {FILE_MAX_BYTES // 1_000_000} MB, which no report or photo is"
