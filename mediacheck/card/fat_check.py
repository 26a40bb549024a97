"""Holds the parts of a FAT volume against each other: chains, sizes, counts and copies.

It must not list anything, and must not correct anything.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from mediacheck.card.damages import Damages
from mediacheck.card.fat_boot import FIRST_CLUSTER, Geometry
from mediacheck.card.fat_chains import CUT, LOOPS, NOWHERE, Chains
from mediacheck.card.fat_entries import place
from mediacheck.card.fat_files import Files
from mediacheck.card.fat_folder import Folder, Listing
from mediacheck.card.fat_layout import BOOT_BYTES, UNKNOWN, BootSector, FsInfo
from mediacheck.card.fat_table import ENDS, OUTSIDE, TO_BAD, TO_FREE, Differences, Flags, Places, Table
from mediacheck.card.medium import Medium, read_or_nothing

LOST_FOLDER = {
    NOWHERE: "has no place on the card",
    OUTSIDE: "leads outside the card",
    TO_FREE: "leads into clusters that are marked as free",
    TO_BAD: "leads into a cluster that is marked as bad",
    LOOPS: "leads in a circle: its chain of clusters has no end",
    CUT: "crosses so many others that it was not followed to its end",
}
BEGINS = {
    NOWHERE: "has no place on the card",
    OUTSIDE: "begins outside the card",
    TO_FREE: "begins in a cluster that is marked as free",
    TO_BAD: "begins in a cluster that is marked as bad",
}
BREAKS = {
    OUTSIDE: "breaks off: its chain of clusters leads outside the card",
    TO_FREE: "breaks off: its chain of clusters runs into free clusters",
    TO_BAD: "breaks off: its chain of clusters runs into a cluster that is marked as bad",
    LOOPS: "leads in a circle: its chain of clusters has no end",
    CUT: "crosses so many others that its clusters were not followed to the end",
}
"""How a chain goes wrong, by its state: of a folder, of a file at its first cluster, of a file later on."""


@dataclass(frozen=True, slots=True)
class Claims:
    """All runs of clusters that files and folders lie in, by first cluster, ascending."""

    starts: Places
    ends: Places
    """The cluster behind each."""
    owners: Places
    """The number of the file, or of the files and the number of the folder together."""
    reach: Places
    """The greatest of `ends` up to each."""

    @property
    def covered(self) -> int:
        """How many clusters there are, each counted once."""
        before = np.concatenate((np.zeros(1, np.int64), self.reach[:-1]))[: len(self.reach)]
        return int(np.maximum(0, self.ends - np.maximum(self.starts, before)).sum())

    def owners_of(self, clusters: Places) -> list[int]:
        """Who lies in these clusters, ascending, each once."""
        if not len(self.starts):
            return []
        run = np.maximum(0, np.searchsorted(self.starts, clusters, side="right") - 1)
        inside = (clusters >= self.starts[run]) & (clusters < self.ends[run])
        found: list[int] = np.unique(self.owners[run[inside]]).tolist()
        return found


def claims_of(files: Files, folders: tuple[Folder, ...]) -> Claims:
    """Collect the runs of all files and folders."""
    below = [(*run, number) for number, folder in enumerate(folders) for run in folder.runs]
    folder = np.array(below, np.int64).reshape(-1, 3)
    starts = np.concatenate((files.chains.starts, folder[:, 0]))
    lengths = np.concatenate((files.chains.lengths, folder[:, 1]))
    owners = np.concatenate((files.chains.owners, folder[:, 2] + len(files.paths)))
    order = np.argsort(starts, kind="stable")
    ends = (starts + lengths)[order]
    return Claims(starts[order], ends, owners[order], np.maximum.accumulate(ends))


def check_folders(folders: tuple[Folder, ...], geometry: Geometry, held_bytes: int, damages: Damages) -> None:
    """Tell which folders cannot be followed to their end, or lie past the end of the medium, which holds so
    many bytes."""
    for folder in folders:
        name, path = place(folder.prefix), folder.path or None
        if folder.state in LOST_FOLDER:
            damages.tell(f"{name} {LOST_FOLDER[folder.state]}: what was in it may not be found", path)
        if folder.runs and not _held(folder.runs[0], geometry, held_bytes):
            damages.tell(f"{name} lies past the end of the card: what was in it cannot be found", path)
        if folder.size_bytes:
            damages.tell(f"{name} is noted with a size, which no folder has", path)


def check_files(files: Files, geometry: Geometry, held_bytes: int, damages: Damages) -> dict[int, str]:
    """Tell which files have chains that do not hold what their size says, or lie past the end of the medium,
    which holds so many bytes. Returns why nothing of a file can be read, by its number."""
    sizes, clusters, state = files.sizes_bytes, files.chains.clusters, files.chains.state
    sound = (state == ENDS) | ((state == NOWHERE) & (sizes == 0))
    wrong = np.flatnonzero(~sound | (clusters != -(-sizes // geometry.cluster_bytes)))
    damages.tell_each(wrong.tolist(), lambda number: _fault(files, number, geometry))
    there = _held_bytes(files.chains, geometry, held_bytes)
    beyond = np.flatnonzero(there < np.minimum(sizes, clusters * geometry.cluster_bytes))
    damages.tell_each(beyond.tolist(), lambda number: _past_end(files, number, int(there[number])))
    lost = np.flatnonzero((clusters == 0) & (sizes > 0))
    unusable = {
        n: f"a file that {BEGINS[s]}" for n, s in zip(lost.tolist(), state[lost].tolist(), strict=True)
    }
    return unusable | dict.fromkeys(
        beyond[there[beyond] == 0].tolist(), "a file that lies past the end of the card"
    )


def check_shared(files: Files, folders: tuple[Folder, ...], claims: Claims, damages: Damages) -> None:
    """Tell which files and folders lie in the same clusters."""
    count = len(files.paths)

    def name(owner: int) -> str:
        return files.paths[owner] if owner < count else place(folders[owner - count].prefix)

    def fault(pair: tuple[int, int]) -> tuple[str, str | None]:
        one, other = pair
        path = files.paths[one] if one < count else folders[one - count].path or None
        return f"{name(one)} shares clusters with {name(other)}: one of them is destroyed", path

    damages.tell_each(_sharing(claims, count), fault)


def check_lost(
    claims: Claims, listing: Listing, files: Files, table: Table, geometry: Geometry, damages: Damages
) -> None:
    """Tell how many clusters are marked as taken and belong to nothing."""
    lost = table.used - claims.covered
    cut = (files.chains.state == CUT).any() or any(folder.state == CUT for folder in listing.folders)
    if lost > 0 and listing.complete and not cut:
        size = f"{_count(lost, 'lost cluster')} ({lost * geometry.cluster_bytes:,} bytes)"
        remains = "the remains of a copy that was interrupted or of a folder that is lost"
        damages.tell(f"{size}: space marked as taken where no file lies, {remains}", only_writing=True)


def check_table(boot: BootSector, table: Table, flags: Flags, geometry: Geometry, damages: Damages) -> None:
    """Tell what is wrong with the two entries before those of the clusters, and with the table's length."""
    kind, (first, second) = table.type, table.entries[:2].tolist()
    if first != kind.mask & ~0xFF | boot.media:
        damages.tell(
            "the table of clusters does not begin with the kind of medium that the boot sector names"
        )
    if second | kind.clean | kind.no_errors < kind.end:
        damages.tell("the second entry of the table of clusters is not one that may stand there")
    if flags.errors:
        damages.tell("a computer has noted that it had trouble reading or writing this card")
    if table.worn:
        damages.tell(
            "a part of the table of clusters cannot be read (the card is worn out): its copy was read"
        )
    if len(table.entries) < geometry.entries:
        damages.tell("the card ends within its own table of clusters")


