"""Sets of clusters as sorted stretches, so that a card of any size is compared in memory that its files need.

It must not know any file system.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Places = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """Numbers from `starts` up to, not with, `ends`: sorted, apart from each other, none empty."""

    starts: Places
    ends: Places

    @classmethod
    def of(cls, starts: npt.ArrayLike, ends: npt.ArrayLike) -> Spans:
        """From stretches in any order, which may overlap or be empty."""
        begin, end = np.asarray(starts, np.int64), np.asarray(ends, np.int64)
        order = np.argsort(begin, kind="stable")
        order = order[begin[order] < end[order]]
        begin, reach = begin[order], np.maximum.accumulate(end[order])
        is_new = np.ones(len(begin), bool)
        is_new[1:] = begin[1:] > reach[:-1]
        is_last = np.append(is_new[1:], True)[: len(begin)]
        return cls(begin[is_new], reach[is_last])

    @classmethod
    def of_places(cls, places: npt.ArrayLike) -> Spans:
        """From single numbers."""
        found = np.asarray(places, np.int64)
        return cls.of(found, found + 1)

    @classmethod
    def of_bits(cls, blocks: Iterable[bytes], first: int, count: int) -> Spans:
        """The places of the bits that are set, lowest bit of a byte first; the first bit stands for `first`.

        Bits from `count` on are left out.
        """
        borders: list[Places] = []
        done, before = 0, 0
        for block in blocks:
            bits = np.unpackbits(np.frombuffer(block, np.uint8), bitorder="little")[: max(0, count - done)]
            if len(bits):
                changes = np.flatnonzero(np.diff(bits, prepend=np.uint8(before)))
                borders.append(changes + (first + done))
                done, before = done + len(bits), int(bits[-1])
        borders.append(np.array([first + done] if before else [], np.int64))
        starts, ends = np.concatenate(borders).reshape(-1, 2).T
        return cls(starts, ends)

    @classmethod
    def union(cls, many: Iterable[Spans]) -> Spans:
        """All that is in any of them."""
        found = [*many]
        starts = [np.zeros(0, np.int64), *(spans.starts for spans in found)]
        ends = [np.zeros(0, np.int64), *(spans.ends for spans in found)]
        return cls.of(np.concatenate(starts), np.concatenate(ends))

    def __sub__(self, other: Spans) -> Spans:
        """What is in this and not in the other."""
        return self._where(other, lambda here, there: here & ~there)

    def __and__(self, other: Spans) -> Spans:
        """What is in both."""
        return self._where(other, lambda here, there: here & there)

    def __len__(self) -> int:
        """How many stretches there are."""
        return len(self.starts)

    @property
    def total(self) -> int:
        """How many numbers there are."""
        return int((self.ends - self.starts).sum())

    def blocks(self, size: int) -> Iterator[int]:
        """The numbers of the blocks of that size which hold any of them, in order."""
        done = -1
        for start, end in zip(self.starts.tolist(), self.ends.tolist(), strict=True):
            yield from range(max(done + 1, start // size), (end - 1) // size + 1)
            done = max(done, (end - 1) // size)

    def _where(self, other: Spans, wanted: Callable[[Flags, Flags], Flags]) -> Spans:
        places = np.concatenate((self.starts, self.ends, other.starts, other.ends))
        own, others = (len(self), len(self)), (len(other), len(other))
        order = np.argsort(places, kind="stable")
        here = np.cumsum(np.repeat((1, -1, 0, 0), (*own, *others))[order]) > 0
        there = np.cumsum(np.repeat((0, 0, 1, -1), (*own, *others))[order]) > 0
        places = places[order]
        settled = np.append(places[1:] != places[:-1], True)[: len(places)]
        borders, inside = places[settled], wanted(here[settled], there[settled])[:-1]
        return Spans.of(borders[:-1][inside], borders[1:][inside])


def meetings(
    starts: npt.ArrayLike, counts: npt.ArrayLike, owners: npt.ArrayLike
) -> tuple[tuple[int, int], ...]:
    """Which owners hold the same number, as (later owner, earlier owner) in order; each meets at least one.

    Every owner that shares a number with any other is in some pair.
    """
    begin, owner = np.asarray(starts, np.int64), np.asarray(owners, np.int64)
    order = np.argsort(begin, kind="stable")
    begin, owner = begin[order], owner[order]
    end = begin + np.asarray(counts, np.int64)[order]
    reach = np.maximum.accumulate(end)
    grew = np.concatenate(([True], reach[1:] > reach[:-1]))[: len(end)]
    holder = owner[np.maximum.accumulate(np.where(grew, np.arange(len(end)), 0))]
    met = np.flatnonzero(begin[1:] < reach[:-1]) + 1
    pairs = np.stack((owner[met], holder[met - 1]), axis=1)
    pairs = np.unique(np.sort(pairs[pairs[:, 0] != pairs[:, 1]], axis=1)[:, ::-1], axis=0)
    return tuple((int(later), int(earlier)) for later, earlier in pairs)
