"""A new FAT volume is what was asked for: so say fsck.fat, mtools, The Sleuth Kit and our reader."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from mediacheck.card.fat_layout import BootSector, Fat32Fields, FsInfo
from mediacheck.card.model import Volume
from mediacheck.card.new_volume import NewVolume
from mediacheck.card.opening import open_card
from tests.card.fat_images import Hand, must
from tests.card.fat_new_images import (
    SERIAL,
    SERIAL_WORDS,
    SHAPES,
    TABLE_START_BYTE,
    Made,
    boot_sectors,
    expected_contents,
    expected_entries,
    found_entries,
    fsck_counts,
    make,
    runs_of,
)
from tests.card.filled import MIB
from tests.card.new_images import folder_paths, tree, walked
from tests.card.sweep_trees import EMOJI
from tests.card.test_image_sweep import (
    in_disk_order,
    listed,
    read_by_mcopy,
    read_in_place,
    shortened,
    spelled,
)
from tests.card.tsk import read_disk


@pytest.fixture(params=SHAPES, ids=str, scope="module")
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Made]:
    """A volume of each shape, on images that take little room."""
    folder, volume = tmp_path_factory.mktemp("new"), request.param.volume
    yield make(folder, volume)
    for path in folder.iterdir():
        path.unlink()


def test_our_reader_finds_what_was_asked_for(made: Made) -> None:
    volume, laid_out = made.volume, made.laid_out
    card = open_card(made.card)
    assert card.damage == ()
    assert found_entries(card) == expected_entries(volume, laid_out)
    assert list(card.folders) == folder_paths(volume.root)
    found = {seen.path: (seen.size_bytes, seen.sha256) for seen in read_in_place(card)}
    assert found == expected_contents(volume)
    end = volume.start_byte + volume.size_bytes
    assert card.volume == Volume(
        file_system=volume.file_system,
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
    assert laid_out.capacity_bytes == volume.size_bytes


def test_files_lie_in_the_order_of_the_walk_without_a_gap(made: Made) -> None:
    volume, laid_out = made.volume, made.laid_out
    assert [placed.path for placed in laid_out.files] == [one.path for one in walked(volume.root)]
    assert {placed.start_byte for placed in laid_out.files if not placed.size_bytes} <= {0}
    runs = [run for placed in laid_out.files for run in runs_of(placed, volume.cluster_bytes)]
    assert [run.start_byte for run in runs[1:]] == [run.end_byte for run in runs[:-1]]
    data_start_byte = volume.start_byte + Hand(made.part).data_start
    assert data_start_byte % volume.cluster_bytes == 0
    if runs:
        assert runs[-1].end_byte == data_start_byte + laid_out.used_bytes


def test_folders_lie_before_the_files_in_the_order_of_the_walk(made: Made) -> None:
    """Each in one piece, right behind the one before; the clusters are those that mshowfat tells."""
    spans = [_span(made, path) for path in folder_paths(made.volume.root)]
    root_clusters = 0 if made.volume.file_system == "FAT16" else _root_clusters(made.part)
    assert [first for first, _ in spans] == [behind + 1 for _, behind in [(2, 1 + root_clusters), *spans]][
        :-1
    ]
    first_file = next((one.start_byte for one in made.laid_out.files if one.size_bytes), None)
    behind = spans[-1][1] + 1 if spans else 2 + root_clusters
    assert first_file in (None, made.volume.start_byte + Hand(made.part).byte_of(behind))


def _span(made: Made, path: str) -> tuple[int, int]:
    """The first and the last cluster of what must lie in one piece."""
    known = path.replace(EMOJI, "_~1")  # mshowfat cannot find it by that letter
    told = must("mshowfat", "-i", made.for_mtools, f"::/{known}").decode()
    chain = re.fullmatch(r".* <(\d+)(?:-(\d+))?> ?\n", told)
    assert chain, told
    return int(chain[1]), int(chain[2] or chain[1])


def _root_clusters(part: Path) -> int:
    """Of FAT32: as many as lead on from the first one, each to the next."""
    hand, cluster = Hand(part), 2
    while hand.entry(cluster) == cluster + 1:
        cluster += 1
    assert hand.entry(cluster) == hand.end
    return cluster - 1


def test_fsck_finds_nothing(made: Made) -> None:
    laid_out, cluster_bytes = made.laid_out, made.volume.cluster_bytes
    used, free = laid_out.used_bytes // cluster_bytes, laid_out.free_bytes // cluster_bytes
    assert fsck_counts(made.part) == (used, used + free)


def test_mtools_read_the_same(made: Made, tmp_path: Path) -> None:
    volume, image = made.volume, made.for_mtools
    files, folders = in_disk_order(listed(image))
    assert files == [spelled(one.path) for one in walked(volume.root)]
    assert folders == [spelled(path) for path in folder_paths(volume.root)]
    expected = {spelled(path): found for path, found in expected_contents(volume).items()}
    assert read_by_mcopy(image, tmp_path / "out") == expected
    label = must("mlabel", "-s", "-i", image, "::").decode().partition(" Volume label is ")[2]
    assert label.partition(" (abbr")[0].strip() == (volume.label or "")


def test_the_sleuth_kit_reads_the_same(made: Made) -> None:
    """And the short names, where it tells them: of what has a long name too."""
    disk, own = read_disk(made.card, made.volume.start_byte), read_in_place(open_card(made.card))
    assert (disk.label, disk.serial) == (made.volume.label, SERIAL_WORDS)
    assert (disk.size_bytes, disk.sector_bytes) == (made.volume.size_bytes, 512)
    assert list(disk.folders) == folder_paths(made.volume.root)
    told = [
        replace(mine, short_name=other.short_name and mine.short_name)
        for mine, other in zip(shortened(own), disk.files, strict=True)
    ]
    assert told == list(shortened(disk.files))


def test_the_boot_sector_of_fat16(tmp_path: Path) -> None:
    """Each field by Microsoft's specification; 8,192 sectors need no more than 16 bits."""
    volume = NewVolume("FAT16", TABLE_START_BYTE, 4 * MIB, 512, SERIAL, tree({}), "GARDEN")
    found = boot_sectors(make(tmp_path, volume).part)
    assert BootSector.parse(found[0]) == BootSector(
        jump=b"\xeb\x3c\x90",
        maker=b"MSWIN4.1",
        sector_bytes=512,
        sectors_per_cluster=1,
        reserved_sectors=1,
        fats=2,
        root_slots=512,
        sectors_16=8192,
        media=0xF8,
        fat_sectors_16=32,
        sectors_per_track=63,
        heads=255,
        hidden_sectors=8192,
        sectors_32=0,
        fat32=None,
        drive=0x80,
        nt_flags=0,
        extended_signature=0x29,
        serial=SERIAL,
        label=b"GARDEN     ",
        type_text=b"FAT16   ",
        boot_code=b"\xf4\xeb\xfd".ljust(448, b"\0"),
        signature=0xAA55,
    )
    assert found[0][0x3E:0x41] == b"\xf4\xeb\xfd"  # where the jump leads


