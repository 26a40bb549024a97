"""On images of every shape our readers find what mtools, fsck, dump.exfat and The Sleuth Kit find."""

from __future__ import annotations

import hashlib
import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from mediacheck.card.model import Card, Entry, Volume
from mediacheck.card.opening import open_card
from mediacheck.card.within import Within
from tests.card import exfat_images, fat_images
from tests.card.card_programs import run
from tests.card.exfat_images import Filled
from tests.card.fat_images import listed_by_mdir, must
from tests.card.filled import MIB
from tests.card.sweep_images import Exfat, Fat, Table, contents, divided, exfat_image, fat_image
from tests.card.sweep_trees import EMOJI
from tests.card.tsk import LONG_NAME_MAX, Disk, Seen, read_disk

FATS = (
    Fat(12),
    Fat(12, "names", label="GARDEN"),
    Fat(12, "empty", fats=1),
    Fat(12, "deep", sectors_per_cluster=2),
    Fat(12, "many", label="A B"),
    Fat(12, "fragments"),
    Fat(12, "nothing", label="WATER 2"),
    Fat(12, "sixteen", options=("-r", "16")),
    Fat(12, "few", 1024, 4, clusters=700),
    Fat(12, "names", 2048, 2),
    Fat(12, "fragments", 4096, 1),
    Fat(12, "deep", sectors_per_cluster=64, clusters=300),
    Fat(12, "few", sectors_per_cluster=128, clusters=100, table="MBR"),
    Fat(12, "names", clusters=4_068, table="GPT"),
    Fat(12, "few", clusters=350),
    Fat(12, "few", options=("-R", "9"), serial="00000001"),
    Fat(16),
    Fat(16, "names", label="SEEDS"),
    Fat(16, "empty", sectors_per_cluster=8),
    Fat(16, "deep", fats=1, serial="FFFF0000"),
    Fat(16, "many", sectors_per_cluster=4),
    Fat(16, "fragments", label="X"),
    Fat(16, "nothing"),
    Fat(16, "few", 1024, 1, table="MBR"),
    Fat(16, "names", 2048, 1),
    Fat(16, "fragments", 4096, 2, clusters=5_000),
    Fat(16, "many", options=("-r", "2048")),
    Fat(16, "few", clusters=65_400, table="GPT"),
    Fat(16, "deep", sectors_per_cluster=64, table="MBR"),
    Fat(16, "few", fats=1, table="MBR"),
    Fat(16, "few", options=("-M", "0xf0")),
    Fat(32),
    Fat(32, "names", sectors_per_cluster=2, label="SPRING 2026"),
    Fat(32, "empty", fats=1),
    Fat(32, "deep"),
    Fat(32, "many", sectors_per_cluster=2),
    Fat(32, "fragments", table="MBR"),
    Fat(32, "nothing", table="GPT"),
    Fat(32, "few", 1024, 1),
    Fat(32, "names", 2048, 1, label="GARDEN"),
    Fat(32, "fragments", 4096, 1),
    Fat(32, "many", 4096, 8, fats=1),
    Fat(32, "deep", sectors_per_cluster=64, table="GPT"),
    Fat(32, "few", sectors_per_cluster=128, clusters=70_000),
    Fat(32, "few", clusters=300_000, table="MBR"),
    Fat(32, "few", options=("-R", "100", "-b", "9")),
)


EXFATS = (
    Exfat(),
    Exfat("names", label="GARDEN"),
    Exfat("empty"),
    Exfat("deep"),
    Exfat("many", label="SPRING 2026"),
    Exfat("fragments", gap=3),
    Exfat("nothing", label="ÄÖ 種"),
    Exfat("few", cluster_bytes=512),
    Exfat("names", cluster_bytes=1024, chained=True),
    Exfat("many", cluster_bytes=512, gap=1),
    Exfat("fragments", 16 * MIB, 32_768, table="MBR"),
    Exfat("deep", 64 * MIB, 131_072, chained=True),
    Exfat("few", 1024 * MIB, 32 * MIB),
    Exfat("names", 256 * MIB, 1 * MIB, table="GPT"),
    Exfat("few", 2 * MIB, 2048),
    Exfat("few", 4096 * MIB, 4096, table="MBR"),
    Exfat("few", sector_bytes=1024),
    Exfat("names", sector_bytes=2048, label="SEEDS", gap=2),
    Exfat("deep", sector_bytes=4096),
    Exfat("many", cluster_bytes=8192, sector_bytes=4096, chained=True),
    Exfat("fragments", cluster_bytes=1024, sector_bytes=1024, gap=5, table="GPT"),
    Exfat("empty", cluster_bytes=65_536, sector_bytes=2048),
    Exfat("nothing", 32 * MIB, 65_536, 4096, "X"),
    Exfat("few", 512 * MIB, 1 * MIB, 4096, table="MBR"),
)


