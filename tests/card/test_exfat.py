"""An exFAT volume is read as outsiders read it: pytsk3, fsck.exfat and dump.exfat."""

from __future__ import annotations

import hashlib
import importlib
import random
import re
import tracemalloc
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from mediacheck.card.contents import Contents
from mediacheck.card.damages import LISTED_MAX
from mediacheck.card.exfat import read_exfat
from mediacheck.card.exfat_entries import ARCHIVE, HIDDEN, READ_ONLY, SYSTEM, BitmapEntry
from mediacheck.card.exfat_layout import compose_boot_region
from mediacheck.card.medium import Window, open_medium
from mediacheck.card.within import Run, Within
from mediacheck.errors import CardError
from tests.card.card_programs import run
from tests.card.exfat_images import MIB, Filled, New, composed, formatted, fsck, noise
from tests.card.media import Bytes

FRAGMENTED = "Faces/Left/loop 2 with a name that needs more than one entry.mp4"


def items(cluster_bytes: int) -> list[New]:
    """Files that lie in every way that there is, in no order of names.

    fsck.exfat 1.2 goes round for ever in a set of entries that is longer than a cluster.
    """
    return [
        New("LOOP1.MP4", noise(3 * cluster_bytes)),
        New("Faces/Right/loop1.mp4", noise(cluster_bytes + 1)),
        New(FRAGMENTED, noise(4 * cluster_bytes - 7), chained=True, gap=1),
        New("A.TXT"),
        New("Faces/Grüße 日本 𝄞.jpg", noise(cluster_bytes), chained=True),
        New("Faces/hidden.bin", b"h", attributes=HIDDEN | SYSTEM | READ_ONLY | ARCHIVE),
        New("Seeds", None),
        New("n" * (255 if cluster_bytes > 512 else 180), b"long"),
    ]


@dataclass(frozen=True)
class Shape:
    """A volume to be made."""

    size_bytes: int
    cluster_bytes: int
    label: str
    sector_bytes: int | None = None
    """None: made by mkfs.exfat, with 512."""

    def make(self, path: Path) -> Path:
        if self.sector_bytes is None:
            return formatted(path, self.size_bytes, self.cluster_bytes, self.label)
        return composed(path, self.size_bytes, self.sector_bytes, self.cluster_bytes, self.label)


SHAPES = [
    Shape(2 * MIB, 512, "GARDEN"),
    Shape(3 * MIB, 1024, ""),
    Shape(5 * MIB, 4096, "Gießkanne"),
    Shape(64 * MIB, 32768, "種まき"),
    Shape(300 * MIB, 131072, "ELEVEN CHAR"),
    Shape(700 * MIB, 4 * MIB, "BIG"),
    Shape(1 * MIB, 512, "SMALL", 512),
    Shape(4 * MIB, 2048, "A", 1024),
    Shape(8 * MIB, 16384, "", 2048),
    Shape(4 * MIB, 4096, "4K", 4096),
    Shape(40 * MIB, 65536, "64K", 4096),
]


def shape_name(shape: Shape) -> str:
    return f"{shape.size_bytes // MIB}M-{shape.cluster_bytes}-{shape.sector_bytes or 'mkfs'}"


def read(path: Path) -> Contents:
    medium = open_medium(str(path))
    try:
        return read_exfat(medium)
    finally:
        medium.close()


def listed(contents: Contents) -> dict[str, tuple[int, str]]:
    """Size and SHA-256 of each file, in on-disk order."""
    found = {}
    for entry in contents.entries:
        with entry.open() as file:
            found[entry.path] = (entry.size_bytes, hashlib.sha256(file.read()).hexdigest())
    return found


@dataclass(frozen=True)
class Outsider:
    """What pytsk3 (The Sleuth Kit) finds in an image."""

    files: dict[str, tuple[int, str]]
    folders: list[str]
    label: str | None
    serial: str
    sector_bytes: int


def sleuth(path: Path) -> Outsider:
    tsk: Any = importlib.import_module("pytsk3")
    system = tsk.FS_Info(tsk.Img_Info(str(path)))
    files: dict[str, tuple[int, str]] = {}
    folders: list[str] = []
    labels: list[str] = []

    def walk(directory: Any, above: str) -> None:
        within = []
        for item in directory:
            name = item.info.name.name.decode()
            if name.endswith(" (Volume Label Entry)"):
                labels.append(name.removesuffix(" (Volume Label Entry)"))
            elif name.startswith("$"):
                continue
            elif item.info.meta.type == tsk.TSK_FS_META_TYPE_DIR:
                within.append((item, f"{above}{name}"))
            else:
                size = item.info.meta.size
                data = item.read_random(0, size) if size else b""
                files[f"{above}{name}"] = (size, hashlib.sha256(data).hexdigest())
        for item, folder in within:
            folders.append(folder)
            walk(item.as_directory(), f"{folder}/")

    walk(system.open_dir("/"), "")
    serial = bytes(number & 0xFF for number in system.info.fs_id[:4])[::-1].hex().upper()
    return Outsider(
        files, folders, labels[0] if labels else None, f"{serial[:4]}-{serial[4:]}", system.info.block_size
    )


