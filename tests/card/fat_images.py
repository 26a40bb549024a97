"""Small FAT images for tests: made by mkfs.fat, filled by mtools, damaged by hand, checked by fsck.fat.

It must not use the reader that is tested: places are reckoned here once more, from the specification.
"""

from __future__ import annotations

import os
import struct
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.card.card_programs import found

CLUSTERS = {12: 1_500, 16: 4_400, 32: 65_600}
"""Enough for each kind, and more than 16 away from its borders."""
KINDS = (12, 16, 32)


def program(name: str) -> str:
    """Path of a tool of dosfstools or mtools. On Linux it must be there; elsewhere its tests are skipped."""
    place = found(name)
    if place is None and sys.platform != "linux":
        pytest.skip(f"{name} is not installed")
    assert place, f"These tests need {name}: Debian's packages dosfstools and mtools have it."
    return place


def run(name: str, *arguments: str | Path) -> subprocess.CompletedProcess[bytes]:
    """Run a tool to its end, in plain English and without its own checks of geometry."""
    setting = {**os.environ, "MTOOLS_SKIP_CHECK": "1", "LC_ALL": "C.UTF-8"}
    command = [program(name), *map(str, arguments)]
    return subprocess.run(command, capture_output=True, timeout=60, env=setting, check=False)


def must(name: str, *arguments: str | Path) -> bytes:
    """What a tool prints that has to succeed."""
    done = run(name, *arguments)
    assert done.returncode == 0, (name, arguments, done.stdout, done.stderr)
    return done.stdout


