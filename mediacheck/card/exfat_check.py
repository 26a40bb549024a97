"""What is wrong with the clusters of an exFAT volume: chains against sizes, each other and the bitmap.

It must not read a medium. Sections in brackets are those of the "exFAT file system specification", revision
1.00.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from mediacheck.card.damages import Damages
from mediacheck.card.exfat_entries import ALLOCATION_POSSIBLE, DIRECTORY_BYTES_MAX, StreamEntry
from mediacheck.card.exfat_fat import Chain
from mediacheck.card.exfat_heap import Claims, Heap
from mediacheck.card.spans import Spans, meetings


class Holder(NamedTuple):
    """Somebody who holds clusters."""

    who: str
    """What it is called in a sentence."""
    size_bytes: int
    path: str | None = None
    """Its path, where it is a file."""


def claim(heap: Heap, claims: Claims, damages: Damages, holder: Holder, chain: Chain) -> None:
    """Take down who holds the clusters of a chain, and tell what is wrong with it."""
    claims.add(holder.who, chain, holder.path)
    fault = chain_fault(holder.who, chain, holder.size_bytes, heap)
    if fault:
        damages.tell(fault, holder.path)


def chain_fault(who: str, chain: Chain, size_bytes: int, heap: Heap) -> str | None:
    """What is wrong with the chain of a file or folder of that size, as a clause."""
    held = chain.clusters * heap.cluster_bytes
    if chain.ending == "end":
        return _length_fault(who, chain, size_bytes, heap)
    if not held:
        return f"{who} starts at a cluster that the card does not have"
    first = f"only its first {min(held, size_bytes):,} bytes can be found"
    return {
        "loop": f"the chain of clusters of {who} leads in a circle: {first}",
        "bad": f"{who} lies on a cluster that is marked as bad: {first}",
        "outside": f"the chain of clusters of {who} leads to a cluster that the card does not have: {first}",
        "past": f"{who} runs past the last cluster of the card: {first}",
        "tangled": f"the chain of clusters of {who} is too tangled to follow: {first}",
    }[chain.ending]


def folder_size_fault(who: str, size_bytes: int, heap: Heap) -> str | None:
    """What is wrong with the size of a folder: it is that of all its clusters [7.6.7]."""
    if size_bytes > DIRECTORY_BYTES_MAX:
        return f"{who} is larger than exFAT allows"
    if size_bytes % heap.cluster_bytes:
        return f"{who} has a size that is not that of its clusters"
    return None


def _length_fault(who: str, chain: Chain, size_bytes: int, heap: Heap) -> str | None:
    held = chain.clusters * heap.cluster_bytes
    if held < size_bytes:
        return f"{who} ends early: it should have {size_bytes:,} bytes, and its clusters hold {held:,}"
    spare = chain.clusters - -(-size_bytes // heap.cluster_bytes)
    if spare:
        return f"{who} holds more clusters than its {size_bytes:,} bytes need ({spare:,} too many)"
    there = heap.there_bytes(chain, size_bytes)
    if there < size_bytes:
        return f"{who} runs past the end of the medium: only {there:,} of its {size_bytes:,} bytes are there"
    return None


def size_faults(who: str, stream: StreamEntry) -> Iterator[str]:
    """What is wrong with the sizes and flags of a stream entry [7.6], as clauses.

    Bytes beyond ValidDataLength read as zeros [7.6.5]: the system set them aside and nothing was written
    there. A copy that was finished has none, so that they are damage; the file breaks off there.
    """
    size, valid = stream.data_length, stream.valid_data_length
    if valid > size:
        yield f"{who} says that {valid:,} of its {size:,} bytes were written"
    elif valid < size:
        yield f"{who} was not written to its end: only {valid:,} of its {size:,} bytes are there"
    if stream.no_fat_chain and not size:
        yield f"{who} is empty, and yet said to lie in one piece"
    if size and not stream.flags & ALLOCATION_POSSIBLE:
        yield f"{who} has bytes, and yet is said to have no place for any"


def tell_shared(claims: Claims, damages: Damages) -> None:
    """Who lies on clusters of somebody else."""
    for later, earlier in meetings(claims.starts, claims.counts, claims.holders):
        one, other = (later, earlier) if claims.paths[later] else (earlier, later)
        what = f"{claims.owners[one]} shares clusters with {claims.owners[other]}: one of them is destroyed"
        damages.tell(what, claims.paths[one])


def tell_bitmap(claims: Claims, taken: Spans, heap: Heap, damages: Damages) -> None:
    """What the allocation bitmap [7.1.5] and the chains say differently of the same clusters."""
    starts, counts = np.asarray(claims.starts, np.int64), np.asarray(claims.counts, np.int64)
    held = Spans.of(starts, starts + counts)
    overwritable = held - taken
    if overwritable:
        _tell_overwritable(claims, overwritable, damages)
    lost = taken - held
    lost -= heap.fat.bad_among(lost)  # a bad cluster counts as taken [7.1.5.1]
    if lost:
        size = lost.total * heap.cluster_bytes
        what = f"some clusters count as taken, but belong to no file ({lost.total:,}, {size:,} bytes)"
        damages.tell(what, only_writing=True)


def _tell_overwritable(claims: Claims, free: Spans, damages: Damages) -> None:
    starts, counts = np.asarray(claims.starts, np.int64), np.asarray(claims.counts, np.int64)
    hit = np.searchsorted(free.ends, starts, side="right") < np.searchsorted(free.starts, starts + counts)
    for owner in np.unique(np.asarray(claims.holders, np.int64)[hit]).tolist():
        what = f"{claims.owners[owner]} lies on clusters that count as free: the next file may overwrite it"
        damages.tell(what, claims.paths[owner], only_writing=True)
