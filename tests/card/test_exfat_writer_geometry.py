"""A new exFAT volume is divided as the specification and formatting programs divide it, and not too large."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from mediacheck.card.exfat_layout import CLUSTER_COUNT_MAX
from mediacheck.card.exfat_new_geometry import divided
from mediacheck.card.exfat_writer import lay_out, least_size_bytes, usual_cluster_bytes
from mediacheck.card.new_volume import DoesNotFit, LaidOut, NewFile, NewFolder, NewVolume
from tests.card.card_programs import run
from tests.card.exfat_images import MIB
from tests.card.filled import sized
from tests.card.new_images import MORNING

GIB, TIB = 1 << 30, 1 << 40
CLUSTERS = st.sampled_from([1 << power for power in range(9, 26)])
STARTS = st.sampled_from((0, 512, 63 * 512, MIB, 4 * MIB))


def holding(*sizes: int) -> NewFolder:
    """A root folder with files of these sizes."""
    files = tuple(NewFile(f"{number}.mp4", size, MORNING) for number, size in enumerate(sizes))
    return NewFolder("", MORNING, files)


def laid(root: NewFolder, size_bytes: int, cluster_bytes: int, start_byte: int = 0) -> LaidOut:
    return lay_out(NewVolume("exFAT", start_byte, size_bytes, cluster_bytes, 1, root))


def test_usual_clusters_are_those_of_the_table() -> None:
    """Second-hand: Microsoft, KB 140365, as others repeat it."""
    table = {
        MIB - 512: None,
        MIB: 4096,
        256 * MIB: 4096,
        256 * MIB + 512: 32_768,
        32 * GIB: 32_768,
        32 * GIB + 512: 131_072,
        128 * TIB: 131_072,
        256 * TIB: 131_072,
        CLUSTER_COUNT_MAX * 131_072 + 1: None,
    }
    assert {size: usual_cluster_bytes(size) for size in table} == table


@pytest.mark.parametrize("size_bytes", [4 * MIB, 256 * MIB, 257 * MIB, 32 * GIB, 33 * GIB])
def test_usual_clusters_are_those_of_mkfs(size_bytes: int, tmp_path: Path) -> None:
    image = sized(tmp_path / "card.img", size_bytes)
    run("mkfs.exfat", image)
    told = re.search(r"Cluster size:\s+(\d+)", run("dump.exfat", image))
    assert told
    assert usual_cluster_bytes(size_bytes) == int(told[1])


@given(st.integers(MIB // 512, 16 * TIB // 512), CLUSTERS, STARTS)
def test_a_volume_is_divided_without_waste(sectors: int, cluster_bytes: int, start_byte: int) -> None:
    """3.1.6 to 3.1.9; and nothing could begin earlier."""
    try:
        found = divided(sectors * 512, cluster_bytes, start_byte)
    except DoesNotFit as error:
        too_few = f"a volume of {sectors * 512:,} bytes has no room for a cluster of {cluster_bytes:,}"
        is_too_few = sectors * 512 < 3 * cluster_bytes
        assert too_few == str(error) if is_too_few else str(error).endswith("have 4,294,967,285 at most")  # noqa: PT017  # most volumes can be divided
        return
    step = cluster_bytes // 512
    assert (found.sectors, found.cluster_sectors, found.cluster_bytes) == (sectors, step, cluster_bytes)
    assert found.fat_sectors == -(-(found.cluster_count + 2) * 4 // 512)
    assert found.heap_sector >= 24 + found.fat_sectors
    assert found.cluster_count == (sectors - found.heap_sector) // step
    assert (start_byte // 512 + found.heap_sector) % step == 0
    earlier = found.heap_sector - step
    assert earlier < 24 + -(-((sectors - earlier) // step + 2) * 4 // 512)


def test_exfat_has_so_many_clusters_at_most() -> None:
    """3.1.9"""
    heap = 24 + 2**32 * 4 // 512
    most = heap + 2**32 - 11
    assert divided(most * 512, 512, 0).cluster_count == 2**32 - 11
    with pytest.raises(DoesNotFit, match="has 4,294,967,286 clusters of 512 bytes"):
        divided((most + 1) * 512, 512, 0)


def has_free(laid_out: LaidOut, free_percent: float) -> bool:
    """As the rule on full cards asks."""
    return 100 * laid_out.free_bytes / Fraction(laid_out.capacity_bytes) >= Fraction(str(free_percent))


@settings(max_examples=300)
@given(
    st.lists(st.integers(0, 3 * MIB), max_size=5),
    st.sampled_from((512, 1024, 2048, 4096, 32_768, 131_072, 8 * MIB)),
    STARTS,
    st.floats(0, 99.9) | st.integers(0, 99).map(float),
)
@example([8187 * 2048], 2048, 0, 50.0)
def test_the_least_size_is_the_least(
    sizes: list[int], cluster_bytes: int, start_byte: int, free_percent: float
) -> None:
    """In the example the next larger cluster count needs a larger bitmap, and has less than half free."""
    root = holding(*sizes)
    size = least_size_bytes(root, cluster_bytes, start_byte, free_percent)
    assert size % 4096 == 0
    assert size >= MIB
    assert has_free(laid(root, size, cluster_bytes, start_byte), free_percent)
    if size == MIB:
        return
    try:
        smaller = laid(root, size - 4096, cluster_bytes, start_byte)
    except DoesNotFit:
        return
    assert not has_free(smaller, free_percent)


@pytest.mark.parametrize(
    ("cluster_bytes", "clusters", "larger_fit"),
    [(2048, 8187, True), (4096, 16_379, True), (4096, 16_380, False)],
)
def test_no_smaller_volume_has_that_part_free(cluster_bytes: int, clusters: int, larger_fit: bool) -> None:
    """Not only not the next one: around a border of the bitmap one may fit and the next larger one not."""
    held = clusters + -(-5836 // cluster_bytes) + 1
    about = 2 * held * cluster_bytes
    sizes = range(about // 4096 * 4096 - MIB, about + MIB, 4096)
    counts = {size: divided(size, cluster_bytes, 0).cluster_count for size in sizes}
    fits = [size for size in sizes if 2 * (held + -(-counts[size] // (8 * cluster_bytes))) <= counts[size]]
    assert least_size_bytes(holding(clusters * cluster_bytes), cluster_bytes, 0, 50) == fits[0] > sizes[0]
    assert (fits == [*range(fits[0], sizes.stop, 4096)]) == larger_fit


def test_the_least_size_of_nothing_is_that_of_exfat() -> None:
    assert least_size_bytes(holding(), 4096, 0, 0) == MIB
    assert least_size_bytes(holding(), 4096, 4 * MIB, 10) == MIB


@pytest.mark.parametrize(
    ("root", "cluster_bytes", "free_percent", "words"),
    [
        (holding(), 4096, 100.0, "no exFAT volume can be 100 % free: its own tables take room"),
        (
            holding(3 * TIB),
            512,
            0.0,
            "the files need more than the 4,294,967,285 clusters of 512 bytes that exFAT can have at most",
        ),
        (
            holding(1),
            512,
            99.99,
            "the files need more than the 4,294,967,285 clusters of 512 bytes that exFAT can have at most",
        ),
        (
            holding((2**32 - 11) * 512),
            512,
            0.0,
            "the files need more than the 4,294,967,285 clusters of 512 bytes that exFAT can have at most",
        ),
        (
            holding(1),
            3000,
            0.0,
            "exFAT can have clusters of 512 bytes, or twice as much and so on up to 33,554,432, and not of "
            "3,000",
        ),
    ],
)
def test_what_no_volume_can_hold(
    root: NewFolder, cluster_bytes: int, free_percent: float, words: str
) -> None:
    with pytest.raises(DoesNotFit, match=f"^{re.escape(words)}$"):
        least_size_bytes(root, cluster_bytes, 0, free_percent)


@pytest.mark.parametrize(
    ("size_bytes", "cluster_bytes", "words"),
    [
        (MIB - 512, 4096, "exFAT needs at least 1,048,576 bytes, and the volume has 1,048,064"),
        (
            4 * MIB,
            4096,
            "the files and what exFAT needs for itself take 5,017,600 bytes, and a volume of 4,194,304 bytes "
            "has room for 4,177,920",
        ),
        (
            4 * MIB,
            8 * MIB,
            "a volume of 4,194,304 bytes has no room for a cluster of 8,388,608",
        ),
        (
            3 * TIB,
            512,
            "a volume of 3,298,534,883,328 bytes has 6,392,509,439 clusters of 512 bytes, and exFAT can have "
            "4,294,967,285 at most",
        ),
        (
            4 * MIB,
            256,
            "exFAT can have clusters of 512 bytes, or twice as much and so on up to 33,554,432, and not of "
            "256",
        ),
        (
            4 * MIB,
            64 * MIB,
            "exFAT can have clusters of 512 bytes, or twice as much and so on up to 33,554,432, and not of "
            "67,108,864",
        ),
    ],
)
def test_what_does_not_fit_is_said_with_the_numbers(size_bytes: int, cluster_bytes: int, words: str) -> None:
    with pytest.raises(DoesNotFit, match=f"^{re.escape(words)}$"):
        laid(holding(5_000_000), size_bytes, cluster_bytes)