def make(
    image: Path,
    fat: int,
    *options: str,
    sector_bytes: int = 512,
    sectors_per_cluster: int = 1,
    clusters: int | None = None,
    fats: int = 2,
) -> Path:
    """An empty image of that kind of FAT, sparse, with about so many clusters."""
    wanted = clusters or CLUSTERS[fat]
    table_sectors = -(-(wanted + 2) * fat // 8 // sector_bytes)
    sectors = wanted * sectors_per_cluster + fats * table_sectors + 64
    with image.open("wb") as file:
        file.truncate(sectors * sector_bytes)
    shape = ("-S", str(sector_bytes), "-s", str(sectors_per_cluster), "-f", str(fats))
    must("mkfs.fat", "-F", str(fat), *shape, *options, image)
    return image


def fill(image: Path, tree: Mapping[str, bytes], folder: Path) -> None:
    """Copy files into an image, in this order; a path that ends in `/` is an empty folder.

    `folder` is there for what is needed on the way.
    """
    made: set[str] = set()
    for path, content in tree.items():
        *above, name = path.split("/")
        for depth in range(1, len(above) + 1):
            if (parent := "/".join(above[:depth])) not in made:
                must("mmd", "-i", image, f"::/{parent}")
                made.add(parent)
        if name:
            source = folder / "content"
            source.write_bytes(content)
            must("mcopy", "-i", image, source, f"::/{path}")


def copied(image: Path, target: Path) -> Path:
    """A copy of an image to damage, with its holes."""
    must("cp", "--sparse=always", image, target)
    return target


def fsck(image: Path) -> tuple[bool, str]:
    """Whether fsck.fat finds the image clean, and what it says."""
    done = run("fsck.fat", "-n", image)
    return done.returncode == 0, done.stdout.decode(errors="replace") + done.stderr.decode(errors="replace")


def listed_by_mdir(image: Path) -> list[str]:
    """Paths of files and folders (these end in `/`) as mdir lists them, without a leading `/`."""
    lines = must("mdir", "-/", "-b", "-a", "-i", image, "::/").decode().splitlines()
    return [line.removeprefix("::/") for line in lines]


@dataclass(frozen=True)
class Hand:
    """Reads and changes single values of an image, as a person with the specification does in an editor."""

    image: Path

    def get(self, offset: int, layout: str) -> int:
        """One number."""
        with self.image.open("rb") as file:
            file.seek(offset)
            (value,) = struct.unpack(f"<{layout}", file.read(struct.calcsize(f"<{layout}")))
        return int(value)

    def put(self, offset: int, layout: str, *values: int | bytes) -> None:
        """Overwrite some."""
        with self.image.open("r+b") as file:
            file.seek(offset)
            file.write(struct.pack(f"<{layout}", *values))

    def read(self, offset: int, length: int) -> bytes:
        """Some bytes."""
        with self.image.open("rb") as file:
            file.seek(offset)
            return file.read(length)

    @property
    def sector_bytes(self) -> int:
        return self.get(11, "H")

    @property
    def cluster_bytes(self) -> int:
        return self.get(13, "B") * self.sector_bytes

    @property
    def fat_start(self) -> int:
        return self.get(14, "H") * self.sector_bytes

    @property
    def fats(self) -> int:
        return self.get(16, "B")

    @property
    def is_32(self) -> bool:
        return self.get(22, "H") == 0

    @property
    def fat_bytes(self) -> int:
        return (self.get(36, "I") if self.is_32 else self.get(22, "H")) * self.sector_bytes

    @property
    def root_start(self) -> int:
        return self.fat_start + self.fats * self.fat_bytes

    @property
    def data_start(self) -> int:
        return self.root_start + self.get(17, "H") * 32

    @property
    def clusters(self) -> int:
        sectors = self.get(19, "H") or self.get(32, "I")
        return (sectors * self.sector_bytes - self.data_start) // self.cluster_bytes

    @property
    def bits(self) -> int:
        return 32 if self.is_32 else 12 if self.clusters < 4085 else 16

    def byte_of(self, cluster: int) -> int:
        """Where a cluster lies."""
        return self.data_start + (cluster - 2) * self.cluster_bytes

    def entry(self, cluster: int, copy: int = 0) -> int:
        """The entry of a cluster in a copy of the FAT."""
        place = self.fat_start + copy * self.fat_bytes + cluster * self.bits // 8
        if self.bits == 12:
            return self.get(place, "H") >> (4 if cluster % 2 else 0) & 0xFFF
        return self.get(place, "H") if self.bits == 16 else self.get(place, "I")

    def set_entry(self, cluster: int, value: int, copies: tuple[int, ...] = (0, 1)) -> None:
        """Overwrite the entry of a cluster in some copies of the FAT."""
        for copy in copies:
            place = self.fat_start + copy * self.fat_bytes + cluster * self.bits // 8
            if self.bits == 12:
                shift = 4 if cluster % 2 else 0
                kept = self.get(place, "H") & ~(0xFFF << shift) & 0xFFFF
                self.put(place, "H", kept | (value & 0xFFF) << shift)
            else:
                self.put(place, "H" if self.bits == 16 else "I", value)

    @property
    def end(self) -> int:
        """What marks the end of a chain."""
        return {12: 0xFFF, 16: 0xFFFF, 32: 0x0FFFFFFF}[self.bits]

    @property
    def bad(self) -> int:
        """What marks a bad cluster."""
        return self.end - 8

    def slot(self, short: bytes) -> int:
        """Where the slot with this short name (11 bytes) lies: no file holds it in these small images."""
        place = self.read(self.root_start, 1 << 20).find(short)
        assert place >= 0
        return self.root_start + place

    def head(self, short: bytes) -> int:
        """First cluster of the file or folder with this short name."""
        slot = self.slot(short)
        return self.get(slot + 26, "H") | (self.get(slot + 20, "H") << 16 if self.is_32 else 0)

    def set_head(self, short: bytes, cluster: int) -> None:
        """Lead the file or folder with this short name elsewhere."""
        slot = self.slot(short)
        self.put(slot + 26, "H", cluster & 0xFFFF)
        if self.is_32:
            self.put(slot + 20, "H", cluster >> 16)

    def chain(self, short: bytes) -> list[int]:
        """All clusters of the file or folder with this short name, on a sound image."""
        clusters = [self.head(short)]
        while (following := self.entry(clusters[-1])) < self.bad:
            clusters.append(following)
        return clusters

    def free_cluster(self) -> int:
        """One that is free, well behind all that is taken."""
        return next(cluster for cluster in range(self.clusters, 1, -1) if self.entry(cluster) == 0)
