"""Makes exFAT images with known contents, and spoils them byte by byte, for tests.

It must not use the reader: only the layout that both share. Sectors of 512 bytes are formatted by mkfs.exfat
where a test wants an outsider's image; mkfs.exfat 1.2 has no option for other sizes, so those are composed
here.
"""

from __future__ import annotations

import random
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from mediacheck.card.exfat_entries import (
    ALLOCATION_POSSIBLE,
    ARCHIVE,
    DIRECTORY,
    ENTRY_BYTES,
    NO_FAT_CHAIN,
    BitmapEntry,
    FileEntry,
    StreamEntry,
    UpcaseEntry,
    compose_entry_set,
    compose_label,
)
from mediacheck.card.exfat_layout import (
    FAT_END,
    FAT_MEDIA,
    FIRST_CLUSTER,
    BootSector,
    compose_boot_region,
    entry_set_checksum,
    name_hash,
    table_checksum,
)
from mediacheck.card.exfat_times import Stamp
from mediacheck.card.exfat_upcase import compressed, recommended
from tests.card.card_programs import found, run

FSCK_S = 20
FSCK_WORDS_MAX = 1 << 20
MIB = 1 << 20
NOON = datetime(2026, 1, 31, 12, 0, tzinfo=UTC)


def noise(length: int) -> bytes:
    """Bytes that no other file has."""
    return random.Random(length).randbytes(length)


def formatted(path: Path, size_bytes: int, cluster_bytes: int, label: str) -> Path:
    """An empty volume as mkfs.exfat makes it, with sectors of 512 bytes."""
    with path.open("wb") as file:
        file.truncate(size_bytes)
    named = ("-L", label) if label else ()
    run("mkfs.exfat", "-c", str(cluster_bytes), "-b", "64K", *named, path)
    return path


