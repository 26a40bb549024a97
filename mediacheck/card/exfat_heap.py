"""The clusters of an exFAT volume: where they lie on the medium, who holds them, and their bytes.

It must not know directories, and must not judge.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from mediacheck.card.damages import Damages
from mediacheck.card.exfat_entries import ALLOCATION_POSSIBLE, NO_FAT_CHAIN, StreamRows
from mediacheck.card.exfat_fat import NO_CHAIN, Chain, Fat
from mediacheck.card.exfat_layout import FIRST_CLUSTER, BootSector
from mediacheck.card.medium import Medium
from mediacheck.card.spans import Places
from mediacheck.card.within import Run

_ONE_PIECE = ALLOCATION_POSSIBLE | NO_FAT_CHAIN
PIECE_BYTES = 1 << 18
"""As much is read at once."""


class Heap:
    """The cluster heap. What cannot be read is told as damage and counts as missing: the medium may fail at
    one place and be whole at all others."""

    def __init__(self, medium: Medium, boot: BootSector, damages: Damages) -> None:
        self._medium, self._damages = medium, damages
        self.boot, self.cluster_bytes = boot, boot.cluster_bytes
        self.fat = Fat(boot, self.read, medium.size_bytes)
        self.source, self._start_byte = medium.source, medium.start_byte
        self._is_whole = self._byte(FIRST_CLUSTER + boot.cluster_count) <= medium.size_bytes

    def read(self, start: int, length: int) -> bytes:
        """Bytes from this place of the volume on; fewer, or none, where the medium ends or fails."""
        try:
            return self._medium.read(start, length)
        except OSError as error:
            self._damages.tell(f"byte {start:,} of the card cannot be read ({error.strerror or error})")
            return b""

    def chain(self, first: int, length_bytes: int, *, no_fat_chain: bool) -> Chain:
        """The clusters of a file or folder [6.4.2]; none where it has neither a first one nor a length."""
        if first == 0 and length_bytes == 0:
            return NO_CHAIN
        if no_fat_chain:
            return self.fat.contiguous(first, -(-length_bytes // self.cluster_bytes))
        return self.fat.chain(first)

    def in_one_piece(self, streams: StreamRows) -> npt.NDArray[np.bool_]:
        """Of each file whether it lies in one piece, all of it written and all on the medium, as nearly all
        files do."""
        first, length = streams["first_cluster"].astype(np.uint64), streams["data_length"]
        count = self.clusters_of(length)
        end = np.uint64(self.boot.cluster_count + FIRST_CLUSTER)
        inside = (first >= FIRST_CLUSTER) & (first + count <= end) & (count > 0)
        written = (streams["flags"] == _ONE_PIECE) & (streams["valid_data_length"] == length)
        return np.asarray(inside & written & self._is_whole)

    def clusters_of(self, lengths: npt.NDArray[np.uint64]) -> npt.NDArray[np.uint64]:
        """How many clusters so many bytes need."""
        size = np.uint64(self.cluster_bytes)
        return np.asarray(lengths // size + (lengths % size > 0))

    def clusters(self, chain: Chain) -> Iterator[tuple[int, bytes]]:
        """Number and bytes of its clusters, a large one in pieces; ends where the medium does."""
        for first, count in chain.runs:
            for cluster in range(first, first + count):
                for place in range(0, self.cluster_bytes, PIECE_BYTES):
                    wanted = min(PIECE_BYTES, self.cluster_bytes - place)
                    found = self.read(self._byte(cluster) + place, wanted)
                    yield cluster, found
                    if len(found) < wanted:
                        return

    def pieces(self, chain: Chain, length_bytes: int) -> Iterator[bytes]:
        """That many bytes of a chain, or what there is, in pieces."""
        left = length_bytes
        for first, count in chain.runs:
            start, end = self._byte(first), self._byte(first + count)
            for place in range(start, min(end, start + left), PIECE_BYTES):
                wanted = min(PIECE_BYTES, end - place, left)
                found = self.read(place, wanted)
                yield found
                left -= len(found)
                if len(found) < wanted:
                    return

    def runs(self, chain: Chain, size_bytes: int, valid_bytes: int) -> tuple[Run, ...]:
        """Where a file lies on the whole medium: whole clusters, cut off only where the medium ends, and to
        the byte where less of the file is valid than it has."""
        return tuple(self._runs(chain, size_bytes, valid_bytes))

    def first_byte(self, clusters: Places) -> Places:
        """Where clusters begin on the whole medium."""
        return (clusters - FIRST_CLUSTER) * self.cluster_bytes + (
            self._start_byte + self.boot.heap_start_byte
        )

    def _runs(self, chain: Chain, size_bytes: int, valid_bytes: int) -> Iterator[Run]:
        left = valid_bytes
        for first, count in chain.runs:
            start, size = self._byte(first), count * self.cluster_bytes
            wanted = min(size, left) if valid_bytes < size_bytes else size
            there = min(wanted, self._medium.size_bytes - start)
            if left <= 0 or there <= 0:
                return
            yield Run(self._start_byte + start, there)
            if there < wanted:
                return
            left -= size

    def there_bytes(self, chain: Chain, size_bytes: int) -> int:
        """How many of the first so many bytes lie before the end of the medium."""
        if self._is_whole:
            return min(size_bytes, chain.clusters * self.cluster_bytes)
        return min(size_bytes, sum(run.length_bytes for run in self.runs(chain, size_bytes, size_bytes)))

    def _byte(self, cluster: int) -> int:
        return self.boot.heap_start_byte + (cluster - FIRST_CLUSTER) * self.cluster_bytes


@dataclass(slots=True)
class Claims:
    """Who holds which clusters, in the order in which it was found out."""

    owners: list[str] = field(default_factory=list)
    """What each one is called in a sentence."""
    paths: list[str | None] = field(default_factory=list)
    """Its path, where it is a file."""
    starts: array[int] = field(default_factory=lambda: array("Q"))
    counts: array[int] = field(default_factory=lambda: array("Q"))
    holders: array[int] = field(default_factory=lambda: array("Q"))
    """The number of the owner of each stretch."""

    def add(self, owner: str, chain: Chain, path: str | None = None) -> None:
        """One owner more."""
        for start, count in chain.runs:
            self.starts.append(start)
            self.counts.append(count)
            self.holders.append(len(self.owners))
        self.owners.append(owner)
        self.paths.append(path)

    def add_files(self, paths: Sequence[str], firsts: Sequence[int], clusters: Sequence[int]) -> None:
        """One owner more for each: files that lie in one piece."""
        self.starts.extend(firsts)
        self.counts.extend(clusters)
        self.holders.extend(range(len(self.owners), len(self.owners) + len(paths)))
        self.owners.extend(paths)
        self.paths.extend(paths)
