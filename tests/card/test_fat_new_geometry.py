"""How a new FAT volume is divided, and how large it must be: held against the specification and by trying.

"The specification" is Microsoft's FAT32 File System Specification, version 1.03.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.card.fat_boot import type_of
from mediacheck.card.fat_new_geometry import (
    KINDS,
    SECTORS_MAX,
    Frame,
    require_cluster_size,
    usual_cluster_bytes,
)
from mediacheck.card.new_volume import DoesNotFit
from mediacheck.names import FileSystem

KIB, MIB, GIB = 1 << 10, 1 << 20, 1 << 30
CLUSTER_SECTORS = st.integers(0, 6).map(lambda power: 1 << power)
FRAMES = st.builds(
    Frame,
    st.just(KINDS["FAT16"]),
    CLUSTER_SECTORS,
    st.sampled_from((0, 8192, 63)),
    st.sampled_from((512, 1024, 65_520)),
) | st.builds(Frame, st.just(KINDS["FAT32"]), CLUSTER_SECTORS, st.sampled_from((0, 8192, 63)), st.just(0))


def frame(file_system: FileSystem, cluster_sectors: int, start_sector: int = 0) -> Frame:
    root_slots = 512 if file_system == "FAT16" else 0
    return Frame(KINDS[file_system], cluster_sectors, start_sector, root_slots)


@pytest.mark.parametrize(
    ("file_system", "sectors_max", "kib"),
    [
        # Specification, DskTableFAT16
        ("FAT16", 32_680, 1),
        ("FAT16", 262_144, 2),
        ("FAT16", 524_288, 4),
        ("FAT16", 1_048_576, 8),
        ("FAT16", 2_097_152, 16),
        ("FAT16", 4_194_304, 32),
        # DskTableFAT32
        ("FAT32", 532_480, 0.5),
        ("FAT32", 16_777_216, 4),
        ("FAT32", 33_554_432, 8),
        ("FAT32", 67_108_864, 16),
        ("FAT32", 0xFFFFFFFF, 32),
    ],
)
def test_the_usual_clusters_are_those_of_the_specification(
    file_system: FileSystem, sectors_max: int, kib: float
) -> None:
    assert usual_cluster_bytes(file_system, sectors_max * 512) == kib * KIB
    assert usual_cluster_bytes(file_system, sectors_max * 512 + 511) == kib * KIB
    assert usual_cluster_bytes(file_system, (sectors_max + 1) * 512) != kib * KIB


@pytest.mark.parametrize(
    ("file_system", "least", "most"),
    [("FAT16", 8_401, 4_194_304), ("FAT32", 66_601, 0xFFFFFFFF)],
)
def test_where_the_tables_end_no_cluster_is_usual(file_system: FileSystem, least: int, most: int) -> None:
    sizes = (0, least - 1, least, most, most + 1)
    found = [usual_cluster_bytes(file_system, sectors * 512) is None for sectors in sizes]
    assert found == [True, True, False, False, True]


@pytest.mark.parametrize("file_system", ["FAT16", "FAT32"])
def test_volumes_at_both_ends_of_each_row_can_have_the_usual_clusters(file_system: FileSystem) -> None:
    """FAT16 of exactly 1 GB and 2 GB would have too many clusters, were some not reserved."""
    rows = KINDS[file_system].usual
    for (below, _), (most, cluster_sectors) in pairwise(rows):
        for sectors in (below + 1, most):
            for start_sector in (0, 8192):
                found = frame(file_system, cluster_sectors, start_sector).divided(sectors)
                assert type_of(found.clusters).name == file_system


@pytest.mark.parametrize(
    ("file_system", "clusters_min", "clusters_max"),
    [("FAT16", 4_085 + 16, 65_524 - 16), ("FAT32", 65_525 + 16, 268_435_445)],
)
def test_volumes_stay_away_from_the_numbers_at_which_the_kind_changes(
    file_system: FileSystem, clusters_min: int, clusters_max: int
) -> None:
    """Specification, "FAT Type Determination": at least 16 clusters on each side."""
    one = frame(file_system, 8)
    least = one.least_sectors(0, 0)
    assert one.divided(least).clusters == clusters_min
    with pytest.raises(DoesNotFit, match=f"{clusters_min - 1:,} clusters .*{file_system} needs at least"):
        one.divided(least - 8)
    assert (one.kind.clusters_min, one.kind.clusters_max) == (clusters_min, clusters_max)


def test_fat16_stays_away_from_fat32() -> None:
    one = frame("FAT16", 8)
    least = one.least_sectors(65_508, 0)
    assert one.divided(least).clusters == 65_508
    assert {one.divided(sectors).clusters for sectors in range(least, least + 33 * 8)} == {65_508}
    with pytest.raises(
        DoesNotFit, match=r"65,541 clusters of 4,096 bytes, and FAT16 can have 65,508 at most"
    ):
        one.divided(least + 33 * 8)
    with pytest.raises(DoesNotFit, match=r"take 65,509 clusters .* it can have 65,508 at most"):
        one.least_sectors(65_509, 0)


def test_no_volume_is_larger_than_its_boot_sector_can_tell() -> None:
    one = frame("FAT32", 64)
    assert one.divided(SECTORS_MAX).clusters == 67_092_482
    with pytest.raises(DoesNotFit, match="larger than 2,199,023,255,040 bytes"):
        one.divided(SECTORS_MAX + 1)
    with pytest.raises(DoesNotFit, match="268,435,445 at most"):
        frame("FAT32", 8).divided(SECTORS_MAX)
    with pytest.raises(DoesNotFit, match="take 67,100,000 clusters"):
        one.least_sectors(67_100_000, 0)


@pytest.mark.parametrize("cluster_bytes", [0, 256, 1000, 65_536, -512])
def test_clusters_that_fat_should_not_have(cluster_bytes: int) -> None:
    """Specification, BPB_SecPerClus: more than 32 KiB "do not work properly"."""
    with pytest.raises(DoesNotFit, match=f"up to 32,768, and not of {cluster_bytes:,}"):
        require_cluster_size(cluster_bytes)


def largest(one: Frame) -> int:
    """The sectors of the least volume with the most clusters, or of the largest that there is."""
    if one.kind.clusters_max * (one.cluster_sectors + 1 / 64) > SECTORS_MAX:  # two tables of FAT32
        return SECTORS_MAX // 8 * 8
    return one.least_sectors(one.kind.clusters_max, 0)


@given(FRAMES, st.data())
def test_all_parts_have_their_room_and_no_more(one: Frame, data: st.DataObject) -> None:
    sectors = data.draw(
        st.integers(one.least_sectors(0, 0), min(largest(one) + 32 * one.cluster_sectors - 8, SECTORS_MAX))
    )
    found = one.divided(sectors)
    root_sectors = one.root_slots * 32 // 512
    first = found.reserved_sectors + 2 * found.fat_sectors + root_sectors
    assert (one.start_sector + first) % one.cluster_sectors == 0
    assert found.clusters == (sectors - first) // one.cluster_sectors
    assert one.kind.clusters_min <= found.clusters <= one.kind.clusters_max
    assert one.kind.reserved_sectors <= found.reserved_sectors < 1 << 16
    bits = one.kind.type.entry_bits
    assert found.fat_sectors * 512 * 8 >= (found.clusters + 2) * bits
    if found.clusters < one.kind.clusters_max:
        assert found.reserved_sectors < one.kind.reserved_sectors + one.cluster_sectors
    # Specification, "FAT Volume Initialization": Microsoft's own sum (it forgets the first two entries).
    per_fat = (256 * one.cluster_sectors + 2) // (2 if bits == 32 else 1)
    reckoned = -(-(sectors - one.kind.reserved_sectors - root_sectors) // per_fat)
    assert found.fat_sectors <= reckoned + 1


def fits(one: Frame, sectors: int, used: int, free_percent: str) -> bool:
    """By the rule that judges a card which is too full, once more from its words."""
    try:
        clusters = one.divided(sectors).clusters
    except DoesNotFit:
        return False
    free_bytes, capacity_bytes = (clusters - used) * one.cluster_bytes, sectors * 512
    return free_bytes >= 0 and Fraction(100 * free_bytes, capacity_bytes) >= Fraction(free_percent)


@settings(max_examples=60)
@given(
    CLUSTER_SECTORS,
    st.sampled_from((0, 8192, 63)),
    st.integers(0, 6000),
    st.sampled_from(("0", "5", "12.5", "33.333333333333336", "60", "75")),
)
def test_the_least_fat16_volume_is_the_first_that_fits(
    cluster_sectors: int, start_sector: int, used: int, free_percent: str
) -> None:
    """Tried one after the other, from far below."""
    one = frame("FAT16", cluster_sectors, start_sector)
    found = one.least_sectors(used, float(free_percent))
    assert found % 8 == 0
    assert fits(one, found, used, free_percent)
    below = range(max(0, found - 60 * 8 * max(8, cluster_sectors)), found, 8)
    assert [size for size in below if fits(one, size, used, free_percent)] == []


@settings(max_examples=60)
@given(FRAMES, st.integers(0, 5_000_000), st.floats(0, 99.9))
def test_the_least_volume_fits_and_a_smaller_one_does_not(one: Frame, used: int, free_percent: float) -> None:
    try:
        found = one.least_sectors(used, free_percent)
    except DoesNotFit:
        found = largest(one) + 8
    else:
        assert fits(one, found, used, str(free_percent))
    assert not any(fits(one, found - 8 * steps, used, str(free_percent)) for steps in range(1, 200))


@pytest.mark.parametrize(
    ("cluster_sectors", "start_sector", "free_percent"),
    [(1, 0, "98"), (1, 0, "98.4615"), (8, 5, "99.804"), (64, 63, "99.965")],
)
def test_hardly_any_room_for_the_tables(cluster_sectors: int, start_sector: int, free_percent: str) -> None:
    """With clusters of one sector the tables take 1.5 %: rounding then decides over thousands of volumes."""
    one = frame("FAT32", cluster_sectors, start_sector)
    found = one.least_sectors(9, float(free_percent))
    assert fits(one, found, 9, free_percent)
    smaller = range(max(0, found - 10_000 * 8), found, 8)
    assert not any(fits(one, size, 9, free_percent) for size in smaller)


@pytest.mark.parametrize("free_percent", [98.5, 99.0, 99.9])
def test_the_tables_leave_no_such_room(free_percent: float) -> None:
    with pytest.raises(DoesNotFit, match=f"{free_percent:g} % of the card free"):
        frame("FAT32", 1).least_sectors(9, free_percent)


def test_two_thirds_of_a_card_of_fat16_are_not_free() -> None:
    with pytest.raises(DoesNotFit, match=r"take 30,000 clusters .* with 66 % of the card free"):
        frame("FAT16", 4).least_sectors(30_000, 66.0)