@pytest.mark.parametrize("shape", FATS, ids=str)
def test_a_fat_image_is_read_as_others_read_it(shape: Fat, tmp_path: Path) -> None:
    image = fat_image(shape, tmp_path)
    clean, said = fat_images.fsck(image)
    assert clean, said
    whole, start_byte = divided(image, shape.table)
    card = open_card(whole)
    found, disk = read_in_place(card), read_disk(whole, start_byte)
    assert card.damage == ()
    assert alike(found, disk.files) == shortened(disk.files)
    assert [spelled(path) for path in card.folders] == [spelled(path) for path in disk.folders]
    assert in_disk_order(listed(image)) == (
        [spelled(one.path) for one in found],
        [*map(spelled, card.folders)],
    )
    assert contents_of(found) == read_by_mcopy(image, tmp_path / "out")
    assert card.volume == volume_by_mtools(shape, image, whole, start_byte, said)
    agrees_on_the_volume(card, disk, shape.sector_bytes, start_byte)


@pytest.mark.parametrize("shape", EXFATS, ids=str)
def test_an_exfat_image_is_read_as_others_read_it(shape: Exfat, tmp_path: Path) -> None:
    image = exfat_image(shape, tmp_path / "exfat.img")
    clean, said = exfat_images.fsck(image)
    assert clean, said
    whole, start_byte = divided(image, shape.table)
    card = open_card(whole)
    found, disk = read_in_place(card), read_disk(whole, start_byte)
    assert card.damage == ()
    assert found == disk.files
    assert card.folders == disk.folders
    assert contents_of(found) == {spelled(path): content_of(data) for path, data in contents(shape).items()}
    assert card.volume == volume_by_dump(shape, image, whole, start_byte)
    agrees_on_the_volume(card, disk, shape.sector_bytes, start_byte)


def read_by_mcopy(image: Path, folder: Path) -> dict[str, tuple[int, str]]:
    """Size and SHA-256 of every file as mcopy brings it out, by the name that mtools gives it."""
    folder.mkdir()
    if listed(image):
        must("mcopy", "-s", "-n", "-i", image, "::/", folder)
    paths = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): content_of(path.read_bytes()) for path in paths}


def listed(image: Path) -> list[str]:
    """As `listed_by_mdir`, also where there is nothing, which mdir takes for an error."""
    done = fat_images.run("mdir", "-b", "-a", "-i", image, "::/")
    return listed_by_mdir(image) if done.stdout else []


def in_disk_order(lines: Sequence[str]) -> tuple[list[str], list[str]]:
    """Files and folders as mdir lists them, each folder for itself, put into the order of `Contents`."""
    inside: dict[str, list[str]] = defaultdict(list)
    for line in lines:
        inside[line.removesuffix("/").rpartition("/")[0]].append(line)
    found: tuple[list[str], list[str]] = ([], [])

    def take(folder: str) -> None:
        found[0].extend(line for line in inside[folder] if not line.endswith("/"))
        for line in inside[folder]:
            if line.endswith("/"):
                found[1].append(line[:-1])
                take(line[:-1])

    take("")
    return found


def volume_by_mtools(shape: Fat, image: Path, whole: Path, start_byte: int, fsck_said: str) -> Volume:
    """The volume as minfo, mlabel and fsck.fat tell of it."""
    told = must("minfo", "-i", image, "::").decode(errors="replace")
    sector_bytes, in_cluster = number_in(told, r"sector size: (\d+)"), number_in(told, r"cluster size: (\d+)")
    assert (sector_bytes, in_cluster) == (shape.sector_bytes, shape.sectors_per_cluster)
    assert number_in(told, r"fats: (\d+)") == shape.fats
    sectors = number_in(told, r"small size: (\d+)") or number_in(told, r"big size: (\d+)")
    used, clusters = map(int, re.findall(r"(\d+)/(\d+) clusters", fsck_said)[0])
    cluster_bytes = sector_bytes * in_cluster
    serial = re.findall(r"serial number: (\w{8})", told)[0]
    label = must("mlabel", "-s", "-i", image, "::").decode().partition(" Volume label is ")[2].strip()
    return Volume(
        {12: "FAT12", 16: "FAT16", 32: "FAT32"}[shape.bits],  # type: ignore[arg-type]  # it is one of them
        shape.table,
        label or None,
        f"{serial[:4]}-{serial[4:]}",
        sectors * sector_bytes,
        cluster_bytes,
        used * cluster_bytes,
        (clusters - used) * cluster_bytes,
        whole.stat().st_size,
        start_byte + sectors * sector_bytes,
        part_end_byte(image, shape.table, start_byte),
        dirty=False,
    )


