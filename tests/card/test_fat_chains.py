"""Chains of clusters are followed as a plain walk from cluster to cluster follows them, but in no time."""

from __future__ import annotations

import time
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card import fat_chains
from mediacheck.card.fat_chains import CUT, LOOPS, NOWHERE, Chains, Follower
from mediacheck.card.fat_layout import FAT16, FAT32, FatType
from mediacheck.card.fat_table import ENDS, OUTSIDE, TO_BAD, TO_FREE, Places, table_of
from tests.card.test_fat_table import entries

BAD, END = FAT16.bad, FAT16.mask


def follow(heads: list[int], *following: int, kind: FatType = FAT16) -> Chains:
    return Follower(table_of(entries(kind, *following), kind)).follow(np.array(heads, np.int64))


def walked(head: int, following: list[int]) -> tuple[list[int], int]:
    """The clusters of a chain and how it ends, one step at a time."""
    clusters: list[int] = []
    cluster = head
    while True:
        if cluster < 2 or cluster >= len(following) + 2:
            return clusters, NOWHERE if cluster == 0 and not clusters else OUTSIDE
        if cluster in clusters:
            return clusters, LOOPS
        value = following[cluster - 2]
        if value in (0, BAD):
            return clusters, TO_FREE if value == 0 else TO_BAD
        clusters.append(cluster)
        if value >= FAT16.end:
            return clusters, ENDS
        cluster = value


def clusters_of(chains: Chains, number: int) -> list[int]:
    return [cluster for start, length in chains.runs(number) for cluster in range(start, start + length)]


SIZE = 12
VALUES = st.one_of(st.integers(0, SIZE + 4), st.sampled_from([BAD, END, END - 3, 0]))
RISING = st.tuples(*(st.one_of(st.just(cluster + 1), VALUES) for cluster in range(2, SIZE + 2)))


@given(RISING, st.lists(st.integers(0, SIZE + 5), max_size=8))
def test_every_chain_is_the_one_that_a_plain_walk_finds(table: tuple[int, ...], heads: list[int]) -> None:
    chains = follow(heads, *table)
    for number, head in enumerate(heads):
        wanted, state = walked(head, list(table))
        found = clusters_of(chains, number)
        # A chain that loops may meet its clusters in another order, where it had entered the loop in the
        # middle of a stretch.
        same = sorted(found) == sorted(wanted) if state == LOOPS else found == wanted
        assert same, (head, found, wanted)
        assert (chains.state[number], chains.clusters[number]) == (state, len(wanted))
        assert all(length > 0 for _, length in chains.runs(number))
    assert chains.owners.tolist() == [number for number in range(len(heads)) for _ in chains.runs(number)]


@given(RISING, st.integers(2, SIZE + 1))
def test_runs_are_as_few_as_can_be(table: tuple[int, ...], head: int) -> None:
    chains = follow([head], *table)
    runs = chains.runs(0)
    if chains.state[0] != LOOPS:
        assert all(start + length != after for (start, length), (after, _) in pairwise(runs))


def test_a_whole_file_is_one_run() -> None:
    chains = follow([2, 5], 3, 4, END, 6, END)
    assert (chains.runs(0), chains.runs(1)) == ([(2, 3)], [(5, 2)])
    assert chains.state.tolist() == [ENDS, ENDS]


def test_clusters_out_of_order_are_runs_in_the_order_of_the_file() -> None:
    assert follow([5], END, 2, 3, 6, 4).runs(0) == [(5, 2), (4, 1), (3, 1), (2, 1)]


@pytest.mark.parametrize(
    ("head", "state"), [(0, NOWHERE), (1, OUTSIDE), (6, OUTSIDE), (2**28, OUTSIDE), (4, TO_FREE), (5, TO_BAD)]
)
def test_a_chain_that_does_not_begin_has_no_clusters(head: int, state: int) -> None:
    chains = follow([head], 3, END, 0, BAD)
    assert (chains.runs(0), chains.state.tolist(), chains.clusters.tolist()) == ([], [state], [0])


def test_no_chains_are_none() -> None:
    chains = follow([], 3, END)
    assert (len(chains.state), len(chains.starts), chains.first_run.tolist()) == (0, 0, [0])


def backwards(count: int) -> Places:
    """A table in which each cluster leads to the one before: as many stretches as there are clusters."""
    values = np.arange(-1, count + 1)
    values[:3] = FAT32.mask
    return values


def test_chains_take_a_time_that_goes_with_their_length() -> None:
    """100,000 stretches and 2,000 chains that all end in the same ones: not 200 million steps."""
    count = 100_000
    table = table_of(backwards(count).astype(np.uint32), FAT32)
    follower = Follower(table)
    begin = time.process_time()
    chains = follower.follow(np.arange(count + 1, count - 1_999, -1))
    assert time.process_time() - begin < 5
    assert clusters_of(chains, 0) == list(range(count + 1, 1, -1))
    assert (chains.state[0], chains.state[-1]) == (ENDS, CUT)
    assert chains.clusters.sum() <= 2 * count + fat_chains.SHARED_STEPS + 2_000


def test_a_chain_that_crosses_no_other_is_followed_whatever_others_do() -> None:
    values = backwards(60_000)
    values[200] = FAT32.mask
    follower = Follower(table_of(values.astype(np.uint32), FAT32))
    assert follower.follow(np.full(30, 50_000)).state[-1] == CUT
    assert follower.follow(np.array([150])).state.tolist() == [ENDS]


def test_the_second_of_two_chains_that_cross_is_followed_to_its_end_too() -> None:
    chains = follow([2, 7], 3, 4, 5, 6, END, 8, 4)
    assert [clusters_of(chains, number) for number in (0, 1)] == [[2, 3, 4, 5, 6], [7, 8, 4, 5, 6]]