@pytest.fixture(params=SHAPES, ids=shape_name, scope="module")
def volume(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Shape, Filled]]:
    """A filled volume of each shape."""
    shape: Shape = request.param
    path = tmp_path_factory.mktemp("exfat") / "card.img"
    yield shape, Filled(shape.make(path)).fill(items(shape.cluster_bytes))
    path.unlink()


def test_it_is_what_outsiders_find(volume: tuple[Shape, Filled]) -> None:
    shape, image = volume
    contents, outsider = read(image.path), sleuth(image.path)
    assert listed(contents) == outsider.files
    assert [entry.path for entry in contents.entries] == [*outsider.files]
    assert list(contents.folders) == outsider.folders
    found = contents.volume
    assert (found.label, found.serial) == (outsider.label, outsider.serial)
    assert (found.label or "", found.cluster_bytes) == (shape.label, shape.cluster_bytes)
    assert outsider.sector_bytes == (shape.sector_bytes or 512)


def test_it_is_what_was_written_and_clean(volume: tuple[Shape, Filled]) -> None:
    shape, image = volume
    contents = read(image.path)
    written = {
        item.path: (len(item.content), hashlib.sha256(item.content).hexdigest())
        for item in items(shape.cluster_bytes)
        if item.content is not None
    }
    assert listed(contents) == written
    assert contents.damage == ()
    assert all(entry.unusable is None and entry.valid_name for entry in contents.entries)
    clean, words = fsck(image.path)
    assert clean, words
    assert f"directories {len(contents.folders) + 1}, files {len(contents.entries)}" in words


def test_it_has_the_space_that_dump_exfat_tells(volume: tuple[Shape, Filled]) -> None:
    shape, image = volume
    found = read(image.path).volume
    told = dict(
        re.findall(r"^([A-Z][\w ]+?)(?:\(.*\))?:\s+(\w+)$", run("dump.exfat", image.path), re.MULTILINE)
    )
    clusters, free = int(told["Total Clusters"]), int(told["Free Clusters"])
    assert (found.capacity_bytes, found.free_bytes) == (
        clusters * shape.cluster_bytes,
        free * shape.cluster_bytes,
    )
    assert found.used_bytes == (clusters - free) * shape.cluster_bytes
    assert (
        found.serial == f"{int(told['Volume Serial'], 16):08X}"[:4] + "-" + told["Volume Serial"][-4:].upper()
    )
    sectors = int(told["Volume Length"]) << int(told["Sector Size Bits"])
    assert found.claimed_bytes == sectors
    assert (found.file_system, found.dirty) == ("exFAT", False)
    assert (found.medium_bytes, found.partition_table) == (None, None)


def test_files_lie_where_within_says_on_the_whole_medium(tmp_path: Path) -> None:
    """Also in a partition, whose start is added."""
    image = Filled(composed(tmp_path / "part.img", MIB, 512, 1024)).fill(items(1024))
    whole = tmp_path / "card.img"
    whole.write_bytes(bytes(3 * 512) + image.path.read_bytes() + b"behind")
    medium = open_medium(str(whole))
    contents = read_exfat(Window(medium, 3 * 512, MIB))
    medium.close()
    placed = image.placed["LOOP1.MP4"]
    run = Run(3 * 512 + image.byte_of(placed.clusters[0]), 3 * 1024)
    assert contents.entries[0].location == Within(str(whole), (run,), 3 * 1024)
    assert contents.volume.claimed_bytes == 3 * 512 + MIB
    assert listed(contents) == listed(read(image.path))
    (fragmented,) = (entry for entry in contents.entries if entry.path == FRAGMENTED)
    assert isinstance(fragmented.location, Within)
    clusters = image.placed[FRAGMENTED].clusters
    assert fragmented.location.runs == tuple(Run(3 * 512 + image.byte_of(each), 1024) for each in clusters)


def test_an_empty_volume(tmp_path: Path) -> None:
    contents = read(formatted(tmp_path / "card.img", 2 * MIB, 4096, ""))
    assert (contents.entries, contents.folders, contents.damage) == ((), (), ())
    assert contents.volume.label is None


