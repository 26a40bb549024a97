"""Lays out a new FAT16 or FAT32 volume: each folder and file in one piece, in the order in which they are to
stand.

It must not write to a medium: it says which bytes go where.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property

import numpy as np

from mediacheck.card.fat_boot import FIRST_CLUSTER, USUAL_BACKUP_SECTOR, geometry_of
from mediacheck.card.fat_layout import (
    BOOT_BYTES,
    EXTENDED_SIGNATURE,
    FAT32,
    NO_NAME,
    SIGNATURE,
    UNKNOWN,
    BootSector,
    Fat32Fields,
    FsInfo,
)
from mediacheck.card.fat_new_folders import Folder, Heads, folder_slots, in_disk_order
from mediacheck.card.fat_new_geometry import (
    FATS,
    KINDS,
    SECTOR_BYTES,
    Division,
    Frame,
    require_cluster_size,
    usual_cluster_bytes,
)
from mediacheck.card.fat_new_table import table_pieces
from mediacheck.card.fat_slots import DIRECTORY_SLOTS_MAX, SLOT_BYTES
from mediacheck.card.new_volume import DoesNotFit, LaidOut, NewFolder, NewVolume, Placed
from mediacheck.names import FileSystem

__all__ = ("lay_out", "least_size_bytes", "usual_cluster_bytes")

MAKER = b"MSWIN4.1"
"""Specification, BS_OEMName: "the recommended setting" for the greatest compatibility."""
MEDIA, DRIVE = 0xF8, 0x80
"""Specification, BPB_Media and BS_DrvNum: of what is no floppy disk."""
HEADS, SECTORS_PER_TRACK = 255, 63
"""As cards and disks of any size are counted (from memory)."""
ROOT_SLOTS_USUAL, ROOT_SLOTS_MAX = 512, 65_520
"""Specification, BPB_RootEntCnt: of FAT16, "for maximum compatibility"; and the most whole sectors that 16
bits can tell of."""
INFO_SECTOR = 1
HALT = b"\xf4\xeb\xfd"
"""`hlt`, and back to it: a computer that is started from the card does nothing."""


def least_size_bytes(
    file_system: FileSystem, root: NewFolder, cluster_bytes: int, start_byte: int, free_percent: float
) -> int:
    """The least volume that holds the tree and has this part of its capacity free, in bytes.

    A multiple of 4,096, and no less than formatting programs make. Raises DoesNotFit.
    """
    folders = _folders(file_system, root, cluster_bytes)
    frame = _frame(file_system, folders, cluster_bytes, start_byte)
    used = sum(_lengths(frame, folders))
    return frame.least_sectors(used, free_percent, frame.kind.usual_from) * SECTOR_BYTES


def lay_out(volume: NewVolume) -> LaidOut:
    """Give everything its place. Raises DoesNotFit with the numbers."""
    folders = _folders(volume.file_system, volume.root, volume.cluster_bytes)
    frame = _frame(volume.file_system, folders, volume.cluster_bytes, volume.start_byte)
    division = frame.divided(volume.size_bytes // SECTOR_BYTES)
    lengths = _lengths(frame, folders)
    if sum(lengths) > division.clusters:
        raise DoesNotFit(
            f"the files and folders take {sum(lengths) * volume.cluster_bytes:,} bytes, and a volume of "
            f"{volume.size_bytes:,} bytes has room for {division.clusters * volume.cluster_bytes:,}"
        )
    return _FatLaidOut(volume, frame, division, folders, lengths)


def _folders(file_system: FileSystem, root: NewFolder, cluster_bytes: int) -> tuple[Folder, ...]:
    require_cluster_size(cluster_bytes)
    return in_disk_order(root, DIRECTORY_SLOTS_MAX if file_system == "FAT32" else ROOT_SLOTS_MAX)


def _frame(file_system: FileSystem, folders: Sequence[Folder], cluster_bytes: int, start_byte: int) -> Frame:
    in_sector = SECTOR_BYTES // SLOT_BYTES
    root_slots = max(ROOT_SLOTS_USUAL, -(-folders[0].slots // in_sector) * in_sector)
    return Frame(
        KINDS[file_system],
        cluster_bytes // SECTOR_BYTES,
        start_byte // SECTOR_BYTES,
        0 if file_system == "FAT32" else root_slots,
    )


def _lengths(frame: Frame, folders: Sequence[Folder]) -> list[int]:
    """How many clusters everything takes, in the order of the disk: the folders, then the files.

    0 for an empty file, and for a root folder that has a place of its own.
    """
    size = frame.cluster_bytes
    lengths = [-(-folder.slots * SLOT_BYTES // size) for folder in folders]
    if frame.root_slots:
        lengths[0] = 0
    return [*lengths, *(-(-file.size_bytes // size) for folder in folders for file in folder.new.files)]


class _FatLaidOut:
    """A FAT volume with a place for everything: folders, files, without a gap."""

    def __init__(
        self,
        volume: NewVolume,
        frame: Frame,
        division: Division,
        folders: tuple[Folder, ...],
        lengths: list[int],
    ) -> None:
        self._volume, self._folders, self._kind = volume, folders, frame.kind.type
        counts = np.array(lengths, np.int64)
        behind = FIRST_CLUSTER + np.cumsum(counts)
        self._behind = behind[counts > 0]
        self._heads: list[int] = np.where(counts > 0, behind - counts, 0).tolist()
        self._used, self._free = sum(lengths), division.clusters - sum(lengths)
        self._boot = _boot_sector(volume, frame, division)
        self._geometry = geometry_of(self._boot)
        self.capacity_bytes = self._geometry.size_bytes
        self.used_bytes, self.free_bytes = (
            count * self._geometry.cluster_bytes for count in (self._used, self._free)
        )

    @cached_property
    def files(self) -> tuple[Placed, ...]:
        """All files, with their places."""
        files = (found for folder in self._folders for found in folder.files)
        heads = self._heads[len(self._folders) :]
        return tuple(
            Placed(path, self._byte_of(head) if head else 0, file.size_bytes)
            for (path, file), head in zip(files, heads, strict=True)
        )

    def head(self) -> Iterator[tuple[int, bytes]]:
        """All but the contents, in pieces in rising order. What is not among them is zero."""
        start, geometry = self._volume.start_byte, self._geometry
        yield start, self._boot_record()
        if self._boot.fat32:
            yield start + self._boot.fat32.backup_sector * SECTOR_BYTES, self._boot_record()
        for copy in range(FATS):
            place = start + geometry.fat_start_byte + copy * geometry.fat_bytes
            for piece in table_pieces(self._kind, MEDIA, self._behind):
                yield place, piece
                place += len(piece)
        root = start + geometry.root_start_byte
        for head, slots in self._listed():
            if slots:
                yield self._byte_of(head) if head else root, slots

    def _boot_record(self) -> bytes:
        """Of FAT32 it is three sectors long, each with its signature (specification, "FAT32 FSInfo Sector
        Structure and Backup Boot Sector")."""
        if not self._boot.fat32:
            return self._boot.compose()
        following = FIRST_CLUSTER + self._used if self._free else UNKNOWN
        info = FsInfo(free_clusters=self._free, next_free=following)
        third = SIGNATURE.to_bytes(2, "little").rjust(BOOT_BYTES, b"\0")
        return self._boot.compose() + info.compose() + third

    def _listed(self) -> Iterator[tuple[int, bytes]]:
        """The first cluster of each folder, and what stands in it."""
        done, label = len(self._folders), self._boot.label if self._volume.label else None
        for number, folder in enumerate(self._folders):
            files = self._heads[done : done + len(folder.new.files)]
            done += len(files)
            parent = self._heads[folder.parent] if folder.parent else 0
            inner = [self._heads[below] for below in folder.inner]
            heads = Heads(self._heads[number], parent, files, inner)
            yield heads.own, folder_slots(folder, heads, label)

    def _byte_of(self, cluster: int) -> int:
        """On the medium."""
        clusters = self._volume.start_byte + self._geometry.data_start_byte
        return clusters + (cluster - FIRST_CLUSTER) * self._geometry.cluster_bytes


def _boot_sector(volume: NewVolume, frame: Frame, division: Division) -> BootSector:
    kind, sectors = frame.kind.type, volume.size_bytes // SECTOR_BYTES
    small = kind is not FAT32 and sectors < 1 << 16  # specification, BPB_TotSec16
    fat32 = Fat32Fields(division.fat_sectors, 0, 0, FIRST_CLUSTER, INFO_SECTOR, USUAL_BACKUP_SECTOR)
    code_at = BootSector.COMMON.size + BootSector.EXTENDED.size
    code_at += Fat32Fields.LAYOUT.size if kind is FAT32 else 0
    return BootSector(
        jump=bytes((0xEB, code_at - 2, 0x90)),
        maker=MAKER,
        sector_bytes=SECTOR_BYTES,
        sectors_per_cluster=frame.cluster_sectors,
        reserved_sectors=division.reserved_sectors,
        fats=FATS,
        root_slots=frame.root_slots,
        sectors_16=sectors if small else 0,
        media=MEDIA,
        fat_sectors_16=0 if kind is FAT32 else division.fat_sectors,
        sectors_per_track=SECTORS_PER_TRACK,
        heads=HEADS,
        hidden_sectors=frame.start_sector,
        sectors_32=0 if small else sectors,
        fat32=fat32 if kind is FAT32 else None,
        drive=DRIVE,
        nt_flags=0,
        extended_signature=EXTENDED_SIGNATURE,
        serial=volume.serial,
        label=volume.label.encode("ascii").ljust(len(NO_NAME)) if volume.label else NO_NAME,
        type_text=kind.name.encode("ascii").ljust(8),
        boot_code=HALT,
    )