def composed(
    path: Path, size_bytes: int, sector_bytes: int, cluster_bytes: int, label: str = "", fats: int = 1
) -> Path:
    """An empty volume with sectors of any size that exFAT has. dump.exfat wants a label, if an empty one."""
    shift = sector_bytes.bit_length() - 1
    boot = _geometry(size_bytes >> shift, shift, cluster_bytes.bit_length() - 1 - shift, fats)
    capitals = compressed(recommended())
    bitmap_bytes = -(-boot.cluster_count // 8)
    upcase = FIRST_CLUSTER + -(-bitmap_bytes // cluster_bytes)
    root = upcase + -(-len(capitals) // cluster_bytes)
    boot = replace(boot, first_cluster_of_root_directory=root)
    entries = [
        compose_label(label),
        BitmapEntry(FIRST_CLUSTER, bitmap_bytes).compose(),
        UpcaseEntry(table_checksum(capitals), upcase, len(capitals)).compose(),
    ]
    with path.open("wb") as file:
        file.truncate(size_bytes)
        file.write(compose_boot_region(boot) * 2)
    volume = Filled(path)
    volume.write_cluster(upcase, capitals)
    volume.write_cluster(root, b"".join(entries))
    volume.set_fat(0, FAT_MEDIA)
    volume.set_fat(1, FAT_END)
    for first, end in ((FIRST_CLUSTER, upcase), (upcase, root), (root, root + 1)):
        volume.take(range(first, end))
        volume.link([*range(first, end)])
    return path


def _geometry(sectors: int, sector_shift: int, cluster_shift: int, fats: int) -> BootSector:
    """FATs and clusters one behind the other, the first cluster at a multiple of its size."""
    fat_offset = 24
    most = sectors >> cluster_shift
    fat_length = -(-(most + 2) * 4 >> sector_shift)
    step = 1 << cluster_shift
    heap = -(-(fat_offset + fats * fat_length) // step) * step
    count = sectors - heap >> cluster_shift
    return BootSector(
        sectors,
        fat_offset,
        fat_length,
        heap,
        count,
        0,
        0x1234ABCD,
        sector_shift,
        cluster_shift,
        number_of_fats=fats,
        percent_in_use=0,
    )


@dataclass(frozen=True)
class New:
    """A file to be written, or a folder where `content` is None. Folders above it are made as needed."""

    path: str
    content: bytes | None = b""
    chained: bool = False
    """Whether the FAT describes its clusters; if not, it lies in one piece and says so."""
    gap: int = 0
    """Free clusters between each two of a chained file."""
    attributes: int = ARCHIVE
    created: datetime = NOON
    modified: datetime = NOON
    more: bytes = b""
    """Benign secondary entries behind its name."""


@dataclass(frozen=True)
class Placed:
    """Where a file or folder went."""

    entry_byte: int
    """Of the first entry of its set."""
    entries: int
    clusters: tuple[int, ...]
    size_bytes: int


@dataclass
class _Node:
    new: New
    children: dict[str, _Node] = field(default_factory=dict)
    clusters: list[int] = field(default_factory=list)

    @property
    def name(self) -> str:
        return self.new.path.rpartition("/")[2]

    @property
    def is_folder(self) -> bool:
        return self.new.content is None


class Filled:
    """An image that can be filled once, and changed at any place."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.boot = BootSector.parse(self.read(0, 512))
        self.next_free = FIRST_CLUSTER
        self.placed: dict[str, Placed] = {}

    # bytes of the medium

    def read(self, place: int, length: int) -> bytes:
        """Bytes of the image."""
        with self.path.open("rb") as file:
            file.seek(place)
            return file.read(length)

    def write(self, place: int, data: bytes) -> None:
        """Overwrite bytes of the image."""
        with self.path.open("r+b") as file:
            file.seek(place)
            file.write(data)

    def flip(self, place: int, bits: int = 1) -> None:
        """Turn bits of one byte over."""
        self.write(place, bytes((self.read(place, 1)[0] ^ bits,)))

    def byte_of(self, cluster: int) -> int:
        """Where a cluster begins."""
        return self.boot.heap_start_byte + (cluster - FIRST_CLUSTER) * self.boot.cluster_bytes

    def write_cluster(self, cluster: int, data: bytes) -> None:
        """Bytes from the start of a cluster on."""
        self.write(self.byte_of(cluster), data)

    # FAT and bitmap

    def set_fat(self, cluster: int, value: int) -> None:
        """One entry of the FAT."""
        self.write(self.boot.fat_start_byte + 4 * cluster, value.to_bytes(4, "little"))

    def link(self, clusters: Sequence[int]) -> None:
        """A chain."""
        following = [*clusters[1:], FAT_END]
        for start, end in _stretches(clusters):
            entries = b"".join(value.to_bytes(4, "little") for value in following[start:end])
            self.write(self.boot.fat_start_byte + 4 * clusters[start], entries)

    def write_content(self, clusters: Sequence[int], content: bytes) -> None:
        """A file's bytes into its clusters."""
        size = self.boot.cluster_bytes
        for start, end in _stretches(clusters):
            self.write(self.byte_of(clusters[start]), content[start * size : end * size])

    def take(self, clusters: Sequence[int], *, taken: bool = True) -> None:
        """Mark clusters as taken, or as free, in the bitmap, which begins at the first cluster."""
        if not clusters:
            return
        start = self.byte_of(FIRST_CLUSTER)
        bitmap = bytearray(self.read(start, -(-self.boot.cluster_count // 8)))
        for cluster in clusters:
            place, bit = divmod(cluster - FIRST_CLUSTER, 8)
            bitmap[place] = bitmap[place] | 1 << bit if taken else bitmap[place] & ~(1 << bit)
        self.write(start, bytes(bitmap))

    def set_entry(self, path: str, place: int, data: bytes) -> None:
        """Overwrite bytes of a set of entries, and put its checksum right."""
        self.write(self.placed[path].entry_byte + place, data)
        self.seal(path)

    def seal(self, path: str) -> None:
        """Put the checksum of a set right."""
        placed = self.placed[path]
        entries = self.read(placed.entry_byte, placed.entries * ENTRY_BYTES)
        self.write(placed.entry_byte + 2, entry_set_checksum(entries).to_bytes(2, "little"))

    # filling

    def fill(self, items: Sequence[New]) -> Filled:
        """Write files and folders, in this order in their folders. Once only."""
        root = _tree(items)
        first = self.boot.first_cluster_of_root_directory
        start = self._used_in_root(first)
        self.next_free = first + 1
        root.clusters = [first, *self._space(start + _directory_bytes(root), 1, 0)]
        self._place(root)
        self.link(root.clusters)
        self._write_directory(root, start)
        self.take([cluster for node in _nodes(root) for cluster in node.clusters])
        return self

    def _used_in_root(self, first: int) -> int:
        entries = self.read(self.byte_of(first), self.boot.cluster_bytes)
        return entries[::ENTRY_BYTES].index(0) * ENTRY_BYTES

    def _space(self, length: int, less: int, gap: int) -> list[int]:
        """Clusters for so many bytes, with free ones between them."""
        count = max(0, -(-length // self.boot.cluster_bytes) - less)
        clusters = [self.next_free + number * (gap + 1) for number in range(count)]
        self.next_free = clusters[-1] + 1 if clusters else self.next_free
        assert self.next_free <= self.boot.cluster_count + FIRST_CLUSTER, "the image is full"
        return clusters

    def _place(self, node: _Node) -> None:
        for child in node.children.values():
            length = _directory_bytes(child) if child.is_folder else len(child.new.content or b"")
            child.clusters = self._space(length or child.is_folder, 0, child.new.gap)
            if child.new.chained:
                self.link(child.clusters)
            self.write_content(child.clusters, child.new.content or b"")
            self._place(child)

    def _write_directory(self, folder: _Node, start: int = 0) -> None:
        stored = bytearray(self.read(self.byte_of(folder.clusters[0]), start))
        for child in folder.children.values():
            entries = self._entries(child)
            byte = self._directory_byte(folder, len(stored))
            self.placed[child.new.path] = Placed(
                byte, len(entries) // ENTRY_BYTES, tuple(child.clusters), self._size(child)
            )
            stored += entries
            if child.is_folder:
                self._write_directory(child)
        self.write_content(folder.clusters, bytes(stored))

    def _directory_byte(self, folder: _Node, place: int) -> int:
        number, rest = divmod(place, self.boot.cluster_bytes)
        return self.byte_of(folder.clusters[number]) + rest

    def _size(self, node: _Node) -> int:
        if node.is_folder:
            return len(node.clusters) * self.boot.cluster_bytes
        return len(node.new.content or b"")

    def _entries(self, node: _Node) -> bytes:
        new, size = node.new, self._size(node)
        flags = ALLOCATION_POSSIBLE | (NO_FAT_CHAIN if size and not new.chained else 0)
        capitals = recommended().upper(node.name).encode("utf-16-le", "surrogatepass")
        first = node.clusters[0] if node.clusters else 0
        return compose_entry_set(
            FileEntry(
                file_attributes=DIRECTORY if node.is_folder else new.attributes,
                created=Stamp.of(new.created),
                modified=Stamp.of(new.modified),
                accessed=replace(Stamp.of(new.modified), increment_10ms=0),
            ),
            StreamEntry(0, name_hash(capitals), size, first, size, flags),
            node.name,
            new.more,
        )


def _stretches(clusters: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Where neighbours follow each other in a list of clusters, as places in it."""
    start = 0
    for place in range(1, len(clusters) + 1):
        if place == len(clusters) or clusters[place] != clusters[place - 1] + 1:
            yield start, place
            start = place


def _tree(items: Sequence[New]) -> _Node:
    root = _Node(New("", None))
    for item in items:
        *folders, name = item.path.split("/")
        node = root
        for number, folder in enumerate(folders):
            above = New("/".join(folders[: number + 1]), None)
            node = node.children.setdefault(folder, _Node(above))
        node.children[name] = _Node(item)
    return root


def _nodes(node: _Node) -> Iterator[_Node]:
    yield node
    for child in node.children.values():
        yield from _nodes(child)


def _directory_bytes(folder: _Node) -> int:
    names = (len(child.name.encode("utf-16-le", "surrogatepass")) // 2 for child in folder.children.values())
    more = sum(len(child.new.more) for child in folder.children.values())
    return sum((2 + -(-length // 15)) * ENTRY_BYTES for length in names) + more


def fsck(path: Path) -> tuple[bool, str]:
    """Whether fsck.exfat finds an image clean, which it does not change, and its first words.

    It goes round for ever on some damaged images, talking all the time; then it is ended.
    """
    program = found("fsck.exfat")
    if program is None and sys.platform != "linux":
        pytest.skip("fsck.exfat is not installed")
    assert program, "These tests need fsck.exfat: Debian's package exfatprogs has it."
    call = [program, "-n", str(path)]
    with subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.STDOUT) as running:
        assert running.stdout is not None
        ender = threading.Timer(FSCK_S, running.kill)
        ender.start()
        words = running.stdout.read(FSCK_WORDS_MAX)
        if len(words) == FSCK_WORDS_MAX:
            running.kill()
        code = running.wait()
        ender.cancel()
    return code == 0, words.decode("utf-8", "replace")
