"""Follows the chains of clusters that files and folders lie in, many at a time.

It must not read the medium, and must not judge.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from mediacheck.card.fat_boot import FIRST_CLUSTER
from mediacheck.card.fat_table import OUTSIDE, TO_BAD, TO_FREE, Clusters, Places, Table

NOWHERE: Final = -5
LOOPS: Final = -6
CUT: Final = -7
"""How a chain ends beside the four ways in `fat_table`: there is none (first cluster 0); it leads back to
itself; chains that cross had led through so many stretches already that it was not followed further."""

SHARED_STEPS = 100_000
"""Chains of a sound volume share nothing. So often, and as often as there are stretches, a chain may pass
through a stretch that another one has passed through."""


@dataclass(frozen=True, slots=True)
class Chains:
    """The clusters of many chains as runs of clusters that follow each other on the medium."""

    first_run: Places
    """For each chain the number of its first run, and at the end the number of all runs."""
    starts: Places
    """The first cluster of each run."""
    lengths: Places
    """How many clusters it holds; never 0."""
    state: Places
    """How each chain ends: `ENDS` where it is sound."""
    clusters: Places
    """How many clusters each chain has."""

    @property
    def owners(self) -> Places:
        """The number of the chain that each run belongs to."""
        return np.repeat(np.arange(len(self.state)), np.diff(self.first_run))

    def runs(self, number: int) -> list[tuple[int, int]]:
        """First cluster and length of the runs of one chain."""
        own = slice(int(self.first_run[number]), int(self.first_run[number + 1]))
        return list(zip(self.starts[own].tolist(), self.lengths[own].tolist(), strict=True))


@dataclass(slots=True)
class Follower:
    """Follows chains in one table. No cycle and no crossing of chains makes it take long."""

    table: Table
    _steps: tuple[memoryview, memoryview, memoryview] = field(init=False)
    """For each stretch the one that follows it, the cluster where that is entered, and its own end: views
    of the table, which Python reads one by one several times as fast as arrays."""
    _seen: memoryview = field(init=False)
    """For each stretch the last chain that entered it."""
    _chain: int = field(default=0, init=False)
    _spare: int = field(init=False)

    def __post_init__(self) -> None:
        table, stretches = self.table, len(self.table.last)
        self._steps = table.following.data, table.landing.data, table.clusters_end.data
        self._seen = np.zeros(stretches, np.uint32).data
        self._spare = stretches + SHARED_STEPS

    def follow(self, heads: Places) -> Chains:
        """The chains that begin in these clusters."""
        table = self.table
        inside = (heads >= FIRST_CLUSTER) & (heads < len(table.entries))
        values = table.entries[np.where(inside, heads, 0)]
        state = np.select(
            [heads == 0, ~inside, values == 0, values == table.type.bad],
            [NOWHERE, OUTSIDE, TO_FREE, TO_BAD],
            0,
        ).astype(np.int64)
        begun = np.flatnonzero(state == 0)
        stretches = np.searchsorted(table.last, heads[begun].astype(np.uint32))
        state[begun] = table.following[stretches]
        longer = self._pursued(begun[state[begun] >= 0], heads, state)
        return _assembled(heads, state, begun, table.clusters_end[stretches], longer)

    def _pursued(self, many: Places, heads: Places, state: Places) -> dict[int, list[tuple[int, int]]]:
        """The runs of chains that have more than one stretch; notes in `state` how they end."""
        found = {}
        stretches = np.searchsorted(self.table.last, heads[many].astype(np.uint32))
        for chain, stretch in zip(many.tolist(), stretches.tolist(), strict=True):
            found[chain], state[chain] = self._pursue(int(heads[chain]), stretch)
        return found

    def _pursue(self, cluster: int, stretch: int) -> tuple[list[tuple[int, int]], int]:
        following, landing, ends = self._steps
        self._chain += 1
        seen, chain, runs = self._seen, self._chain, []
        while True:
            seen[stretch] = chain
            if ends[stretch] > cluster:
                runs.append((cluster, ends[stretch] - cluster))
            cluster, stretch = landing[stretch], following[stretch]
            if stretch < 0:
                return runs, stretch
            if seen[stretch] == chain:
                return runs + _rest_of_loop(runs, cluster, ends[stretch]), LOOPS
            if seen[stretch]:
                self._spare -= 1
                if self._spare < 0:
                    return runs, CUT


def _rest_of_loop(runs: list[tuple[int, int]], cluster: int, end: int) -> list[tuple[int, int]]:
    """The clusters that a chain meets before the place where it had entered this stretch at first."""
    entered = next(start for start, length in runs if start + length == end)
    return [(cluster, entered - cluster)] if cluster < entered else []


def _assembled(
    heads: Places, state: Places, begun: Places, ends: Clusters, longer: dict[int, list[tuple[int, int]]]
) -> Chains:
    """All runs in the order of the chains."""
    count = np.zeros(len(heads), np.int64)
    count[begun] = 1
    chains = np.fromiter(longer, np.int64, len(longer))
    own = np.fromiter(map(len, longer.values()), np.int64, len(longer))
    count[chains] = own
    first_run = np.concatenate((np.zeros(1, np.int64), np.cumsum(count)))
    starts, lengths = np.empty((2, first_run[-1]), np.int64)
    single = count[begun] == 1
    places = first_run[begun[single]]
    starts[places] = heads[begun[single]]
    lengths[places] = ends[single].astype(np.int64) - heads[begun[single]]
    runs = np.array([*itertools.chain.from_iterable(longer.values())], np.int64).reshape(-1, 2)
    places = np.arange(len(runs)) + np.repeat(first_run[chains] - (np.cumsum(own) - own), own)
    starts[places], lengths[places] = runs.T
    total = np.concatenate((np.zeros(1, np.int64), np.cumsum(lengths)))
    return Chains(first_run, starts, lengths, state, np.diff(total[first_run]))
