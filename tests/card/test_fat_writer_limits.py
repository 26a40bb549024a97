"""How much a new FAT volume holds, to the last cluster, and how large it must be for what it is to hold."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from mediacheck.card.fat_layout import BootSector, FsInfo
from mediacheck.card.fat_writer import lay_out, least_size_bytes, usual_cluster_bytes
from mediacheck.card.new_volume import DoesNotFit, NewFile, NewFolder, NewVolume
from mediacheck.card.opening import open_card
from mediacheck.names import FileSystem
from tests.card.fat_new_images import (
    GIB,
    SERIAL,
    TABLE_START_BYTE,
    Shape,
    boot_sectors,
    expected_entries,
    found_entries,
    fsck_counts,
    full,
    make,
)
from tests.card.filled import MIB
from tests.card.new_images import END_BYTES, MORNING, content, tree
from tests.card.test_image_sweep import in_disk_order, listed


def test_a_full_card_says_that_no_cluster_is_free(tmp_path: Path) -> None:
    empty = NewVolume("FAT32", 0, 34 * MIB, 512, SERIAL, tree({"LOOP.MP4": 1}))
    room = lay_out(empty).free_bytes + 512
    made = make(tmp_path, replace(empty, root=tree({"LOOP.MP4": room})))
    assert (made.laid_out.free_bytes, open_card(made.card).damage) == (0, ())
    assert FsInfo.parse(boot_sectors(made.part)[1]) == FsInfo(free_clusters=0, next_free=0xFFFFFFFF)
    used, clusters = fsck_counts(made.part)
    assert used == clusters
    with pytest.raises(DoesNotFit) as caught:
        lay_out(replace(empty, root=tree({"LOOP.MP4": room + 1})))
    assert str(caught.value) == (
        f"the files and folders take {room + 1024:,} bytes, and a volume of 35,651,584 bytes has room for "
        f"{room + 512:,}"
    )


@pytest.mark.parametrize("size", [4 * GIB - 32_768, 4 * GIB - 1])
def test_the_longest_file(size: int, tmp_path: Path) -> None:
    root = tree({"first.mp4": 7, "LONG.MP4": size, "last.mp4": 3})
    made = make(tmp_path, NewVolume("FAT32", TABLE_START_BYTE, 8 * GIB, 32_768, SERIAL, root, "LONG"))
    card = open_card(made.card)
    assert (card.damage, found_entries(card)) == ((), expected_entries(made.volume, made.laid_out))
    first, last = content("LONG.MP4", size)
    with card.entries[1].open() as file:
        assert file.read(END_BYTES + 3) == first[1] + bytes(3)
        file.seek(last[0] - 3)
        assert file.read() == bytes(3) + last[1]
    assert in_disk_order(listed(made.for_mtools)) == (["first.mp4", "LONG.MP4", "last.mp4"], [])
    if size <= 4 * GIB - 32_768:  # fsck.fat 4.2 counts 4 GiB in 32 bits, as 0: dosfstools, issue 208
        assert fsck_counts(made.part)[0] == 1 + 1 + 131_071 + 1


def test_5_000_names_that_begin_alike(tmp_path: Path) -> None:
    paths = {f"Loop/Watering can for the garden {number}.mp4": number % 2 for number in range(5_000)}
    made = make(tmp_path, NewVolume("FAT32", 0, 64 * MIB, 512, SERIAL, tree(paths)))
    card = open_card(made.card)
    assert (card.damage, found_entries(card)) == ((), expected_entries(made.volume, made.laid_out))
    short = [entry.short_name for entry in card.entries]
    assert short == [f"{'WATERIN'[: 7 - len(str(n))]}~{n}.MP4" for n in range(1, 5_001)]
    fsck_counts(made.part)
    assert in_disk_order(listed(made.card)) == ([*paths], ["Loop"])


def test_a_huge_volume_fills_no_memory() -> None:
    """2 TB full of files: its tables alone have 256 MiB each."""
    files = tuple(NewFile(f"L{number}.MP4", 4 * GIB - 1, MORNING) for number in range(511))
    root = NewFolder("", MORNING, files)
    laid_out = lay_out(NewVolume("FAT32", 0, 2048 * GIB - 512, 32_768, SERIAL, root))
    tracemalloc.start()
    try:
        sizes = [len(piece) for _, piece in laid_out.head()]
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert sum(sizes) > 2 * 255 * MIB
    assert max(sizes) <= 1 * MIB
    assert peak < 16 * MIB


@pytest.mark.parametrize(
    ("file_system", "cluster_bytes", "start_byte"),
    [
        ("FAT16", 512, 0),
        ("FAT16", 4096, TABLE_START_BYTE),
        ("FAT16", 32_768, 0),
        ("FAT32", 512, TABLE_START_BYTE),
        ("FAT32", 4096, 0),
        ("FAT32", 32_768, 63 * 512),
    ],
)
@pytest.mark.parametrize("free_percent", [0.0, 7.5, 50.0])
@pytest.mark.parametrize("label", [None, "GARDEN"])
def test_the_least_volume_fits_and_4_096_bytes_less_do_not(
    file_system: FileSystem, cluster_bytes: int, start_byte: int, free_percent: float, label: str | None
) -> None:
    root = tree({**full(cluster_bytes), "LONG.MP4": 3_000 * cluster_bytes})
    size = least_size_bytes(file_system, root, cluster_bytes, start_byte, free_percent)
    assert size % 4096 == 0
    volume = NewVolume(file_system, start_byte, size, cluster_bytes, SERIAL, root, label)
    assert kept_free(volume, free_percent)
    smaller = replace(volume, size_bytes=size - 4096)
    unusual = usual_cluster_bytes(file_system, smaller.size_bytes) is None
    assert unusual or not kept_free(smaller, free_percent)


def kept_free(volume: NewVolume, free_percent: float) -> bool:
    """Whether it can be laid out, and that part of it is free (all these numbers are exact)."""
    try:
        laid_out = lay_out(volume)
    except DoesNotFit:
        return False
    return laid_out.free_bytes * 100 >= laid_out.capacity_bytes * free_percent


def test_the_least_volume_is_as_large_as_its_files() -> None:
    """Clusters of the files, of one folder and of the root, two tables, and 32 sectors."""
    root = tree({"Seeds/LOOP.MP4": 400 * MIB})
    clusters = 400 * MIB // 4096 + 2
    sectors = 32 + 2 * -(-(clusters + 2) * 4 // 512) + clusters * 8
    assert least_size_bytes("FAT32", root, 4096, 0, 0) == -(-sectors // 8) * 4096


@pytest.mark.parametrize(("file_system", "sectors"), [("FAT16", 8_408), ("FAT32", 66_608)])
def test_no_volume_is_smaller_than_formatting_programs_make(file_system: FileSystem, sectors: int) -> None:
    """Specification, DskTableFAT16 and DskTableFAT32: from 8,401 and 66,601 sectors on."""
    assert least_size_bytes(file_system, tree({"LOOP.MP4": 1}), 512, 0, 0) == sectors * 512


def test_what_fat_cannot_hold_is_told_with_the_numbers() -> None:
    with pytest.raises(DoesNotFit, match=r"LONG.MP4 is 4,294,967,296 bytes long"):
        least_size_bytes("FAT32", tree({"LONG.MP4": 4 * GIB}), 4096, 0, 0)
    with pytest.raises(DoesNotFit, match=r"take 65,537 clusters of 512 bytes, and no FAT16 volume"):
        least_size_bytes("FAT16", tree({"LONG.MP4": 32 * MIB + 1}), 512, 0, 0)
    with pytest.raises(DoesNotFit, match="not of 65,536"):
        least_size_bytes("FAT32", tree({}), 65_536, 0, 0)
    with pytest.raises(DoesNotFit, match="not of 65,536"):
        lay_out(NewVolume("FAT32", 0, 64 * GIB, 65_536, SERIAL, tree({})))
    with pytest.raises(DoesNotFit, match="the root folder has 65,520 files and folders"):
        lay_out(
            NewVolume("FAT16", 0, GIB, 16_384, SERIAL, tree({f"F{number}": 0 for number in range(65_520)}))
        )


def test_the_largest_root_that_is_fixed(tmp_path: Path) -> None:
    paths = {f"F{number}": 0 for number in range(65_519)}
    made = make(tmp_path, NewVolume("FAT16", 0, 16 * MIB, 1024, SERIAL, tree(paths), "GARDEN"))
    assert BootSector.parse(boot_sectors(made.part)[0]).root_slots == 65_520
    card = open_card(made.card)
    assert (card.damage, [entry.path for entry in card.entries]) == ((), [*paths])


def test_the_same_volume_has_the_same_bytes() -> None:
    volume = Shape("FAT32", 40 * MIB, 512, 0, "GARDEN", "names").volume
    assert [*lay_out(volume).head()] == [*lay_out(volume).head()]
    later = replace(volume, root=replace(volume.root, modified=MORNING + timedelta(days=1)))
    assert [*lay_out(later).head()] != [*lay_out(volume).head()]