def check_copies(
    differences: tuple[Differences, ...], files: Files, claims: Claims, damages: Damages
) -> None:
    """Tell which copies of the table differ from it, and which files lie there.

    Where a file lies, nobody knows which of the copies is right, or which of them a player goes by.
    """
    for found in differences:
        copy = f"copy {found.copy + 1} of the table of clusters"
        if found.worn:
            damages.tell(
                f"{copy} could not be held against the one in use: a part of them cannot be read",
                only_writing=True,
            )
        if found.count:
            damages.tell(
                f"{copy} differs from the one in use, in {_count(found.count, 'entry', 'entries')}",
                only_writing=True,
            )
        for number in claims.owners_of(np.array(found.clusters, np.int64)):
            if number < len(files.paths):
                path = files.paths[number]
                damages.tell(f"{copy} differs from the one in use where {path} lies", path)


def check_info(medium: Medium, boot: BootSector, geometry: Geometry, table: Table, damages: Damages) -> None:
    """FAT32: hold the count of free clusters that is kept (FSInfo) against the table."""
    sector = boot.fat32.info_sector if boot.fat32 else 0
    if not 0 < sector < boot.reserved_sectors:  # 0 and FFFFh: none is kept (dosfstools, fat.c)
        return
    found = read_or_nothing(medium, sector * geometry.sector_bytes, BOOT_BYTES)
    info = FsInfo.parse(found.ljust(BOOT_BYTES, b"\0"))
    if not info.signed:
        damages.tell(
            "the sector that keeps the count of free clusters (FSInfo) lacks its signatures",
            only_writing=True,
        )
    elif info.free_clusters not in (UNKNOWN, table.free):
        damages.tell(
            f"the card keeps a count of {_count(info.free_clusters, 'free cluster')} (FSInfo), but has "
            f"{table.free:,}",
            only_writing=True,
        )


