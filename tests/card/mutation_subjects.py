"""The sound images that mutations spoil: small ones of every kind, and where their structures lie.

It must not spoil anything.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Literal

from mediacheck.card.mbr_layout import Mbr, MbrEntry
from tests.card import exfat_images, fat_images
from tests.card.card_programs import run
from tests.card.exfat_images import Filled, New
from tests.card.fat_images import Hand
from tests.card.filled import MIB, placed, sized

Kind = Literal[
    "mbr",
    "gpt header",
    "gpt entries",
    "fat boot",
    "fat info",
    "fat 12",
    "fat 16",
    "fat 32",
    "fat folder",
    "exfat boot",
    "exfat fat",
    "exfat folder",
    "bitmap",
    "capitals",
    "content",
]

PART_BYTE = 64 << 10
SECTOR_BYTES = 512
FILES_PER_FOLDER = 4
GPT_ENTRIES_BYTES = 128 * 128
LIST_NAME = "subjects.json"


@dataclass(frozen=True)
class Area:
    """Bytes of an image that have a structure of their own."""

    kind: Kind
    start: int
    length: int


@dataclass(frozen=True)
class Subject:
    """A sound image, and what a person who wants to spoil it must know."""

    name: str
    areas: tuple[Area, ...]
    heap_byte: int
    """Where cluster 2 lies."""
    cluster_bytes: int
    clusters: int
    sector_bytes: int

    def moved(self, name: str, by: int, *tables: Area) -> Subject:
        """The same in a part of a larger image, behind tables."""
        areas = (replace(area, start=area.start + by) for area in self.areas)
        return replace(self, name=name, areas=(*tables, *areas), heap_byte=self.heap_byte + by)

    def cluster_at(self, byte: int) -> int:
        """The number of the cluster that lies there."""
        return (byte - self.heap_byte) // self.cluster_bytes + 2


def build(folder: Path) -> tuple[Subject, ...]:
    """Make all images in a folder, each under the name of its subject, with a list of them."""
    subjects = tuple(_made(folder))
    (folder / LIST_NAME).write_text(json.dumps([asdict(subject) for subject in subjects]), "utf-8")
    return subjects


def load(folder: Path) -> tuple[Subject, ...]:
    """What was built there."""
    stored = json.loads((folder / LIST_NAME).read_text("utf-8"))
    return tuple(Subject(**one | {"areas": tuple(Area(**area) for area in one["areas"])}) for one in stored)


def _made(folder: Path) -> Iterator[Subject]:
    fat_12 = _fat(folder / "fat12", 12, clusters=1_900)
    fat_16 = _fat(folder / "fat16", 16, sectors_per_cluster=1, clusters=4_400)
    fat_32 = _fat(folder / "fat32", 32, clusters=65_600)
    few_32 = _shortened(folder / "fat32-few", folder / "fat32", fat_32, 1_800)
    exfat = _exfat(folder / "exfat", 2 * MIB, 512, 512)
    yield from (fat_12, fat_16, fat_32, few_32, exfat)
    yield _fat(folder / "fat12-4096", 12, sector_bytes=4096, clusters=300)
    yield _fat(folder / "fat16-one", 16, clusters=4_400, fats=1)
    yield _exfat(folder / "exfat-4096", 2 * MIB, 4096, 4096)
    yield _exfat(folder / "exfat-large", 8 * MIB, 512, 65_536)
    yield _in_mbr(folder, few_32)
    yield _in_logical_part(folder, fat_12)
    yield _in_gpt(folder, exfat)
    yield _in_gpt(folder, fat_16)


def _tree() -> dict[str, bytes]:
    """Long names and short ones, folders in folders, empty files, files of several clusters."""
    tree: dict[str, bytes] = {}
    for number, folder in enumerate(("", "Seeds/", "Water/", "Water/Spring/", "Water/Spring/DEEP/")):
        for place in range(FILES_PER_FOLDER):
            name = f"LOOP{place}.MP4" if place % 2 else f"A long name, number {place} of {number}.mp4"
            tree[folder + name] = bytes([65 + place]) * (place * 1300 + number * 97)
    return tree | {"README.TXT": b"", "Empty/": b""}


def _fat(
    image: Path,
    bits: int,
    *,
    sector_bytes: int = 512,
    sectors_per_cluster: int = 1,
    clusters: int,
    fats: int = 2,
) -> Subject:
    shape = {"sector_bytes": sector_bytes, "sectors_per_cluster": sectors_per_cluster}
    fat_images.make(image, bits, "-n", "GARDEN", "-r", "128", **shape, clusters=clusters, fats=fats)
    source = image.parent / "source"
    source.mkdir(exist_ok=True)
    fat_images.fill(image, _tree(), source)
    hand = Hand(image)
    areas = (*_fat_tables(hand, bits), *_fat_folders(hand))
    return Subject(image.name, areas, hand.data_start, hand.cluster_bytes, hand.clusters, sector_bytes)


def _shortened(image: Path, whole: Path, subject: Subject, clusters: int) -> Subject:
    """The start of a FAT32 image as an image of its own: small, and yet FAT32 to all that is in it."""
    length = subject.heap_byte + clusters * subject.cluster_bytes
    with whole.open("rb") as file:
        image.write_bytes(file.read(length))
    hand = Hand(image)
    for sector in (0, 6):
        hand.put(sector * hand.sector_bytes + 32, "I", length // hand.sector_bytes)
    return replace(subject, name=image.name, clusters=clusters)


def _fat_tables(hand: Hand, bits: int) -> Iterator[Area]:
    kinds: dict[int, Kind] = {12: "fat 12", 16: "fat 16", 32: "fat 32"}
    used_bytes = min(hand.fat_bytes, 2048)  # few of the clusters are taken
    yield Area("fat boot", 0, 512)
    if hand.is_32:
        yield Area("fat info", hand.sector_bytes, 512)
        yield Area("fat boot", 6 * hand.sector_bytes, 512)
    for copy in range(hand.fats):
        yield Area(kinds[bits], hand.fat_start + copy * hand.fat_bytes, used_bytes)
    if not hand.is_32:
        yield Area("fat folder", hand.root_start, hand.data_start - hand.root_start)


def _fat_folders(hand: Hand) -> Iterator[Area]:
    """Clusters in which a folder begins, with those that follow; the others of the first 200 as content."""
    first = [2] if hand.is_32 else []
    data = hand.read(hand.data_start, 200 * hand.cluster_bytes)
    starts = range(0, len(data), hand.cluster_bytes)
    first += [place // hand.cluster_bytes + 2 for place in starts if data.startswith(b".          ", place)]
    for cluster in first:
        following = cluster
        while following < hand.bad:
            yield Area("fat folder", hand.byte_of(following), hand.cluster_bytes)
            following = hand.entry(following)
    yield Area("content", hand.data_start, min(64, hand.clusters) * hand.cluster_bytes)


def _exfat(image: Path, size_bytes: int, sector_bytes: int, cluster_bytes: int) -> Subject:
    if sector_bytes == 512:
        exfat_images.formatted(image, size_bytes, cluster_bytes, "GARDEN")
    else:
        exfat_images.composed(image, size_bytes, sector_bytes, cluster_bytes, "GARDEN")
    tree = _tree().items()
    items = [
        New(
            path.removesuffix("/"),
            None if path.endswith("/") else data,
            chained=number % 3 == 0,
            gap=int(number % 6 == 0),
        )
        for number, (path, data) in enumerate(tree)
    ]
    filled = Filled(image).fill(items)
    boot = filled.boot
    areas = (*_exfat_tables(filled), *_exfat_folders(filled))
    return Subject(image.name, areas, boot.heap_start_byte, cluster_bytes, boot.cluster_count, sector_bytes)


def _exfat_tables(filled: Filled) -> Iterator[Area]:
    boot = filled.boot
    for copy in range(2):
        yield Area("exfat boot", copy * 12 * boot.sector_bytes, 512)
    yield Area("exfat fat", boot.fat_start_byte, 1024)
    bitmap_bytes = -(-boot.cluster_count // 8)
    yield Area("bitmap", boot.heap_start_byte, bitmap_bytes)
    capitals = 2 + -(-bitmap_bytes // boot.cluster_bytes)
    yield Area("capitals", filled.byte_of(capitals), 5836)


def _exfat_folders(filled: Filled) -> Iterator[Area]:
    boot = filled.boot
    size = min(boot.cluster_bytes, 4096)
    yield Area("exfat folder", filled.byte_of(boot.first_cluster_of_root_directory), size)
    folders = {path.rpartition("/")[0] for path in filled.placed} | {"Empty"}
    for path in sorted(folders - {""}):
        for cluster in filled.placed[path].clusters:
            yield Area("exfat folder", filled.byte_of(cluster), size)
    yield Area("content", boot.heap_start_byte, min(64, boot.cluster_count) * boot.cluster_bytes)


def _in_mbr(folder: Path, subject: Subject) -> Subject:
    inner = folder / subject.name
    size_bytes = inner.stat().st_size
    outer = placed(folder / f"{subject.name}-mbr", size_bytes + 2 * PART_BYTE, {PART_BYTE: inner})
    first = PART_BYTE // SECTOR_BYTES
    with outer.open("r+b") as file:
        file.write(Mbr.of(MbrEntry.of(0x0C, first, size_bytes // SECTOR_BYTES)).compose())
    return subject.moved(outer.name, PART_BYTE, Area("mbr", 0, 512))


def _in_logical_part(folder: Path, subject: Subject) -> Subject:
    """The second of two logical parts, so that the list of them has a link to follow."""
    inner = folder / subject.name
    size_bytes, start = inner.stat().st_size, 4 * PART_BYTE
    outer = placed(folder / f"{subject.name}-logical", size_bytes + start + PART_BYTE, {start: inner})
    one, step = PART_BYTE // SECTOR_BYTES, 63
    extended = MbrEntry.of(0x05, one, (outer.stat().st_size - PART_BYTE) // SECTOR_BYTES)
    second = start // SECTOR_BYTES - step
    link = MbrEntry.of(0x05, second - one, size_bytes // SECTOR_BYTES + step)
    tables = {
        0: Mbr.of(extended),
        one: Mbr.of(MbrEntry.of(0x83, step, 100), link),
        second: Mbr.of(MbrEntry.of(0x01, step, size_bytes // SECTOR_BYTES)),
    }
    with outer.open("r+b") as file:
        for sector, table in tables.items():
            file.seek(sector * SECTOR_BYTES)
            file.write(table.compose())
    areas = (Area("mbr", sector * SECTOR_BYTES, 512) for sector in tables)
    return subject.moved(outer.name, start, *areas)


def _in_gpt(folder: Path, subject: Subject) -> Subject:
    inner = folder / subject.name
    size_bytes = inner.stat().st_size
    outer = sized(folder / f"{subject.name}-gpt", size_bytes + 2 * PART_BYTE)
    first = PART_BYTE // SECTOR_BYTES
    part = f"--new=1:{first}:{first + size_bytes // SECTOR_BYTES - 1}"
    run("sgdisk", "--set-alignment=1", part, "--typecode=1:0700", outer)
    with outer.open("r+b") as file:
        file.seek(PART_BYTE)
        file.write(inner.read_bytes())
    last = outer.stat().st_size - SECTOR_BYTES
    return subject.moved(
        outer.name,
        PART_BYTE,
        Area("mbr", 0, 512),
        Area("gpt header", SECTOR_BYTES, SECTOR_BYTES),
        Area("gpt entries", 2 * SECTOR_BYTES, GPT_ENTRIES_BYTES),
        Area("gpt header", last, SECTOR_BYTES),
        Area("gpt entries", last - GPT_ENTRIES_BYTES, GPT_ENTRIES_BYTES),
    )
