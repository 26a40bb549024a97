"""Chains through the FAT are followed as a plain walk would, and no chain is followed for ever."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card import exfat_fat
from mediacheck.card.exfat_fat import Chain, Fat
from mediacheck.card.exfat_layout import FAT_BAD, FAT_END
from mediacheck.card.spans import Spans
from tests.card.test_exfat_layout import STANDARD

CLUSTERS = 40
LAST = CLUSTERS + 1
BOOT = replace(STANDARD, cluster_count=CLUSTERS, fat_offset=24, fat_length=1)

ENTRIES = st.lists(
    st.integers(0, LAST + 3) | st.sampled_from((FAT_END, FAT_BAD, 2**32 - 2)),
    min_size=CLUSTERS + 2,
    max_size=CLUSTERS + 2,
)


@pytest.fixture(autouse=True, scope="module")
def small_blocks() -> object:
    """Blocks of seven entries, so that chains cross from one into another."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(exfat_fat, "BLOCK_ENTRIES", 7)
        yield


def fat_of(entries: list[int], stored: int = CLUSTERS + 2) -> Fat:
    """A FAT with these entries, of which only the first are on the medium."""
    start = BOOT.fat_start_byte
    medium = bytes(start) + np.array(entries[:stored], "<u4").tobytes()
    return Fat(BOOT, lambda place, length: medium[place : place + length], len(medium))


def plain_walk(entries: list[int], first: int) -> tuple[list[int], str]:
    """The clusters one by one, and how it ended."""
    found: list[int] = []
    cluster = first
    while 2 <= cluster <= LAST:
        if cluster in found:
            return found, "loop"
        found.append(cluster)
        cluster = entries[cluster]
    if not found:
        return found, "outside"
    return found, {FAT_END: "end", FAT_BAD: "bad"}.get(cluster, "outside")


def one_by_one(chain: Chain) -> list[int]:
    """The clusters of its stretches; none may be empty or go on where the one before ends."""
    ends = [first + count for first, count in chain.runs]
    assert all(count > 0 for _, count in chain.runs)
    assert all(first != end for (first, _), end in zip(chain.runs[1:], ends, strict=False))
    return [cluster for first, count in chain.runs for cluster in range(first, first + count)]


@given(ENTRIES, st.integers(0, LAST + 3))
def test_a_chain_is_that_of_a_plain_walk(entries: list[int], first: int) -> None:
    chain = fat_of(entries).chain(first)
    assert (one_by_one(chain), chain.ending) == plain_walk(entries, first)
    assert chain.clusters == len(one_by_one(chain))


@given(ENTRIES, st.integers(2, LAST), st.integers(0, CLUSTERS))
def test_what_is_not_on_the_medium_is_no_cluster(entries: list[int], first: int, stored: int) -> None:
    there = entries[:stored] + [0] * (CLUSTERS + 2 - stored)
    chain = fat_of(entries, stored).chain(first)
    assert (one_by_one(chain), chain.ending) == plain_walk(there, first)


@given(st.permutations(range(2, LAST + 1)), st.integers(0, CLUSTERS - 1))
def test_a_loop_ends_where_it_comes_back(order: list[int], back_to: int) -> None:
    entries = [0] * (CLUSTERS + 2)
    for here, there in zip(order, [*order[1:], order[back_to]], strict=True):
        entries[here] = there
    chain = fat_of(entries).chain(order[0])
    assert (one_by_one(chain), chain.ending) == (order, "loop")


def test_chains_that_share_an_end_are_given_up_in_time() -> None:
    """A thousand files that all lead into one tangle cost no more than the FAT is long."""
    entries = [0, 0, *(cluster + 5 for cluster in range(2, LAST - 4)), *[FAT_END] * 5]
    fat = fat_of(entries)
    endings = [fat.chain(2).ending for _ in range(1000)]
    assert endings[0] == "end"
    assert endings[-1] == "tangled"


@pytest.mark.parametrize(
    ("first", "count", "expected"),
    [
        (2, 3, Chain(((2, 3),), 3)),
        (2, 0, Chain((), 0)),
        (LAST - 1, 2, Chain(((LAST - 1, 2),), 2)),
        (LAST, 2, Chain(((LAST, 1),), 1, "past")),
        (2, 2**60, Chain(((2, CLUSTERS),), CLUSTERS, "past")),
        (0, 1, Chain((), 0, "outside")),
        (LAST + 1, 1, Chain((), 0, "outside")),
    ],
)
def test_clusters_that_follow_each_other_stay_on_the_card(first: int, count: int, expected: Chain) -> None:
    assert fat_of([0] * (CLUSTERS + 2)).contiguous(first, count) == expected


@given(ENTRIES, st.sets(st.integers(2, LAST)))
def test_bad_clusters_are_found(entries: list[int], among: set[int]) -> None:
    bad = {cluster for cluster in range(CLUSTERS + 2) if entries[cluster] == FAT_BAD}
    wanted = Spans.of_places(sorted(among))
    found = fat_of(entries).bad_among(wanted) & wanted
    assert {*np.concatenate([np.arange(0), *map(np.arange, found.starts, found.ends)])} == bad & among
