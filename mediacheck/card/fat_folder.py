"""Walks the folders of a FAT volume, level by level, and takes down everything that they list.

It must not read a file, and must not judge the chains of clusters: `fat_check` does.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from mediacheck.card.contents import ENTRY_COST, LISTING_MAX, SLOT_COST, TOO_MANY
from mediacheck.card.damages import Damages
from mediacheck.card.fat_boot import FIRST_CLUSTER, Geometry, held_bytes
from mediacheck.card.fat_chains import Chains, Follower
from mediacheck.card.fat_entries import (
    DOT,
    DOT_DOT,
    Rows,
    heads_of,
    is_dots,
    is_label,
    is_row,
    place,
    rows_of,
)
from mediacheck.card.fat_layout import FAT32
from mediacheck.card.fat_names import Slots
from mediacheck.card.fat_slots import (
    DELETED,
    DIRECTORY,
    DIRECTORY_SLOTS_MAX,
    END_MARK,
    SHORT_SLOTS,
    SLOT_BYTES,
    ShortEntry,
)
from mediacheck.card.fat_table import ENDS, Places
from mediacheck.card.medium import Medium, read_or_nothing

ROOT = 0
PATH_LENGTH_MAX = 1_024
"""Folders below so long a path are not looked into (the specification allows 260 characters)."""
GROUP_BYTES = 8 << 20
"""So much of the folders of one level is looked at together."""
DIRECTORY_BYTES_MAX = DIRECTORY_SLOTS_MAX * SLOT_BYTES


@dataclass(slots=True)
class Folder:
    """One folder, by its place in the walk; number 0 is the root."""

    path: str
    parent: int
    head: int
    size_bytes: int = 0
    """What its entry says, and should be 0."""
    inside: list[int] = field(default_factory=list)
    """The folders in it, in the order of the disk."""
    runs: list[tuple[int, int]] = field(default_factory=list)
    """Where it lies: first cluster and length. None for one that lies in the place of another."""
    state: int = ENDS
    """How its chain ends, as in `fat_chains`."""

    @property
    def prefix(self) -> str:
        """What goes before the name of a thing in it."""
        return f"{self.path}/" if self.path else ""


@dataclass(frozen=True, slots=True)
class Listing:
    """What all folders list."""

    folders: tuple[Folder, ...]
    rows: tuple[Rows, ...]
    """Files and folders of each level; the folders of a level stand in the order of their numbers."""
    label: bytes | None
    """The 11 bytes of the volume's label in the root folder."""
    complete: bool
    """Whether nothing was left out because the paths grow too long, or the listing."""
    order: tuple[int, ...]
    """The numbers of the folders in the order of the disk, each before the folders in it."""


def list_folders(medium: Medium, geometry: Geometry, follower: Follower, damages: Damages) -> Listing:
    """Everything that the folders of a volume list. Raises OSError."""
    walk = _Walk(medium, geometry, follower, damages, held_bytes(medium))
    level = [ROOT]
    while level:
        level = walk.take(level)
    folders = tuple(walk.folders)
    return Listing(folders, tuple(walk.rows), walk.label, walk.complete, tuple(_order(folders)))