def volume_by_dump(shape: Exfat, image: Path, whole: Path, start_byte: int) -> Volume:
    """The volume as dump.exfat tells of it, and what is taken by the bitmap itself: dump.exfat 1.2 counts
    that only for sectors of 512 bytes."""
    told = run("dump.exfat", image)
    serial = re.findall(r"Volume Serial:\s+0x([0-9a-f]+)", told)[0].upper().rjust(8, "0")
    cluster_bytes = number_in(told, r"Cluster size:\s+(\d+)")
    clusters, taken = number_in(told, r"Total Clusters:\s+(\d+)"), bits_of_bitmap(image)
    assert cluster_bytes == shape.cluster_bytes
    if shape.sector_bytes == 512:
        assert clusters - taken == number_in(told, r"Free Clusters:\s+(\d+)")
    return Volume(
        "exFAT",
        shape.table,
        shape.label or None,
        f"{serial[:4]}-{serial[4:]}",
        clusters * cluster_bytes,
        cluster_bytes,
        taken * cluster_bytes,
        (clusters - taken) * cluster_bytes,
        whole.stat().st_size,
        start_byte + number_in(told, r"Volume Length\(sectors\):\s+(\d+)") * shape.sector_bytes,
        part_end_byte(image, shape.table, start_byte),
        dirty=False,
    )


def part_end_byte(image: Path, table: Table, start_byte: int) -> int | None:
    """Where the part ends that `divided` made for an image."""
    return start_byte + image.stat().st_size if table != "none" else None


def bits_of_bitmap(image: Path) -> int:
    """How many bits are set in the allocation bitmap, which begins at the first cluster in these images."""
    filled = Filled(image)
    bitmap = filled.read(filled.byte_of(2), -(-filled.boot.cluster_count // 8))
    return int.from_bytes(bitmap, "little").bit_count()


def spelled(path: str) -> str:
    """A path as mtools shows it: it has a sign for each half of a letter beyond 16 bits."""
    return path.replace(EMOJI, "__")


def read_in_place(card: Card) -> tuple[Seen, ...]:
    """Our entries, in our order, as The Sleuth Kit would tell of them."""
    assert [entry.position for entry in card.entries] == [*range(len(card.entries))]
    assert (card.order_known, [entry.unusable for entry in card.entries if entry.unusable]) == (True, [])
    return tuple(map(_seen, card.entries))


def _seen(entry: Entry) -> Seen:
    assert isinstance(entry.location, Within)
    with entry.open() as file:
        length, sha256 = content_of(file.read())
    assert length == entry.size_bytes
    modified, created = (
        time and time.replace(tzinfo=None, microsecond=0) for time in (entry.modified, entry.created)
    )
    runs = tuple((run.start_byte, run.length_bytes) for run in entry.location.runs)
    return Seen(entry.path, length, sha256, runs, modified, created, entry.short_name or "")


def alike(own: Sequence[Seen], others: Sequence[Seen]) -> tuple[Seen, ...]:
    """Ours, with as much of the names as The Sleuth Kit tells: it leaves out short names without a long one,
    and has `^` for letters in them beyond ASCII."""
    told = {one.path: one.short_name for one in shortened(others)}
    return tuple(
        one
        if "^" not in told.get(one.path, "^") and told[one.path]
        else replace(one, short_name=told.get(one.path, ""))
        for one in shortened(own)
    )


def shortened(files: Sequence[Seen]) -> tuple[Seen, ...]:
    """With names that are as long as The Sleuth Kit can keep them for FAT."""
    split = [(one, *one.path.rpartition("/")) for one in files]
    return tuple(replace(one, path=above + slash + name[:LONG_NAME_MAX]) for one, above, slash, name in split)


def agrees_on_the_volume(card: Card, disk: Disk, sector_bytes: int, start_byte: int) -> None:
    """Whether The Sleuth Kit sees the same volume."""
    assert card.volume is not None
    assert (disk.label, disk.serial) == (card.volume.label, card.volume.serial)
    assert disk.sector_bytes == sector_bytes
    assert start_byte + disk.size_bytes == card.volume.claimed_bytes


def content_of(data: bytes) -> tuple[int, str]:
    """Size and SHA-256."""
    return len(data), hashlib.sha256(data).hexdigest()


def contents_of(files: Sequence[Seen]) -> dict[str, tuple[int, str]]:
    """Size and SHA-256 of every file by its name."""
    return {spelled(one.path): (one.size_bytes, one.sha256) for one in files}


def number_in(text: str, pattern: str) -> int:
    """The number that stands there; 0 where it does not."""
    return int(next(iter(re.findall(pattern, text)), 0))
