"""A new exFAT volume is what was asked for: so say fsck.exfat, dump.exfat, The Sleuth Kit and our reader."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest

from mediacheck.card.contents import Contents
from mediacheck.card.exfat_layout import BootSector
from mediacheck.card.exfat_writer import lay_out
from mediacheck.card.model import Attribute, Card, Entry, Volume
from mediacheck.card.new_volume import LaidOut, NewVolume, Placed
from mediacheck.card.opening import open_card
from mediacheck.card.within import Run, Within
from tests.card.card_programs import run
from tests.card.exfat_images import MIB, fsck
from tests.card.new_images import (
    content,
    folder_paths,
    tree,
    walked,
    with_mbr,
    write,
)
from tests.card.tsk import read_disk

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
        "Seeds/Spring/種まき 𝄞.mp4": 2 * cluster_bytes,
        "Seeds/Gießkanne für Tomaten.mp4": 700,
        "Seeds/Spring/EMPTY.JPG": 0,
        "Nothing/": 0,
        "Seeds/Autumn/Полив и семена 🌱.jpg": 900,
        "n" * 180 + ".mp4": 40,
        "A folder/Inside/": 0,
    }


def many(cluster_bytes: int) -> dict[str, int]:
    """Lists that take several clusters, in the root and in a folder."""
    return {
        f"{folder}Watering can {number:03}.mp4": number % 3 * cluster_bytes // 2
        for folder in ("", "Seeds/")
        for number in range(150)
    }


def crowd(_: int) -> dict[str, int]:
    """More than are put together at once."""
    return {f"Seeds/{number}.JPG": number % 2 for number in range(2500)}


def full(cluster_bytes: int) -> dict[str, int]:
    """Folders that are full to the last entry, so that no mark ends them.

    The root has 3 entries of its own; a name takes 3, one of 31 letters 5, and one of 18 letters 4.
    """
    entries = cluster_bytes // 32
    long = 2 * entries % 3
    return {
        **{f"{'r' * 30}{number}": 1 for number in range(long)},
        **{f"r{number}": number for number in range((entries - 3 - 5 * long) // 3 - 1)},  # and F
        **{f"F/{'x' * 16}{number:02}": 1 for number in range(entries // 4)},
    }


def none(_: int) -> dict[str, int]:
    """A card fresh from the shop."""
    return {}


def few(_: int) -> dict[str, int]:
    """For large clusters."""
    return {"LOOP2.MP4": 700, "Seeds/A.MP4": 0, "Seeds/B.MP4": 4 * MIB + 1, "LOOP1.MP4": 9}


TREES = {"usual": usual, "few": few, "many": many, "crowd": crowd, "full": full, "none": none}


@dataclass(frozen=True)
class Shape:
    """A volume to be made."""

    size_bytes: int
    cluster_bytes: int
    start_byte: int = 0
    label: str | None = None
    tree: str = "usual"

    def __str__(self) -> str:
        return f"{self.tree}-{self.size_bytes // MIB}M-{self.cluster_bytes}-{self.start_byte}-{self.label}"

    @property
    def volume(self) -> NewVolume:
        root = tree(TREES[self.tree](self.cluster_bytes))
        return NewVolume(
            "exFAT", self.start_byte, self.size_bytes, self.cluster_bytes, SERIAL, root, self.label
        )


SHAPES = (
    Shape(MIB, 512),
    Shape(4 * MIB, 4096, TABLE_START_BYTE, "GARDEN"),
    Shape(4 * MIB, 1024, 63 * 512, "Gießkanne"),
    Shape(5 * MIB + 512, 4096, 63 * 512),
    Shape(64 * MIB, 32_768, TABLE_START_BYTE, "ELEVEN CHAR"),
    Shape(257 * MIB, 32_768, 0, "🌱🌱🌱🌱🌱."),
    Shape(1 * GIB, 32 * MIB, TABLE_START_BYTE, "BIG", "few"),
    Shape(8 * GIB, 32_768, TABLE_START_BYTE, "種まき"),
    Shape(64 * GIB, 131_072, TABLE_START_BYTE, "SEEDS"),
    Shape(16 * GIB, 4096, 0, "SMALL"),
    Shape(2048 * GIB, 131_072, 0, "LARGE"),
    Shape(3 * MIB, 512, 0, None, "many"),
    Shape(32 * MIB, 4096, TABLE_START_BYTE, "MANY", "many"),
    Shape(16 * MIB, 4096, 0, "CROWD", "crowd"),
    Shape(2 * MIB, 512, TABLE_START_BYTE, None, "full"),
    Shape(2 * MIB, 1024, 0, None, "full"),
    Shape(4 * MIB, 4096, 0, "FULL", "full"),
    Shape(MIB, 4096, 0, None, "none"),
    Shape(128 * GIB, 131_072, TABLE_START_BYTE, "NEW", "none"),
)


@dataclass(frozen=True)
class Made:
    """A volume, where everything in it is to lie, and two images of it."""

    volume: NewVolume
    laid_out: LaidOut
    card: Path
    """The medium."""
    part: Path
    """The volume alone, as outsiders want it; the same file where it begins with the medium."""


@pytest.fixture(params=SHAPES, ids=str, scope="module")
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Made]:
    """A volume of each shape, on images that take little room."""
    folder, volume = tmp_path_factory.mktemp("new"), request.param.volume
    laid_out = lay_out(volume)
    card = part = write(folder / "card.img", volume, laid_out)
    if volume.start_byte:
        with_mbr(card, volume)
        part = write(folder / "part.img", volume, laid_out, volume.start_byte)
    yield Made(volume, laid_out, card, part)
    for path in folder.iterdir():
        path.unlink()


def boot_of(made: Made) -> BootSector:
    with made.part.open("rb") as file:
        return BootSector.parse(file.read(512))


def sha256(path: str, size_bytes: int) -> str:
    """Of what a small file was given."""
    data = bytearray(size_bytes)
    for place, piece in content(path, size_bytes):
        data[place : place + len(piece)] = piece
    return hashlib.sha256(data).hexdigest()


def hashed(entry: Entry) -> str:
    with entry.open() as file:
        return hashlib.sha256(file.read()).hexdigest()


def runs_of(placed: Placed, cluster_bytes: int) -> tuple[Run, ...]:
    clusters = -(-placed.size_bytes // cluster_bytes)
    return (Run(placed.start_byte, clusters * cluster_bytes),) if clusters else ()


Row = tuple[str, int, int, tuple[Run, ...] | None, datetime | None, datetime | None, frozenset[Attribute]]


def expected_entries(volume: NewVolume, laid_out: LaidOut) -> list[Row]:
    """Path, size, place in the list, runs, times as clocks show them, attributes."""
    pairs = zip(walked(volume.root), laid_out.files, strict=True)
    archive: frozenset[Attribute] = frozenset(("archive",))
    return [
        (
            one.path,
            one.new.size_bytes,
            number,
            runs_of(placed, volume.cluster_bytes),
            one.new.modified,
            one.new.modified,
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
            entry.created.replace(tzinfo=None) if entry.created else None,
            entry.modified.replace(tzinfo=None) if entry.modified else None,
            entry.attributes,
        )
        for entry in found.entries
    ]


def test_our_reader_finds_what_was_asked_for(made: Made) -> None:
    volume, laid_out = made.volume, made.laid_out
    card = open_card(made.card)
    assert card.damage == ()
    assert found_entries(card) == expected_entries(volume, laid_out)
    assert list(card.folders) == folder_paths(volume.root)
    assert [hashed(entry) for entry in card.entries] == [
        sha256(one.path, one.new.size_bytes) for one in walked(volume.root)
    ]
    assert {str(entry.modified.tzinfo) for entry in card.entries if entry.modified} <= {"UTC"}
    end = volume.start_byte + volume.size_bytes
    assert card.volume == Volume(
        file_system="exFAT",
        partition_table="MBR" if volume.start_byte else "none",
        label=volume.label,
        serial=SERIAL_WORDS,
        capacity_bytes=laid_out.capacity_bytes,
        cluster_bytes=volume.cluster_bytes,
        used_bytes=laid_out.used_bytes,
        free_bytes=laid_out.free_bytes,
        medium_bytes=end,
        claimed_bytes=end,
        part_end_bytes=end if volume.start_byte else None,
        dirty=False,
    )


def test_files_lie_in_the_order_of_the_walk_each_in_one_piece(made: Made) -> None:
    paths = [one.path for one in walked(made.volume.root)]
    assert [placed.path for placed in made.laid_out.files] == paths
    with_content = [placed for placed in made.laid_out.files if placed.size_bytes]
    starts = [placed.start_byte for placed in with_content]
    assert starts == sorted(starts)
    assert {placed.start_byte for placed in made.laid_out.files if not placed.size_bytes} <= {0}
    wholes = {
        entry.path: entry.location.whole
        for entry in open_card(made.card).entries
        if isinstance(entry.location, Within) and entry.size_bytes
    }
    assert wholes == {placed.path: Run(placed.start_byte, placed.size_bytes) for placed in with_content}


def test_fsck_finds_nothing(made: Made) -> None:
    clean, words = fsck(made.part)
    assert clean, words
    folders, files = len(folder_paths(made.volume.root)) + 1, len(made.laid_out.files)
    assert f"clean. directories {folders}, files {files}" in words


def test_dump_exfat_tells_the_geometry(made: Made) -> None:
    volume, laid_out, boot = made.volume, made.laid_out, boot_of(made)
    told = dict(
        re.findall(r"^([A-Z][\w ]+?) *(?:\(.*\))?:[ \t]*(.*?)$", run("dump.exfat", made.part), re.MULTILINE)
    )
    clusters = laid_out.capacity_bytes // volume.cluster_bytes
    bitmap_bytes = -(-clusters // 8)
    upcase = 2 + -(-bitmap_bytes // volume.cluster_bytes)
    assert told == {
        "Volume Length": str(volume.size_bytes // 512),
        "FAT Offset": "24",
        "FAT Length": str(-(-(clusters + 2) * 4 // 512)),
        "Cluster Heap Offset": str(boot.cluster_heap_offset),
        "Cluster Count": str(clusters),
        "Root Cluster": str(upcase + -(-5836 // volume.cluster_bytes)),
        "Volume Serial": "0xbadcafe",
        "Sector Size Bits": "9",
        "Sector per Cluster bits": str((volume.cluster_bytes // 512).bit_length() - 1),
        "Volume entry type": "0x83",
        "Volume label": volume.label or "",
        "Volume label character count": str(len((volume.label or "").encode("utf-16-le")) // 2),
        "Bitmap entry type": "0x81",
        "Bitmap start cluster": "2",  # in hexadecimal
        "Bitmap size": str(bitmap_bytes),
        "Upcase table entry type": "0x82",
        "Upcase table start cluster": f"{upcase:x}",
        "Upcase table size": "5836",
        "Cluster size": str(volume.cluster_bytes),
        "Total Clusters": str(clusters),
        "Free Clusters": str(laid_out.free_bytes // volume.cluster_bytes),
    }


def test_the_boot_sector_has_the_rest(made: Made) -> None:
    volume, laid_out, boot = made.volume, made.laid_out, boot_of(made)
    assert (boot.partition_offset, boot.volume_flags, boot.drive_select) == (
        volume.start_byte // 512,
        0,
        0x80,
    )
    assert boot.percent_in_use == laid_out.used_bytes * 100 // laid_out.capacity_bytes
    heap = volume.start_byte + boot.heap_start_byte
    assert heap % volume.cluster_bytes == 0
    assert heap + laid_out.capacity_bytes <= volume.start_byte + volume.size_bytes
    assert laid_out.free_bytes == laid_out.capacity_bytes - laid_out.used_bytes
    with made.part.open("rb") as file:
        region, backup = file.read(12 * 512), file.read(12 * 512)
    assert region == backup


def test_the_sleuth_kit_reads_the_same(made: Made) -> None:
    volume = made.volume
    disk = read_disk(made.card, volume.start_byte)
    assert (disk.label, disk.serial) == (volume.label, SERIAL_WORDS)
    assert list(disk.folders) == folder_paths(volume.root)
    assert [(seen.path, seen.size_bytes, seen.sha256) for seen in disk.files] == [
        (one.path, one.new.size_bytes, sha256(one.path, one.new.size_bytes)) for one in walked(volume.root)
    ]
    assert [seen.modified for seen in disk.files] == [
        one.new.modified.replace(microsecond=0) for one in walked(volume.root)
    ]
    assert [seen.created for seen in disk.files] == [seen.modified for seen in disk.files]


def test_a_full_folder_has_no_mark_at_its_end(tmp_path: Path) -> None:
    """The shape of that name is what it says."""
    volume = Shape(2 * MIB, 512, 0, None, "full").volume
    laid_out = lay_out(volume)
    image = write(tmp_path / "card.img", volume, laid_out).read_bytes()
    boot = BootSector.parse(image)
    root = boot.heap_start_byte + (boot.first_cluster_of_root_directory - 2) * 512
    assert image[root + 512 - 32] == image[root + 1024 - 32] == 0xC1
    assert laid_out.files[0].start_byte == root + 1024