def test_the_backup_of_the_boot_sector_is_read_where_the_first_is_gone(tmp_path: Path) -> None:
    for sector_bytes in (512, 4096):
        image = Filled(composed(tmp_path / "card.img", 2 * MIB, sector_bytes, 4096, "B")).fill(items(4096))
        before = read(image.path)
        image.write(0, bytes(12 * sector_bytes))
        after = read(image.path)
        assert after.entries == before.entries
        assert after.volume == replace(before.volume, dirty=None)
        (damage,) = after.damage
        assert damage.what.startswith("the boot sector is damaged")


def test_a_volume_with_two_fats_is_read_by_the_one_in_use(tmp_path: Path) -> None:
    """3.1.13.1 and 7.1: TexFAT, of which no other tool makes images. The first FAT and bitmap are stale."""
    image = Filled(composed(tmp_path / "card.img", MIB, 512, 512, fats=2))
    image.fill([New("a.mp4", noise(3000), chained=True, gap=1)])
    boot, bitmap_bytes = image.boot, -(-image.boot.cluster_count // 8)
    second = image.next_free
    image.take([second])
    image.link([second])
    image.write_cluster(second, image.read(image.byte_of(2), bitmap_bytes))
    image.write_cluster(2, bytes(bitmap_bytes))
    root = image.byte_of(boot.first_cluster_of_root_directory)
    end = image.read(root, 512)[::32].index(0) * 32
    image.write(root + end, BitmapEntry(second, bitmap_bytes, 1).compose())
    fat_bytes = boot.fat_length * boot.sector_bytes
    fat = image.read(boot.fat_start_byte, fat_bytes)
    image.write(boot.fat_start_byte, bytes(fat_bytes) + fat)
    image.write(0, replace(boot, volume_flags=1).compose())
    contents = read(image.path)
    assert listed(contents) == {"a.mp4": (3000, hashlib.sha256(noise(3000)).hexdigest())}
    assert contents.damage == ()


@pytest.mark.parametrize("root", [2, 5, 2**32 - 10])
def test_a_medium_that_is_much_smaller_than_it_claims(tmp_path: Path, root: int) -> None:
    """A boot sector that claims 2^32 clusters of 32 MiB, in one MiB: read at once, in little memory."""
    image = Filled(composed(tmp_path / "card.img", MIB, 512, 512)).fill(items(512))
    huge = replace(
        image.boot,
        cluster_count=2**32 - 11,
        volume_length=2**63,
        sectors_per_cluster_shift=16,
        first_cluster_of_root_directory=root,
    )
    data = bytearray(image.path.read_bytes())
    data[: 24 * 512] = (compose_boot_region(huge) * 2)[: 24 * 512]
    tracemalloc.start()
    contents = read_exfat(Bytes(bytes(data)))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert contents.entries == ()
    assert contents.volume.capacity_bytes == (2**32 - 11) << 25
    assert "length of the FAT" in contents.damage[0].what
    assert peak < 20 * MIB


def spoilt(data: bytes, image: Filled, chance: random.Random) -> bytes:
    """The same volume with some bytes changed where it keeps its order: boot, FAT, bitmap, folders."""
    spoils = bytearray(data)
    boot = image.boot
    places = [
        *((0, 24 * boot.sector_bytes), (boot.fat_start_byte, 4 * image.next_free)),
        *((placed.entry_byte, placed.entries * 32) for placed in image.placed.values()),
    ]
    for _ in range(chance.choice((1, 2, 5, 50))):
        start, length = chance.choice(places)
        place = start + chance.randrange(length)
        if chance.random() < 0.5:
            spoils[place] = chance.choice((0, 1, 0x80, 0x85, 0xC0, 0xFF, chance.randrange(256)))
        else:
            value = chance.choice((0, 2**32 - 1, 2**32 - 9, chance.randrange(image.next_free)))
            spoils[place & ~3 : (place & ~3) + 4] = value.to_bytes(4, "little")
    return bytes(spoils[: chance.randrange(len(spoils)) if chance.random() < 0.1 else len(spoils)])


def test_any_spoilt_volume_is_read_or_refused(tmp_path: Path) -> None:
    chance = random.Random(8)
    image = Filled(composed(tmp_path / "card.img", MIB, 512, 512)).fill(items(512))
    data = image.path.read_bytes()
    for _ in range(150):
        medium = Bytes(spoilt(data, image, chance))
        try:
            contents = read_exfat(medium)
        except CardError:
            continue
        assert len(contents.damage) <= LISTED_MAX + 1
        for entry in contents.entries:
            assert isinstance(entry.location, Within)
            assert all(
                0 < run.length_bytes <= medium.size_bytes - run.start_byte for run in entry.location.runs
            )