def _fault(files: Files, number: int, geometry: Geometry) -> tuple[str, str]:
    """What is wrong with the chain of a file."""
    path, state, size = files.paths[number], int(files.chains.state[number]), int(files.slots["size"][number])
    have = int(files.chains.clusters[number]) * geometry.cluster_bytes
    if not have and state in BEGINS:
        wanted = f"should hold {_count(size, 'byte')}" if size else "is empty"
        return f"{path} {BEGINS[state]}, though it {wanted}", path
    if state == ENDS and have >= size:
        return f"{path} is {_count(size, 'byte')} long, but its clusters hold {have:,}", path
    there = f", {have:,} of its {_count(size, 'byte')} are there" if have < size else ""
    return f"{path} {BREAKS.get(state, 'ends early')}{there}", path


def _past_end(files: Files, number: int, there: int) -> tuple[str, str]:
    path, size = files.paths[number], _count(int(files.slots["size"][number]), "byte")
    return f"{path} runs past the end of the card: {there:,} of its {size} are there", path


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number:,} {one}" if number == 1 else f"{number:,} {many or one + 's'}"


def _held(run: tuple[int, int], geometry: Geometry, held_bytes: int) -> int:
    """How many bytes of a run the medium has."""
    start_byte = geometry.data_start_byte + (run[0] - FIRST_CLUSTER) * geometry.cluster_bytes
    return max(0, min(run[1] * geometry.cluster_bytes, held_bytes - start_byte))


def _held_bytes(chains: Chains, geometry: Geometry, held_bytes: int) -> Places:
    """How many bytes of each chain the medium has."""
    start_bytes = geometry.data_start_byte + (chains.starts - FIRST_CLUSTER) * geometry.cluster_bytes
    there = np.clip(held_bytes - start_bytes, 0, chains.lengths * geometry.cluster_bytes)
    total = np.concatenate((np.zeros(1, np.int64), np.cumsum(there)))
    return np.diff(total[chains.first_run])


def _sharing(claims: Claims, files: int) -> list[tuple[int, int]]:
    """Pairs that lie in the same clusters, each once: the later file first, a file before a folder.

    Each run is held against the one before it that reaches farthest: so everyone who shares is in a pair.
    """
    farthest = np.maximum.accumulate(np.where(claims.ends == claims.reach, np.arange(len(claims.ends)), 0))
    hit = np.flatnonzero(claims.starts[1:] < claims.reach[:-1])
    ones, others = claims.owners[hit + 1], claims.owners[farthest[hit]]
    low, high = np.minimum(ones, others), np.maximum(ones, others)
    mixed = (low < files) & (high >= files)
    first, second = np.where(mixed, low, high), np.where(mixed, high, low)
    # Neither number reaches 2^32: each file and folder has 32 bytes of its own on the medium.
    pairs = np.unique((first << 32 | second)[low != high])
    return list(zip((pairs >> 32).tolist(), (pairs & 0xFFFFFFFF).tolist(), strict=True))