def test_the_boot_sectors_of_fat32(tmp_path: Path) -> None:
    """FSInfo and a third sector follow, each with its signature, and all three stand once more at 6."""
    volume = NewVolume("FAT32", 0, 64 * MIB, 512, SERIAL, tree({"LOOP.MP4": 700}))
    made = make(tmp_path, volume)
    found = boot_sectors(made.part)
    assert BootSector.parse(found[0]) == BootSector(
        jump=b"\xeb\x58\x90",
        maker=b"MSWIN4.1",
        sector_bytes=512,
        sectors_per_cluster=1,
        reserved_sectors=32,
        fats=2,
        root_slots=0,
        sectors_16=0,
        media=0xF8,
        fat_sectors_16=0,
        sectors_per_track=63,
        heads=255,
        hidden_sectors=0,
        sectors_32=131_072,
        fat32=Fat32Fields(1009, 0, 0, 2, 1, 6),
        drive=0x80,
        nt_flags=0,
        extended_signature=0x29,
        serial=SERIAL,
        label=b"NO NAME    ",
        type_text=b"FAT32   ",
        boot_code=b"\xf4\xeb\xfd".ljust(420, b"\0"),
        signature=0xAA55,
    )
    assert found[0][0x5A:0x5D] == b"\xf4\xeb\xfd"
    clusters = 131_072 - 32 - 2 * 1009
    assert FsInfo.parse(found[1]) == FsInfo(free_clusters=clusters - 3, next_free=5)
    assert found[2] == bytes(510) + b"\x55\xaa"
    assert found[6:9] == found[0:3]
    assert set(found[3:6] + found[9:]) == {bytes(512)}
    assert made.laid_out.free_bytes == (clusters - 3) * 512
