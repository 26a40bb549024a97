"""Walks through the folders of an exFAT volume, in on-disk order, and lists what they hold.

It must not judge names and checksums: `exfat_names` does, once all are known. Sections in brackets are those
of the "exFAT file system specification", revision 1.00.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import accumulate, pairwise

from mediacheck.card.contents import ENTRY_COST, LISTING_MAX, SLOT_COST, TOO_MANY
from mediacheck.card.damages import Damages, is_unicode, printable
from mediacheck.card.exfat_check import Holder, claim, folder_size_fault, size_faults
from mediacheck.card.exfat_entries import (
    BITMAP,
    DIRECTORY,
    DIRECTORY_BYTES_MAX,
    ENTRY_BYTES,
    LABEL,
    UPCASE_TABLE,
    BitmapEntry,
    StreamEntry,
    UpcaseEntry,
    parse_label,
)
from mediacheck.card.exfat_fat import NO_CHAIN, Chain
from mediacheck.card.exfat_files import Files, Sets
from mediacheck.card.exfat_heap import Claims, Heap
from mediacheck.card.exfat_sets import (
    Directory,
    EntrySet,
    Extra,
    FileSet,
    UsualSets,
    extra_of_primary,
    split,
    stretches,
)

PATH_MAX = 4095
"""Characters; PATH_MAX of Linux, which no player goes beyond (common practice). A folder deeper down is told
of and not entered: names of 255 characters inside each other would fill the memory."""

SET_BYTES_MIN = 3 * ENTRY_BYTES
"""[7.4] no file has fewer entries."""
DOTS = frozenset((".", ".."))
"""Names that [7.7.3] keeps for the folder itself and for the one above it."""

NO_BYTES_KNOWN = "its directory entry is damaged, so nobody knows where its bytes lie"
NOTHING_THERE = "none of its bytes can be found on the card"
NOTHING_WRITTEN = "space was set aside for it, but nothing was ever written to it"
NOT_FOR_US = "its directory entry has parts of a kind that players do not know and must not pass by"
TOO_DEEP = "is nested deeper than computers can open: what is in it was not looked at"


@dataclass(frozen=True, slots=True)
class _Folder:
    path: str
    chain: Chain


@dataclass(slots=True)
class Listing:
    """What the walk found."""

    files: Files = field(default_factory=Files)
    folders: list[str] = field(default_factory=list)
    sets: Sets = field(default_factory=Sets)
    other_sets: list[tuple[str, bytes]] = field(default_factory=list)
    """Benign sets that are no file: whose they are, and their bytes."""
    bitmaps: list[BitmapEntry] = field(default_factory=list)
    upcases: list[UpcaseEntry] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)
    complete: bool = True
    """Whether nothing was left out because the listing grows too long."""


def walk(heap: Heap, claims: Claims, damages: Damages) -> Listing:
    """List everything from the root folder on. What is broken is told, and the rest is listed."""
    walking = _Walk(heap, claims, damages)
    walking.run()
    return walking.listing


class _Walk:
    """Folder by folder, from a list that grows: no depth of folders overruns the stack."""

    def __init__(self, heap: Heap, claims: Claims, damages: Damages) -> None:
        self.heap, self.claims, self.damages = heap, claims, damages
        self.listing = Listing()
        self.read: set[int] = set()
        """Clusters that were listed already, so that no folder is listed twice and no walk is endless."""
        self.begun: dict[int, str] = {}
        """First cluster of each folder, and what the folder is called."""
        self.number = 0
        self.spent = 0
        """Of `LISTING_MAX`."""

    def run(self) -> None:
        root = self.heap.boot.first_cluster_of_root_directory
        chain = self.heap.fat.chain(root)
        self.begun[root] = place("")
        self._claim(Holder(place(""), chain.clusters * self.heap.cluster_bytes), chain)
        waiting = [_Folder("", chain)]
        while waiting and self.listing.complete:
            waiting.extend(reversed(self._list(waiting.pop())))
            self.number += 1
        if not self.listing.complete:
            self.damages.tell(TOO_MANY)

    def _list(self, folder: _Folder) -> list[_Folder]:
        """Take down what stands in one folder, and return the folders in it."""
        if folder.path:
            self.listing.folders.append(folder.path)
        found, known = split(b"".join(self._bytes(folder))), len(self.listing.sets.who)
        self._tell_directory(folder, found)
        within: list[_Folder] = []
        for files in found.files:
            within.extend(
                self._take_usual(folder, files) if isinstance(files, UsualSets) else self._take(folder, files)
            )
        for entry_set in found.others:
            if entry_set.is_benign:
                self._pass_by(folder, entry_set)
            elif not (not folder.path and self._take_special(entry_set)):
                self.damages.tell(f"{place(folder.path)} has an entry that does not belong there")
        taken = self.listing.sets.who[known:]
        self.spent += len(taken) * ENTRY_COST + sum(map(len, taken))
        return within

    def _bytes(self, folder: _Folder) -> Iterator[bytes]:
        """The bytes of a directory up to the mark of its end, and what stands behind that in its cluster."""
        size, before = 0, -1
        most = (LISTING_MAX - self.spent) // (ENTRY_COST + len(folder.path)) * SET_BYTES_MIN
        for cluster, data in self.heap.clusters(folder.chain):
            if cluster != before and cluster in self.read:
                return  # `meetings` tells of it
            self.read.add(cluster)
            before = cluster
            yield data
            size += len(data)
            self.spent += len(data) // ENTRY_BYTES * SLOT_COST
            if 0 in data[::ENTRY_BYTES]:
                return
            if size >= most:
                self.listing.complete = False
                return
            if size >= DIRECTORY_BYTES_MAX:
                return  # `folder_size_fault` tells of it

    def _tell_directory(self, folder: _Folder, found: Directory) -> None:
        where = place(folder.path)
        if found.loose:
            self.damages.tell(f"{where} has parts of entries that belong to no file ({found.loose:,})")
        if found.behind_end:
            self.damages.tell(
                f"{where} has files behind its end, where no player looks ({found.behind_end:,})"
            )

    def _take_special(self, found: EntrySet) -> bool:
        """Take down an entry that only the root folder has [6.3.1.2.1]."""
        if found.kind == BITMAP:
            self.listing.bitmaps.append(BitmapEntry.parse(found.raw))
        elif found.kind == UPCASE_TABLE:
            self.listing.upcases.append(UpcaseEntry.parse(found.raw))
        elif found.kind == LABEL:
            self.listing.labels.append(parse_label(found.raw))
        else:
            return False
        return True

    def _pass_by(self, folder: _Folder, found: EntrySet) -> None:
        """An entry that need not be known; the clusters that it may have are its own [8.2]."""
        who = f"an entry of {place(folder.path)} that is no file"
        self._claim_extras(who, extra_of_primary(found))
        if found.is_whole:
            self.listing.other_sets.append((who, found.raw))
        else:
            self.damages.tell(f"{who} breaks off")

    def _take_usual(self, folder: _Folder, found: UsualSets) -> Iterator[_Folder]:
        """Take down many; what is done for a file in one piece is done for all of them at once."""
        is_file = found.attributes & DIRECTORY == 0
        for is_plain, first, behind in stretches(self.heap.in_one_piece(found.streams) & is_file):
            some = found.part(first, behind)
            if is_plain:
                self._take_plain(folder, some)
            else:
                yield from (inner for file in some.one_by_one() for inner in self._take(folder, file))

    def _take_plain(self, folder: _Folder, found: UsualSets) -> None:
        """Take down files that follow each other, and each of which lies in one piece."""
        shown, valid = _shown(found.names)
        paths = [f"{folder.path}/{name}" for name in shown] if folder.path else shown
        clusters = self.heap.clusters_of(found.streams["data_length"]).tolist()
        self.listing.files.add_in_one_piece(paths, valid, found, clusters)
        self.listing.sets.add_files(paths, self.number, found)
        self.claims.add_files(paths, found.streams["first_cluster"].tolist(), clusters)

    def _take(self, folder: _Folder, found: FileSet) -> list[_Folder]:
        """Take down a file, or a folder that is still to be listed."""
        name = str(found.name, "utf-16-le", "surrogatepass") or f"(no name, {len(self.listing.sets.who) + 1})"
        shown = printable(name)
        path = f"{folder.path}/{shown}" if folder.path else shown
        is_folder = bool(found.raw[4] & DIRECTORY)
        who = place(path) if is_folder else path
        self.listing.sets.add(who, None if is_folder else path, self.number, found)
        if found.extras:
            self._claim_extras(f"an extra part of {who}", found.extras)
        if is_folder:
            return self._take_folder(path, who, found.stream)
        self._take_file(path, found, shown == name or is_unicode(name))
        return []

    def _take_folder(self, path: str, who: str, stream: StreamEntry | None) -> list[_Folder]:
        if stream is None:
            self.damages.tell(f"what is in {who} cannot be found: {NO_BYTES_KNOWN}")
            self.listing.folders.append(path)
            return []
        first = stream.first_cluster
        if first in self.begun:
            self.damages.tell(f"{who} leads to {self.begun[first]} instead of to what should be in it")
            self.listing.folders.append(path)
            return []
        chain = self._chain(who, None, stream)
        if fault := folder_size_fault(who, stream.data_length, self.heap):
            self.damages.tell(fault)
        if chain.runs:
            self.begun[first] = who
        if len(path) > PATH_MAX:
            self.damages.tell(f"{who[:80]}... {TOO_DEEP}")
            return []
        return [_Folder(path, chain)]

    def _take_file(self, path: str, found: FileSet, valid_name: bool) -> None:
        stream = found.stream
        chain = self._chain(path, path, stream) if stream else NO_CHAIN
        size = stream.data_length if stream else 0
        valid = min(size, stream.valid_data_length) if stream else 0
        runs = self.heap.runs(chain, size, valid)
        self.listing.files.add(path, valid_name, found, runs, _unusable(found, valid, bool(runs)))

    def _chain(self, who: str, path: str | None, stream: StreamEntry) -> Chain:
        """The clusters that a stream entry tells of, claimed, with what is wrong told."""
        size = stream.data_length
        chain = self.heap.chain(stream.first_cluster, size, no_fat_chain=stream.no_fat_chain)
        for fault in size_faults(who, stream):
            self.damages.tell(fault, path)
        self._claim(Holder(who, size, path), chain)
        return chain

    def _claim_extras(self, who: str, extras: tuple[Extra, ...]) -> None:
        for extra in extras:
            cluster, length, no_fat_chain = extra
            chain = self.heap.chain(cluster, length, no_fat_chain=no_fat_chain)
            self._claim(Holder(who, length), chain)

    def _claim(self, holder: Holder, chain: Chain) -> None:
        claim(self.heap, self.claims, self.damages, holder, chain)


def place(folder: str) -> str:
    """A folder as a person would say it; "" is the root."""
    return f"the folder {folder}" if folder else "the root folder"


def _shown(names: Sequence[bytes]) -> tuple[list[str], list[bool]]:
    """Names as they can stand in a path, and of each whether it is valid Unicode."""
    together = b"".join(names)
    text = str(together, "utf-16-le", "surrogatepass")
    ends = [*accumulate((len(name) // 2 for name in names), initial=0)]
    found = [text[start:end] for start, end in pairwise(ends)]
    if 2 * len(text) == len(together) and printable(text) == text and DOTS.isdisjoint(found):
        return found, [True] * len(names)
    found = [str(name, "utf-16-le", "surrogatepass") for name in names]
    return [*map(printable, found)], [*map(is_unicode, found)]


def _unusable(found: FileSet, valid: int, has_runs: bool) -> str | None:
    if found.stream is None:
        return NO_BYTES_KNOWN
    if found.unknown:
        return NOT_FOR_US
    if found.stream.data_length and not has_runs:
        return NOTHING_THERE if valid else NOTHING_WRITTEN
    return None
