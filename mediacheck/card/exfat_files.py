"""The files of an exFAT volume as columns while it is walked, and as entries at its end.

It must not read a medium and must not judge. A card may hold tens of thousands of files: what is the same for
each of them is done for all at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from mediacheck.card.bulk import records
from mediacheck.card.exfat_entries import ATTRIBUTES, ENTRY_BYTES, parse_times
from mediacheck.card.exfat_heap import Heap
from mediacheck.card.exfat_sets import FileSet, UsualSets
from mediacheck.card.model import Entry
from mediacheck.card.within import Run, Within

_ATTRIBUTES = tuple(frozenset(word for bit, word in ATTRIBUTES if bits & bit) for bits in range(256))


@dataclass(slots=True)
class Sets:
    """The entry sets of files and folders, one row for each, as they are found."""

    who: list[str] = field(default_factory=list)
    """What each is called in a sentence."""
    paths: list[str | None] = field(default_factory=list)
    """Its path, where it is a file."""
    folders: list[int] = field(default_factory=list)
    """The number of the folder that it stands in."""
    raw: list[bytes] = field(default_factory=list)
    names: list[bytes] = field(default_factory=list)
    hashes: list[int] = field(default_factory=list)
    """As stored; -1 where there is none."""
    faults: list[str | None] = field(default_factory=list)

    def add(self, who: str, path: str | None, folder: int, found: FileSet) -> None:
        """One more."""
        self.who.append(who)
        self.paths.append(path)
        self.folders.append(folder)
        self.raw.append(found.raw)
        self.names.append(found.name)
        self.hashes.append(found.stream.name_hash if found.stream else -1)
        self.faults.append(found.fault)

    def add_files(self, paths: Sequence[str], folder: int, found: UsualSets) -> None:
        """Files of one folder that have all their parts."""
        self.who.extend(paths)
        self.paths.extend(paths)
        self.folders.extend([folder] * len(paths))
        self.raw.extend(found.raw)
        self.names.extend(found.names)
        self.hashes.extend(found.streams["name_hash"].tolist())
        self.faults.extend([None] * len(paths))


@dataclass(slots=True)
class Files:
    """The files, one row for each, in on-disk order."""

    paths: list[str] = field(default_factory=list)
    valid_names: list[bool] = field(default_factory=list)
    raw: list[bytes] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    unusable: list[str | None] = field(default_factory=list)
    first_clusters: list[int] = field(default_factory=list)
    clusters: list[int] = field(default_factory=list)
    """How many follow each other from the first one on, where a file lies in one piece; else 0."""
    runs: dict[int, tuple[Run, ...]] = field(default_factory=dict)
    """By row, those of the other files."""

    def add(
        self, path: str, valid_name: bool, found: FileSet, runs: tuple[Run, ...], unusable: str | None
    ) -> None:
        """One more, wherever it lies."""
        self.runs[len(self.paths)] = runs
        self.paths.append(path)
        self.valid_names.append(valid_name)
        self.raw.append(found.raw)
        self.sizes.append(found.stream.data_length if found.stream else 0)
        self.unusable.append(unusable)
        self.first_clusters.append(0)
        self.clusters.append(0)

    def add_in_one_piece(
        self, paths: Sequence[str], valid_names: Sequence[bool], found: UsualSets, clusters: Sequence[int]
    ) -> None:
        """Many more, each in one piece of so many clusters."""
        self.paths.extend(paths)
        self.valid_names.extend(valid_names)
        self.raw.extend(found.raw)
        self.sizes.extend(found.streams["data_length"].tolist())
        self.unusable.extend([None] * len(paths))
        self.first_clusters.extend(found.streams["first_cluster"].tolist())
        self.clusters.extend(clusters)

    def entries(self, heap: Heap) -> list[Entry]:
        """All of them."""
        count = len(self.paths)
        if not count:
            return []
        places = records(Within, [heap.source] * count, self._runs(heap), self.sizes)
        first = np.frombuffer(b"".join([raw[:ENTRY_BYTES] for raw in self.raw]), np.uint8)
        entries = first.reshape(-1, ENTRY_BYTES)
        created, modified = parse_times(entries)
        attributes = [_ATTRIBUTES[bits] for bits in entries[:, 4].tolist()]
        return records(
            Entry,
            *(self.paths, self.sizes, range(count), places, self.unusable, self.valid_names),
            *([None] * count, attributes, created, modified),
        )

    def _runs(self, heap: Heap) -> list[tuple[Run, ...]]:
        starts = heap.first_byte(np.array(self.first_clusters, np.int64))
        lengths = np.array(self.clusters, np.int64) * heap.cluster_bytes
        found: list[tuple[Run, ...]] = list(zip(records(Run, starts.tolist(), lengths.tolist()), strict=True))
        for row, runs in self.runs.items():
            found[row] = runs
        return found
