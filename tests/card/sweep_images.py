"""Sound images of every shape: made by mkfs.fat and mkfs.exfat, filled, and put behind tables by sgdisk.

It must not read any of them.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from tests.card.card_programs import run
from tests.card.exfat_images import Filled, New, composed, formatted
from tests.card.fat_images import Hand, make, must
from tests.card.filled import MIB, sized
from tests.card.sweep_trees import EMOJI, LARGE, STANDS_FOR_EMOJI, TREES, fragments

Table = Literal["none", "MBR", "GPT"]
PART_START_BYTE = 1 * MIB
WRITTEN = datetime(2026, 3, 1, 9, 30, 14, tzinfo=UTC).timestamp()


@dataclass(frozen=True)
class Fat:
    """A FAT image: the options of mkfs.fat, what is copied to it, and the table around it."""

    bits: int
    tree: str = "few"
    sector_bytes: int = 512
    sectors_per_cluster: int = 1
    fats: int = 2
    label: str = ""
    serial: str = "1234ABCD"
    clusters: int | None = None
    options: tuple[str, ...] = ()
    table: Table = "none"

    def __str__(self) -> str:
        shape = f"{self.sector_bytes}x{self.sectors_per_cluster}x{self.fats}"
        more = "".join(self.options).replace("-", "")
        return "-".join(filter(None, (f"FAT{self.bits}", self.tree, shape, self.label, more, self.table)))


@dataclass(frozen=True)
class Exfat:
    """An exFAT image, formatted by mkfs.exfat where the sector has 512 bytes, and the table around it."""

    tree: str = "few"
    size_bytes: int = 8 * MIB
    cluster_bytes: int = 4096
    sector_bytes: int = 512
    label: str = ""
    chained: bool = False
    gap: int = 0
    table: Table = "none"

    def __str__(self) -> str:
        shape = f"{self.size_bytes // MIB}MiB-{self.sector_bytes}x{self.cluster_bytes // self.sector_bytes}"
        way = f"gap{self.gap}" if self.gap else "chained" if self.chained else ""
        return "-".join(filter(None, ("exFAT", self.tree, shape, self.label, way, self.table)))


def fat_image(shape: Fat, folder: Path) -> Path:
    """Made by mkfs.fat and filled by mtools."""
    image = folder / "fat.img"
    named = ("-n", shape.label) if shape.label else ()
    size = {"sector_bytes": shape.sector_bytes, "sectors_per_cluster": shape.sectors_per_cluster}
    make(
        image,
        shape.bits,
        *named,
        *("-i", shape.serial, *shape.options),
        **size,
        clusters=shape.clusters,
        fats=shape.fats,
    )
    copy_in(image, TREES[shape.tree](), folder / "in")
    if shape.tree == "fragments":
        must("mdel", "-i", image, *(f"::/{name}" for name in list(fragments())[::2]))
        search_from_the_start(image)
        copy_in(image, LARGE, folder / "large")
    if shape.tree == "names":
        put_emoji(image)
    return image


def copy_in(image: Path, tree: Mapping[str, bytes], folder: Path) -> None:
    """Files into an image in this order, as many at once as lie in one folder."""
    made: set[str] = set()
    for number, (parent, members) in enumerate(batches(tree)):
        above = parent.split("/") if parent else []
        for depth in range(1, len(above) + 1):
            if (path := "/".join(above[:depth])) not in made:
                must("mmd", "-i", image, f"::/{path}")
                made.add(path)
        sources = [source(folder / str(number), name, content) for name, content in members.items() if name]
        if sources:
            must("mcopy", "-m", "-i", image, *sources, f"::/{parent}")


def batches(tree: Mapping[str, bytes]) -> Iterator[tuple[str, dict[str, bytes]]]:
    """Neighbours in the same folder."""
    parent, members = "", dict[str, bytes]()
    for path, content in tree.items():
        above, _, name = path.rpartition("/")
        if above != parent:
            yield parent, members
            parent, members = above, {}
        members[name] = content
    yield parent, members


def source(folder: Path, name: str, content: bytes) -> Path:
    """A file to copy, with a time of its own."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    path.write_bytes(content)
    os.utime(path, (WRITTEN, WRITTEN + 2 * len(content)))
    return path


def search_from_the_start(image: Path) -> None:
    """FAT32 keeps where the next free cluster may be (FSInfo, at 492): unknown, so that holes are used."""
    hand = Hand(image)
    if hand.is_32:
        hand.put(hand.sector_bytes + 492, "I", 0xFFFFFFFF)


def put_emoji(image: Path) -> None:
    """The letter that mtools cannot write in the place of those that stand for it."""
    data = image.read_bytes()
    halves, stands_for = EMOJI.encode("utf-16-le"), STANDS_FOR_EMOJI.encode("utf-16-le")
    place = data.find(stands_for)
    with image.open("r+b") as file:
        while place >= 0:
            file.seek(place)
            file.write(halves)
            place = data.find(stands_for, place + 1)


def exfat_image(shape: Exfat, path: Path) -> Path:
    """Formatted, and filled by the tests' own writer."""
    if shape.sector_bytes == 512:
        formatted(path, shape.size_bytes, shape.cluster_bytes, shape.label)
    else:
        composed(path, shape.size_bytes, shape.sector_bytes, shape.cluster_bytes, shape.label)
    items = [
        New(name.removesuffix("/"), None if name.endswith("/") else data, gap=shape.gap)
        for name, data in TREES[shape.tree]().items()
    ]
    way = shape.chained or shape.gap > 0
    renamed = (replace(item, path=item.path.replace(STANDS_FOR_EMOJI, EMOJI), chained=way) for item in items)
    Filled(path).fill([*renamed])
    return path


def contents(shape: Exfat) -> dict[str, bytes]:
    """All files of a tree, with the letters that FAT images get later on."""
    tree = TREES[shape.tree]()
    return {
        path.replace(STANDS_FOR_EMOJI, EMOJI): data for path, data in tree.items() if not path.endswith("/")
    }


def divided(image: Path, table: Table) -> tuple[Path, int]:
    """The image itself, or a larger one with a table made by sgdisk and the image as its only part."""
    if table == "none":
        return image, 0
    size_bytes = image.stat().st_size
    path = sized(image.with_name("disk.img"), size_bytes + 2 * PART_START_BYTE)
    first = PART_START_BYTE // 512
    run("sgdisk", f"--new=1:{first}:{first + size_bytes // 512 - 1}", "--typecode=1:0700", path)
    if table == "MBR":
        run("sgdisk", "--gpttombr=1", path)
    with image.open("rb") as source, path.open("r+b") as target:
        for start, end in written(source.fileno(), size_bytes):
            source.seek(start)
            target.seek(PART_START_BYTE + start)
            target.write(source.read(end - start))
    return path, PART_START_BYTE


def written(file: int, size_bytes: int) -> Iterator[tuple[int, int]]:
    """The stretches of a file that take up room; the rest of a large image is holes."""
    end = 0
    while end < size_bytes:
        try:
            start = os.lseek(file, end, os.SEEK_DATA)
        except OSError:  # there are no more
            return
        end = os.lseek(file, start, os.SEEK_HOLE)
        yield start, end
