"""Lays out a new volume with the writer of its file system: one door to both.

It must not write anything.
"""

from __future__ import annotations

from mediacheck.card import exfat_writer, fat_writer
from mediacheck.card.new_volume import LaidOut, NewFolder, NewVolume
from mediacheck.names import FileSystem

WRITABLE: tuple[FileSystem, ...] = ("FAT32", "exFAT", "FAT16")
"""The file systems that can be written, the usual one first."""


def usual_cluster_bytes(file_system: FileSystem, size_bytes: int) -> int | None:
    """The cluster size that formatting programs choose for a volume of this size; None: it cannot have it."""
    if file_system == "exFAT":
        return exfat_writer.usual_cluster_bytes(size_bytes)
    return fat_writer.usual_cluster_bytes(file_system, size_bytes)


def least_size_bytes(
    file_system: FileSystem, root: NewFolder, cluster_bytes: int, start_byte: int, free_percent: float
) -> int:
    """The least size of a volume that holds the tree with this part of its capacity free, in bytes.

    A multiple of 4,096. Raises DoesNotFit where no volume with these clusters can.
    """
    if file_system == "exFAT":
        return exfat_writer.least_size_bytes(root, cluster_bytes, start_byte, free_percent)
    return fat_writer.least_size_bytes(file_system, root, cluster_bytes, start_byte, free_percent)


def lay_out(volume: NewVolume) -> LaidOut:
    """Give everything its place. Raises DoesNotFit with the numbers."""
    if volume.file_system == "exFAT":
        return exfat_writer.lay_out(volume)
    return fat_writer.lay_out(volume)
