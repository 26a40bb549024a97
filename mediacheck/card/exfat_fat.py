"""Follows chains of clusters through the FAT of an exFAT volume, stretch by stretch, in bounded memory.

It must not judge: how a chain ended is told, not what it means. Sections in brackets are those of the
"exFAT file system specification", revision 1.00.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Literal, NamedTuple

import numpy as np

from mediacheck.card.exfat_layout import FAT_BAD, FAT_END, FIRST_CLUSTER, BootSector
from mediacheck.card.spans import Spans

Ending = Literal["end", "loop", "bad", "outside", "past", "tangled"]
"""How a chain ends: as it should; in itself; at a cluster that is marked as bad; with a number that is no
cluster; past the last cluster, for a stretch that no chain describes; or it was given up."""

_ENDINGS: Mapping[int, Ending] = MappingProxyType({FAT_END: "end", FAT_BAD: "bad"})

ENTRY_BYTES = 4
BLOCK_ENTRIES = 1 << 15
BLOCKS_KEPT = 512
"""With what is worked out of them, 96 MiB at most: the FAT of as many clusters as the standard recommends."""

_Block = tuple[memoryview, memoryview]
"""The entries, and for each one the next place in the block that does not simply lead to its neighbour."""


class Chain(NamedTuple):
    """The clusters of one file: stretches of (first cluster, how many), none of them twice."""

    runs: tuple[tuple[int, int], ...]
    clusters: int
    """How many there are."""
    ending: Ending = "end"


NO_CHAIN = Chain((), 0)
"""What a file with no bytes has."""


class Fat:
    """The FAT that is in use. `read` takes a place in the volume and a length, and gives fewer bytes, or
    none, where there are no more; `size_bytes` is what there is of the volume."""

    def __init__(self, boot: BootSector, read: Callable[[int, int], bytes], size_bytes: int) -> None:
        self._start_byte, self._read = boot.fat_start_byte, read
        self._entries = boot.cluster_count + FIRST_CLUSTER
        stored_bytes = min(boot.fat_length * boot.sector_bytes, max(0, size_bytes - boot.fat_start_byte))
        self._stored = min(self._entries, stored_bytes // ENTRY_BYTES)
        self._block = lru_cache(BLOCKS_KEPT)(self._read_block)
        self._steps_left = 4 * self._stored + 1000
        """A sound volume needs one step for each entry at most; chains that share their ends need more."""

    def chain(self, first: int) -> Chain:
        """The clusters from this one on. Takes as many steps as the chain has stretches."""
        runs: list[tuple[int, int]] = []
        begun_at: dict[int, int] = {}
        cluster = first
        while FIRST_CLUSTER <= cluster < self._entries:
            block, place = divmod(cluster, BLOCK_ENTRIES)
            leads_to, stops = self._block(block)
            stop = stops[place]
            last = block * BLOCK_ENTRIES + stop
            if last in begun_at:  # all stretches that reach a place leave it the same way
                _extend(runs, cluster, begun_at[last] - 1)
                return _chain(runs, "loop")
            if self._steps_left <= 0:
                return _chain(runs, "tangled")
            self._steps_left -= 1
            begun_at[last] = cluster
            _extend(runs, cluster, last)
            cluster = leads_to[stop]
        return _chain(runs, _ENDINGS.get(cluster, "outside") if runs else "outside")

    def contiguous(self, first: int, clusters: int) -> Chain:
        """So many clusters from this one on, which the FAT knows nothing of [6.4.2.2]."""
        if not FIRST_CLUSTER <= first < self._entries:
            return Chain((), 0, "outside")
        held = min(clusters, self._entries - first)
        return Chain(((first, held),) if held else (), held, "end" if held == clusters else "past")

    def bad_among(self, spans: Spans) -> Spans:
        """Those of the clusters that the FAT marks as bad [4.1.3]. Reads only the blocks that hold them."""
        return Spans.union(Spans.of_places(place) for place in self._bad_in_blocks(spans))

    def _bad_in_blocks(self, spans: Spans) -> Iterator[np.ndarray[tuple[int], np.dtype[np.int64]]]:
        for block in spans.blocks(BLOCK_ENTRIES):
            entries = np.frombuffer(self._block(block)[0], np.uint32)
            yield np.flatnonzero(entries == FAT_BAD) + block * BLOCK_ENTRIES

    def _read_block(self, number: int) -> _Block:
        first = number * BLOCK_ENTRIES
        length = min(BLOCK_ENTRIES, self._entries - first)
        stored = max(0, min(length, self._stored - first)) * ENTRY_BYTES
        data = self._read(self._start_byte + first * ENTRY_BYTES, stored).ljust(length * ENTRY_BYTES, b"\0")
        entries = np.frombuffer(data, "<u4").astype(np.uint32)
        places = np.arange(length)
        stops = np.where(entries == places + (first + 1), length, places)
        stops[-1] = length - 1
        stops = np.minimum.accumulate(stops[::-1])[::-1]
        return entries.data, stops.astype(np.uint16).data


def _extend(runs: list[tuple[int, int]], first: int, last: int) -> None:
    """With one stretch more, joined to the one before where a block of the FAT ended between them."""
    if first > last:
        return
    if runs and sum(runs[-1]) == first:
        first = runs.pop()[0]
    runs.append((first, last + 1 - first))


def _chain(runs: list[tuple[int, int]], ending: Ending) -> Chain:
    return Chain(tuple(runs), sum(count for _, count in runs), ending)
