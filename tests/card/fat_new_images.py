"""New FAT volumes to be tested: what is on them, their shapes, and what is expected of each reader.

It must not judge them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from mediacheck.card.contents import Contents
from mediacheck.card.fat_writer import lay_out
from mediacheck.card.mbr_layout import Mbr, MbrEntry
from mediacheck.card.model import Attribute, Card
from mediacheck.card.new_volume import LaidOut, NewVolume, Placed
from mediacheck.card.within import Run, Within
from mediacheck.names import FileSystem
from tests.card.fat_images import run
from tests.card.filled import MIB, overwrite
from tests.card.new_images import content, tree, walked, write
from tests.card.sweep_trees import EMOJI
from tests.card.test_image_sweep import content_of

GIB = 1 << 30
TABLE_START_BYTE = 4 * MIB
SERIAL, SERIAL_WORDS = 0x0BADCAFE, "0BAD-CAFE"


def usual(cluster_bytes: int) -> dict[str, int]:
    """Names in no order, sizes at every border, folders with and without anything in them."""
    edges = {
        f"of {size} bytes.mp4": size for size in (1, cluster_bytes - 1, cluster_bytes, cluster_bytes + 1)
    }
    return {
        "LOOP2.MP4": 3 * cluster_bytes + 7,
        "empty.mp4": 0,
        **edges,
        "LOOP1.MP4": 513,
        "GARDEN": 20,
        "Seeds/Spring/Loop (two).mp4": 2 * cluster_bytes,
        "Seeds/README": 700,
        "Seeds/Spring/EMPTY.JPG": 0,
        "Nothing/": 0,
        "Seeds/AUTUMN/loop.jpg": 900,
        "A folder/Inside/": 0,
    }


def names(_: int) -> dict[str, int]:
    """All that a long name can be."""
    found = [
        *(f"{EMOJI} seedlings.mp4", "Gießkanne für Tomaten äöüß.mp4", "園芸の水やり 種まき.mp4"),
        *("Полив и семена.mp4", "a.b.c..d.mp4", "plus+comma,semi;equals=[brackets].mp4"),
        *("thirteen 1234", "fourteen 12345", "twenty-six characters 1234", "n" * 191 + ".mp4"),
        *("x" * 251 + ".mp4", "SAMEBE~1.MP4", "SAMEBE~3.MP4", ".hidden", "İı ſ K.mp4"),
        *(f"same beginning {number}.mp4" for number in range(12)),
        *(f"Ünïcödé folder/{EMOJI}/ΑΒΓ αβγ.mp4", "Ünïcödé folder/αβγ/", "same beginning/1"),
    ]
    return {name: 0 if name.endswith("/") else 31 * number for number, name in enumerate(found)}


def many(cluster_bytes: int) -> dict[str, int]:
    """Lists that take several clusters, and more than the usual room of a root folder that is fixed."""
    return {
        f"{folder}Watering can {number:03}.mp4": number % 3 * cluster_bytes // 2
        for folder in ("", "Seeds/")
        for number in range(200)
    }


def full(cluster_bytes: int) -> dict[str, int]:
    """Folders that are full to the last slot, so that no mark ends them; one is kept for a label."""
    slots = cluster_bytes // 32
    return {
        **{f"R{number}": number for number in range(slots - 1 - 1)},
        **{f"F/X{number}": 1 for number in range(2 * slots - 2)},
    }


def deep(_: int) -> dict[str, int]:
    """Folders in folders, each with a file."""
    paths = ["/".join(f"D{level}" for level in range(depth)) for depth in range(1, 40)]
    return {f"{path}/loop.mp4": 100 + place for place, path in enumerate(paths)}


def none(_: int) -> dict[str, int]:
    """A card fresh from the shop."""
    return {}


TREES = {"usual": usual, "names": names, "many": many, "full": full, "deep": deep, "none": none}


@dataclass(frozen=True)
class Shape:
    """A volume to be made."""

    file_system: FileSystem
    size_bytes: int
    cluster_bytes: int
    start_byte: int = 0
    label: str | None = None
    tree: str = "usual"

    def __str__(self) -> str:
        size = f"{self.size_bytes // MIB}M-{self.cluster_bytes}-{self.start_byte}"
        return f"{self.file_system}-{self.tree}-{size}-{self.label}"

    @property
    def volume(self) -> NewVolume:
        root = tree(TREES[self.tree](self.cluster_bytes))
        where = (self.start_byte, self.size_bytes, self.cluster_bytes)
        return NewVolume(self.file_system, *where, SERIAL, root, self.label)


SHAPES = (
    Shape("FAT16", 4 * MIB, 512),
    Shape("FAT16", 16 * MIB, 1024, TABLE_START_BYTE, "GARDEN"),
    Shape("FAT16", 16 * MIB - 512, 2048, 63 * 512, "A", "names"),
    Shape("FAT16", 40 * MIB, 4096, 0, "small Label", "many"),
    Shape("FAT16", 100 * MIB, 8192, TABLE_START_BYTE, None, "deep"),
    Shape("FAT16", 1 * GIB, 16_384, 0, "ELEVEN CHAR"),
    Shape("FAT16", 2 * GIB, 32_768, TABLE_START_BYTE, "SEEDS"),
    Shape("FAT16", 8 * MIB, 512, 0, None, "full"),
    Shape("FAT16", 5 * MIB, 1024, 0, None, "none"),
    Shape("FAT32", 34 * MIB, 512),
    Shape("FAT32", 40 * MIB, 512, TABLE_START_BYTE, "GARDEN", "names"),
    Shape("FAT32", 70 * MIB + 512, 1024, 63 * 512, None, "many"),
    Shape("FAT32", 256 * MIB, 2048, 0, "FULL", "full"),
    Shape("FAT32", 300 * MIB, 4096, TABLE_START_BYTE, "A B-C"),
    Shape("FAT32", 8 * GIB, 4096, 0, None, "many"),
    Shape("FAT32", 16 * GIB, 8192, TABLE_START_BYTE, "DEEP", "deep"),
    Shape("FAT32", 32 * GIB, 16_384, TABLE_START_BYTE),
    Shape("FAT32", 64 * GIB, 32_768, TABLE_START_BYTE, "LARGE", "names"),
    Shape("FAT32", 40 * MIB, 512, TABLE_START_BYTE, "NEW", "none"),
)


@dataclass(frozen=True)
class Made:
    """A volume, where everything in it is to lie, and two images of it."""

    volume: NewVolume
    laid_out: LaidOut
    card: Path
    """The medium."""
    part: Path
    """The volume alone, as fsck.fat wants it; the same file where it begins with the medium."""

    @property
    def for_mtools(self) -> Path:
        """The medium, and where the volume begins on it."""
        return Path(f"{self.card}@@{self.volume.start_byte}")


def make(folder: Path, volume: NewVolume) -> Made:
    laid_out = lay_out(volume)
    card = part = write(folder / "card.img", volume, laid_out)
    if volume.start_byte:
        entry = MbrEntry.of(0x0C, volume.start_byte // 512, volume.size_bytes // 512)
        overwrite(card, 0, Mbr.of(entry).compose())
        part = write(folder / "part.img", volume, laid_out, volume.start_byte)
    return Made(volume, laid_out, card, part)


def fsck_counts(part: Path) -> tuple[int, int]:
    """Clusters in use and in all, as fsck.fat tells them. It must have nothing else to say."""
    done = run("fsck.fat", "-n", part)
    said = done.stdout.decode().splitlines()
    assert (done.returncode, done.stderr, len(said)) == (0, b"", 2), (said, done.stderr)
    assert said[0].startswith("fsck.fat ")
    counts = re.fullmatch(r".*: \d+ files, (\d+)/(\d+) clusters", said[1])
    assert counts
    return int(counts[1]), int(counts[2])


Row = tuple[str, int, int, tuple[Run, ...] | None, datetime | None, datetime | None, frozenset[Attribute]]


def runs_of(placed: Placed, cluster_bytes: int) -> tuple[Run, ...]:
    clusters = -(-placed.size_bytes // cluster_bytes)
    return (Run(placed.start_byte, clusters * cluster_bytes),) if clusters else ()


def expected_entries(volume: NewVolume, laid_out: LaidOut) -> list[Row]:
    """Path, size, place in the list, runs, creation, last change (to two seconds), attributes."""
    pairs = zip(walked(volume.root), laid_out.files, strict=True)
    archive: frozenset[Attribute] = frozenset(("archive",))
    return [
        (
            one.path,
            one.new.size_bytes,
            number,
            runs_of(placed, volume.cluster_bytes),
            one.new.modified,
            one.new.modified.replace(second=one.new.modified.second // 2 * 2, microsecond=0),
            archive,
        )
        for number, (one, placed) in enumerate(pairs)
    ]


def found_entries(found: Contents | Card) -> list[Row]:
    """The same of what was read."""
    return [
        (
            entry.path,
            entry.size_bytes,
            entry.position,
            entry.location.runs if isinstance(entry.location, Within) else None,
            entry.created,
            entry.modified,
            entry.attributes,
        )
        for entry in found.entries
    ]


def expected_contents(volume: NewVolume) -> dict[str, tuple[int, str]]:
    """Size and SHA-256 of every file."""
    return {one.path: content_of(whole(one.path, one.new.size_bytes)) for one in walked(volume.root)}


def whole(path: str, size_bytes: int) -> bytes:
    """What a small file was given."""
    data = bytearray(size_bytes)
    for place, piece in content(path, size_bytes):
        data[place : place + len(piece)] = piece
    return bytes(data)


def boot_sectors(part: Path) -> tuple[bytes, ...]:
    with part.open("rb") as file:
        return tuple(file.read(512) for _ in range(32))
