"""Images of cards that the tests of several rooms open: made by the usual programs, filled by mtools.

It must not judge what is read from them.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from tests.card.card_programs import run

MIB = 1 << 20

FILES: Mapping[str, bytes] = {
    "Watering Can 1.mp4": b"water" * 300,
    "B.MP4": b"",
    "A.MP4": b"seeds",
    "Spring/Seed Range.mp4": b"range" * 1000,
}
"""In the order in which they are copied, and so in the order of the disk: that of the names is another."""


def sized(path: Path, size_bytes: int) -> Path:
    """A file of zeros that takes no room."""
    with path.open("wb") as file:
        file.truncate(size_bytes)
    return path


def fat_card(
    path: Path, size_bytes: int = 40 * MIB, files: Mapping[str, bytes] = FILES, *options: str
) -> Path:
    """FAT32 labelled GARDEN over the whole image, with these files."""
    sized(path, size_bytes)
    run("mkfs.fat", *(options or ("-F", "32")), "-n", "GARDEN", "-i", "1234ABCD", path)
    for name, content in files.items():
        folder, _, _ = name.rpartition("/")
        if folder:
            run("mmd", "-D", "s", "-i", path, f"::/{folder}")
        source = path.with_suffix(".source")
        source.write_bytes(content)
        run("mcopy", "-i", path, source, f"::/{name}")
        source.unlink()
    return path


def overwrite(path: Path, place: int, data: bytes) -> Path:
    """Change bytes of an image where they stand."""
    with path.open("r+b") as file:
        file.seek(place)
        file.write(data)
    return path


def placed(path: Path, size_bytes: int, pieces: Mapping[int, Path]) -> Path:
    """A larger image with these in it, each at its place."""
    sized(path, size_bytes)
    for place, piece in pieces.items():
        overwrite(path, place, piece.read_bytes())
    return path