@dataclass(slots=True)
class _Walk:
    """The walk through the folders of one volume."""

    medium: Medium
    geometry: Geometry
    follower: Follower
    damages: Damages
    held_bytes: int
    folders: list[Folder] = field(default_factory=list)
    rows: list[Rows] = field(default_factory=list)
    label: bytes | None = None
    complete: bool = True
    listed: dict[int, int] = field(default_factory=dict)
    """Which folder each cluster was read as a part of: none is read twice."""
    spent: int = 0
    """Of `LISTING_MAX`."""
    is_full: bool = False

    def __post_init__(self) -> None:
        self.folders.append(Folder("", ROOT, self.geometry.root_cluster))

    def take(self, level: list[int]) -> list[int]:
        """Take down what the folders of one level list, and return the numbers of the folders in them."""
        return [number for group in self._slots(level) for number in self._take(*group)]

    def _take(self, slots: Slots, folder: Places) -> list[int]:
        self._take_labels(slots, folder)
        self._check_other_dots(slots, folder)
        kept = self._affordable(slots, folder)
        prefixes = {number: self.folders[number].prefix for number in np.unique(folder).tolist()}
        rows = rows_of(slots[:kept], folder[:kept], prefixes, self.damages)
        self.rows.append(rows)
        self.spent += kept * SLOT_COST + len(rows.paths) * ENTRY_COST + sum(map(len, rows.paths))
        return [number for folder in self._inside(rows) if (number := self._enter(folder)) is not None]

    def _inside(self, rows: Rows) -> Iterator[Folder]:
        chosen = np.flatnonzero(rows.is_folder)
        slots = rows.slots[chosen]
        heads, sizes = heads_of(slots, self.geometry.type).tolist(), slots["size"].tolist()
        paths = [rows.paths[row] for row in chosen.tolist()]
        return map(Folder, paths, rows.folder[chosen].tolist(), heads, sizes)

    def _enter(self, folder: Folder) -> int | None:
        """Note one more folder; its number, if it is to be looked into."""
        number, path = len(self.folders), folder.path
        self.folders.append(folder)
        self.folders[folder.parent].inside.append(number)
        if len(path) <= PATH_LENGTH_MAX:
            return number
        self.complete = False
        self.damages.tell("a folder lies so deep in other folders that it was not looked into", path)
        return None

    def _slots(self, level: list[int]) -> Iterator[tuple[Slots, Places]]:
        """The slots of some folders, with the number of the folder for each; not more at once than needed."""
        heads = np.array([self.folders[number].head for number in level], np.int64)
        chains = self.follower.follow(heads)
        found: dict[int, bytes] = {}
        size = 0
        for row, number in enumerate(level):
            found[number] = self._read(number, chains, row)
            size += len(found[number])
            if size >= GROUP_BYTES or row == len(level) - 1:
                group = _together(found)
                found, size = {}, 0  # not kept while the group is looked at
                yield group
            if self.is_full:
                return

    def _read(self, number: int, chains: Chains, row: int) -> bytes:
        """The slots of one folder, up to its end mark."""
        folder = self.folders[number]
        if number == ROOT and self.geometry.type is not FAT32:
            sector = self.geometry.sector_bytes
            sectors = -(-self.geometry.root_bytes // sector)
            raw = self._units(folder, self.geometry.root_start_byte, sectors, sector)
            if len(raw) < self.geometry.root_bytes:
                self.damages.tell(
                    "the root folder runs past the end of the card: what was in it cannot be found"
                )
            return _up_to_end(raw[: self.geometry.root_bytes])
        folder.state = int(chains.state[row])
        if folder.head in self.listed:
            self.damages.tell_each((folder,), self._again)
            return b""
        folder.runs = chains.runs(row)
        raw = _up_to_end(b"".join(self._pieces(number, folder)))
        if number != ROOT and folder.runs and self._byte_of(folder.head) < self.held_bytes:
            self._check_dots(folder, raw[:SLOT_BYTES], raw[SLOT_BYTES : 2 * SLOT_BYTES])
        return raw

    def _pieces(self, number: int, folder: Folder) -> Iterator[bytes]:
        """The bytes of a folder, up to the first cluster that was read as a part of another one."""
        wanted = -(-DIRECTORY_BYTES_MAX // self.geometry.cluster_bytes)
        if sum(length for _, length in folder.runs) > wanted:
            self.damages.tell(f"{place(folder.prefix)} is longer than a folder can be", folder.path or None)
        for start, length in folder.runs:
            there = (self.held_bytes - self._byte_of(start)) // self.geometry.cluster_bytes + 1
            clusters = range(start, start + max(0, min(length, there, wanted)))
            fresh = next((c - start for c in clusters if c in self.listed), len(clusters))
            self.listed.update(dict.fromkeys(clusters[:fresh], number))
            yield self._units(folder, self._byte_of(start), fresh, self.geometry.cluster_bytes)
            wanted -= fresh
            if fresh < length:
                break

    def _units(self, folder: Folder, start_byte: int, count: int, size_bytes: int) -> bytes:
        """So many sectors or clusters of a folder; one that cannot be read is filled with deleted entries."""
        try:
            return self.medium.read(start_byte, count * size_bytes)
        except OSError:
            places = range(start_byte, start_byte + count * size_bytes, size_bytes)
            pieces = [read_or_nothing(self.medium, at, size_bytes) for at in places]
            told = "cannot be read (the card is worn out): files may be missing"
            self.damages.tell(f"a part of {place(folder.prefix)} {told}", folder.path or None)
            return b"".join(piece or bytes([DELETED]) * size_bytes for piece in pieces)

    def _byte_of(self, cluster: int) -> int:
        return self.geometry.data_start_byte + (cluster - FIRST_CLUSTER) * self.geometry.cluster_bytes

    def _again(self, folder: Folder) -> tuple[str, str]:
        """That a folder lies where another one was read before."""
        other = self.folders[self.listed[folder.head]]
        above = not other.path or f"{folder.path}/".startswith(other.prefix)
        way = "leads back to" if above else "lies in the same place as"
        told = f"the folder {folder.path} {way} {place(other.prefix)}: what was in it cannot be found"
        return told, folder.path

    def _check_dots(self, folder: Folder, *slots: bytes) -> None:
        """The first two slots stand for the folder itself and for the one above it, where 0 is the root."""
        if tuple(slot[:11] for slot in slots) != (DOT, DOT_DOT):
            what = "does not begin with the entries for itself and the folder above it (. and ..)"
            self.damages.tell(f"the folder {folder.path} {what}", folder.path)
            return
        above = 0 if folder.parent == ROOT else self.folders[folder.parent].head
        for slot, head, whom in zip(
            slots, (folder.head, above), (". (itself)", ".. (the one above)"), strict=True
        ):
            entry = ShortEntry.parse(slot)
            high = entry.cluster_high << 16 if self.geometry.type is FAT32 else 0
            if (entry.cluster_low | high, entry.attributes & DIRECTORY) != (head, DIRECTORY):
                what = f"has an entry for {whom} that leads elsewhere"
                self.damages.tell(f"the folder {folder.path} {what}", folder.path)

    def _check_other_dots(self, slots: Slots, folder: Places) -> None:
        """The entries `.` and `..` belong at the beginning of every folder but the root, and nowhere else."""
        found = np.flatnonzero(is_dots(slots))
        wrong = found[(folder[found] == ROOT) | (found - np.searchsorted(folder, folder[found]) > 1)]
        for number in np.unique(folder[wrong]).tolist():
            home = self.folders[number]
            told = (
                f"{place(home.prefix)} holds an entry for itself or the folder above it that does not belong"
            )
            self.damages.tell(told, home.path or None)

    def _take_labels(self, slots: Slots, folder: Places) -> None:
        """The label of the volume is the first one in the root; no other belongs anywhere."""
        labels = np.flatnonzero(is_label(slots)).tolist()
        if labels and folder[labels[0]] == ROOT:
            self.label = bytes(slots["name"][labels.pop(0)])
        for slot in labels:
            home = self.folders[int(folder[slot])]
            self.damages.tell(f"{place(home.prefix)} holds a label of the card that does not belong there")

    def _affordable(self, slots: Slots, folder: Places) -> int:
        """How many of these slots can be taken down."""
        numbers, place_of = np.unique(folder, return_inverse=True)
        above = np.array([len(self.folders[number].prefix) for number in numbers.tolist()], np.int64)
        if self.spent + len(slots) * (SLOT_COST + ENTRY_COST + above.max(initial=0)) <= LISTING_MAX:
            return len(slots)
        cost = SLOT_COST + is_row(slots) * (ENTRY_COST + above[place_of])
        kept = int(np.searchsorted(np.cumsum(cost), LISTING_MAX - self.spent, side="right"))
        if kept < len(slots):
            self.complete, self.is_full = False, True
            self.damages.tell(TOO_MANY)
        return kept


def _together(found: dict[int, bytes]) -> tuple[Slots, Places]:
    counts = [len(raw) // SLOT_BYTES for raw in found.values()]
    numbers = np.array([*found], np.int64)
    return np.frombuffer(b"".join(found.values()), SHORT_SLOTS), np.repeat(numbers, counts)


def _order(folders: tuple[Folder, ...]) -> Iterator[int]:
    waiting = [ROOT]
    while waiting:
        number = waiting.pop()
        yield number
        waiting.extend(reversed(folders[number].inside))


def _up_to_end(raw: bytes) -> bytes:
    """The slots before the end mark: what lies behind it was never used."""
    slots = raw[: len(raw) // SLOT_BYTES * SLOT_BYTES]
    end = slots[::SLOT_BYTES].find(bytes([END_MARK]))
    return slots if end < 0 else slots[: end * SLOT_BYTES]
