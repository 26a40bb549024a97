"""Which file system, table, cluster and size a card gets: what the player takes, what cards are sold with."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from mediacheck.build.shape import PART_START_BYTE, shape_for
from mediacheck.card.new_volume import DoesNotFit, NewFile, NewFolder
from mediacheck.card.new_volumes import least_size_bytes, usual_cluster_bytes
from mediacheck.errors import WrongUse
from mediacheck.profile import CardLimits

DAY = datetime(2020, 1, 1)
GIB = 1 << 30


def root(*sizes_bytes: int) -> NewFolder:
    return NewFolder("", DAY, tuple(NewFile(f"{n}.MP4", size, DAY) for n, size in enumerate(sizes_bytes)))


def limits(**values: Any) -> CardLimits:
    return CardLimits.model_validate(values)


@pytest.mark.parametrize(
    ("allowed", "files", "size_bytes", "expected"),
    [
        (None, (10_000,), None, "FAT32"),
        (None, (10_000,), 8 * 10**9, "FAT32"),
        (None, (10_000,), 32 * GIB, "FAT32"),
        (None, (10_000,), 64 * 10**9, "exFAT"),  # SDXC
        (None, (5 * GIB,), None, "exFAT"),  # greater than a file on FAT32 can be
        (None, tuple([3 * GIB] * 12), None, "exFAT"),  # 36 GiB: SDXC
        (["exFAT", "FAT32"], (10_000,), None, "FAT32"),
        (["exFAT"], (10_000,), None, "exFAT"),
        (["FAT32"], (10_000,), 64 * 10**9, "FAT32"),
        (["FAT16", "FAT32"], (10_000,), None, "FAT32"),
        (["FAT16"], (10_000,), None, "FAT16"),
        (["FAT16", "NTFS"], (10_000,), 10**9, "FAT16"),
    ],
)
def test_the_file_system(
    allowed: list[str] | None, files: tuple[int, ...], size_bytes: int | None, expected: str
) -> None:
    assert shape_for(root(*files), limits(file_systems=allowed), size_bytes).file_system == expected


@pytest.mark.parametrize(
    ("allowed", "table", "start"),
    [(None, "MBR", PART_START_BYTE), (["GPT", "none"], "none", 0), (["none", "MBR"], "MBR", PART_START_BYTE)],
)
def test_the_table(allowed: list[str] | None, table: str, start: int) -> None:
    found = shape_for(root(1), limits(partition_tables=allowed), None)
    assert (found.table, found.start_byte) == (table, start)


def test_what_cannot_be_built_is_refused() -> None:
    with pytest.raises(WrongUse, match="This player wants a card with GPT"):
        shape_for(root(1), limits(partition_tables=["GPT"]), None)
    with pytest.raises(
        WrongUse, match="reads NTFS or ext only; a card can be built as FAT32, exFAT or FAT16"
    ):
        shape_for(root(1), limits(file_systems=["NTFS", "ext"]), None)


def test_a_given_size_is_kept_down_to_the_sector() -> None:
    found = shape_for(root(1), limits(), 8 * 10**9 + 511)
    assert found.image_bytes == 8 * 10**9
    assert found.volume_bytes == 8 * 10**9 - PART_START_BYTE
    assert found.cluster_bytes == usual_cluster_bytes("FAT32", found.volume_bytes) == 4096


def test_a_table_tells_of_two_terabytes_at_most() -> None:
    most = (2**32 - 1) * 512
    assert shape_for(root(1), limits(), PART_START_BYTE + most).volume_bytes == most
    with pytest.raises(DoesNotFit, match="an MBR can tell of a part of 2,199,023,255,040 bytes at most"):
        shape_for(root(1), limits(), PART_START_BYTE + most + 512)
    assert shape_for(root(1), limits(partition_tables=["none"]), 3 * 10**12).file_system == "exFAT"


@pytest.mark.parametrize(("kind", "sectors", "cluster"), [("FAT16", 8_408, 1024), ("FAT32", 66_608, 512)])
def test_the_least_card_is_the_least_that_formatting_programs_make(
    kind: str, sectors: int, cluster: int
) -> None:
    found = shape_for(root(1), limits(file_systems=[kind]), None)
    assert (found.volume_bytes, found.cluster_bytes) == (sectors * 512, cluster)


def test_the_cluster_is_no_larger_than_the_player_takes() -> None:
    assert shape_for(root(1), limits(cluster_bytes_max=10_000), 30 * 10**9).cluster_bytes == 8192


def test_content_that_is_too_large_is_refused_with_the_numbers() -> None:
    with pytest.raises(
        DoesNotFit, match=r"need a card of at least [\d,]+ bytes as FAT32, and this one has 100,0"
    ):
        shape_for(root(200_000_000), limits(file_systems=["FAT32"]), 100_000_000)
    with pytest.raises(DoesNotFit, match=r"and 50 % of the card free need a card of at least"):
        shape_for(root(80_000_000), limits(file_systems=["FAT32"], free_percent_min=50), 100_000_000)
    with pytest.raises(DoesNotFit):
        shape_for(root(1), limits(), 3 << 20)  # no room behind the start of the part


@pytest.mark.parametrize("kind", ["FAT16", "FAT32", "exFAT"])
@pytest.mark.parametrize("size_bytes", [1, 100_000_000, 3 * GIB // 2])
def test_the_least_size_has_the_usual_cluster_and_the_free_space(kind: str, size_bytes: int) -> None:
    tree, wanted = root(size_bytes), limits(file_systems=[kind], free_percent_min=10)
    found = shape_for(tree, wanted, None)
    usual = usual_cluster_bytes(found.file_system, found.volume_bytes)
    assert usual is not None
    assert usual <= found.cluster_bytes
    least = least_size_bytes(found.file_system, tree, found.cluster_bytes, PART_START_BYTE, 10)
    assert found.volume_bytes == least
