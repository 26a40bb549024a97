"""Puts a laid out volume on a sparse image, each file with bytes that no other file has.

It must not know any file system.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import BinaryIO

from mediacheck.card.mbr_layout import Mbr, MbrEntry
from mediacheck.card.new_volume import LaidOut, NewFile, NewFolder, NewVolume
from tests.card.filled import overwrite, sized

WHOLE_BYTES_MAX = 1 << 20
"""Of a larger file only its two ends are written."""
END_BYTES = 5000
MORNING = datetime(2024, 2, 29, 6, 45, 58, 990_000)


def content(path: str, size_bytes: int) -> Iterator[tuple[int, bytes]]:
    """What a file holds where it is not zero: place in it, and bytes."""
    if size_bytes <= WHOLE_BYTES_MAX:
        yield 0, random.Random(path).randbytes(size_bytes)
    else:
        yield 0, random.Random(path).randbytes(END_BYTES)
        yield size_bytes - END_BYTES, random.Random(path[::-1]).randbytes(END_BYTES)


def write(path: Path, volume: NewVolume, laid_out: LaidOut, origin_byte: int = 0) -> Path:
    """The medium from its start, or from `origin_byte` on: outsiders want the volume by itself."""
    sized(path, volume.start_byte + volume.size_bytes - origin_byte)
    with path.open("r+b") as file:
        done = _write_head(file, laid_out, origin_byte)
        for placed in laid_out.files:
            if placed.size_bytes:
                assert placed.start_byte >= done, "contents overlap what lies before them"
                done = placed.start_byte + placed.size_bytes
            for place, data in content(placed.path, placed.size_bytes):
                file.seek(placed.start_byte + place - origin_byte if data else 0)
                file.write(data)
    assert done <= volume.start_byte + volume.size_bytes
    return path


def _write_head(file: BinaryIO, laid_out: LaidOut, origin_byte: int) -> int:
    """Where it ends on the medium."""
    done = origin_byte
    for place, piece in laid_out.head():
        assert place >= done, "the pieces overlap or do not rise"
        assert 0 < len(piece) <= 4 << 20
        file.seek(place - origin_byte)
        file.write(piece)
        done = place + len(piece)
    return done


def with_mbr(image: Path, volume: NewVolume) -> Path:
    """The same image with a table of one part."""
    entry = MbrEntry.of(0x07, volume.start_byte // 512, volume.size_bytes // 512)
    return overwrite(image, 0, Mbr.of(entry, disk_signature=1).compose())


@dataclass(frozen=True)
class Walked:
    """A file in the order of the disk, which is that of the walk."""

    path: str
    new: NewFile


def walked(folder: NewFolder, above: str = "") -> list[Walked]:
    """All files: those of a folder, then those of the folders in it."""
    here = [Walked(above + file.name, file) for file in folder.files]
    return here + [one for inner in folder.folders for one in walked(inner, f"{above}{inner.name}/")]


def folder_paths(folder: NewFolder, above: str = "") -> list[str]:
    """All folders but the root, each before those in it."""
    found: list[str] = []
    for inner in folder.folders:
        path = above + inner.name
        found += [path, *folder_paths(inner, f"{path}/")]
    return found


def tree(sizes: Mapping[str, int], above: str = "") -> NewFolder:
    """From paths and sizes in any order of folders; a path that ends in "/" is a folder with no files."""
    here = {path.removeprefix(above): size for path, size in sizes.items() if path.startswith(above)}
    files = [
        NewFile(name, size, MORNING + timedelta(minutes=number, seconds=number, milliseconds=10 * number))
        for number, (name, size) in enumerate(here.items())
        if name and "/" not in name
    ]
    inner = dict.fromkeys(name.partition("/")[0] for name in here if "/" in name)
    name = above.rstrip("/").rpartition("/")[2]
    return NewFolder(name, MORNING, tuple(files), tuple(tree(sizes, f"{above}{folder}/") for folder in inner))
