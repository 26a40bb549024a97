"""Lays out a new exFAT volume: each folder and file in one piece, in the order in which they are to stand.

It must not write to a medium: it says which bytes go where. Source: "exFAT file system specification",
revision 1.00 (MicrosoftDocs/win32), sections in brackets.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from itertools import accumulate

from mediacheck.card.exfat_entries import BitmapEntry, UpcaseEntry, compose_label
from mediacheck.card.exfat_layout import (
    FAT_OFFSET_MIN,
    FIRST_CLUSTER,
    BootSector,
    compose_boot_region,
)
from mediacheck.card.exfat_new_folders import Folder, Item, entry_sets, in_disk_order
from mediacheck.card.exfat_new_geometry import (
    SECTOR_BYTES,
    SECTOR_SHIFT,
    Geometry,
    bitmap_bytes,
    clusters_for,
    divided,
    least_volume_bytes,
    require_cluster_size,
    usual_cluster_bytes,
)
from mediacheck.card.exfat_new_tables import bitmap_pieces, fat_pieces
from mediacheck.card.exfat_upcase import RECOMMENDED_CHECKSUM, compressed, recommended
from mediacheck.card.new_volume import DoesNotFit, LaidOut, NewFolder, NewVolume, Placed

__all__ = ("lay_out", "least_size_bytes", "usual_cluster_bytes")


def least_size_bytes(root: NewFolder, cluster_bytes: int, start_byte: int, free_percent: float) -> int:
    """The least volume that holds the tree and has this part of its capacity free, in bytes.

    A multiple of 4,096. Raises DoesNotFit.
    """
    require_cluster_size(cluster_bytes)
    held = sum(_clusters_beside_bitmap(in_disk_order(root, cluster_bytes), cluster_bytes))
    return least_volume_bytes(held, cluster_bytes, start_byte, free_percent)


def lay_out(volume: NewVolume) -> LaidOut:
    """Give everything its place. Raises DoesNotFit with the numbers."""
    cluster_bytes = volume.cluster_bytes
    require_cluster_size(cluster_bytes)
    geometry = divided(volume.size_bytes, cluster_bytes, volume.start_byte)
    folders = in_disk_order(volume.root, cluster_bytes)
    bitmap = clusters_for(bitmap_bytes(geometry.cluster_count), cluster_bytes)
    firsts = (*accumulate((bitmap, *_clusters_beside_bitmap(folders, cluster_bytes)), initial=FIRST_CLUSTER),)
    needed = firsts[-1] - FIRST_CLUSTER
    if needed > geometry.cluster_count:
        raise DoesNotFit(
            f"the files and what exFAT needs for itself take {needed * cluster_bytes:,} bytes, and a volume "
            f"of {volume.size_bytes:,} bytes has room for {geometry.cluster_count * cluster_bytes:,}"
        )
    return _ExfatLaidOut(volume, geometry, folders, firsts)


def _clusters_beside_bitmap(folders: Iterable[Folder], cluster_bytes: int) -> list[int]:
    """Of all that has a place, in the order of the disk: up-case table, folders, files."""
    files = (file.size_bytes for folder in folders for file in folder.new.files)
    return [
        clusters_for(len(_capitals()), cluster_bytes),
        *(folder.clusters for folder in folders),
        *(clusters_for(size, cluster_bytes) for size in files),
    ]


@cache
def _capitals() -> bytes:
    return compressed(recommended())


class _ExfatLaidOut:
    """An exFAT volume with a place for everything: bitmap, up-case table, folders, files, without a gap."""

    def __init__(
        self, volume: NewVolume, geometry: Geometry, folders: tuple[Folder, ...], firsts: tuple[int, ...]
    ) -> None:
        """`firsts` are the first clusters of all that has a place, in that order, and the first free one."""
        self._volume, self._geometry, self._folders = volume, geometry, folders
        (self._bitmap, self._upcase), placed = firsts[:2], firsts[2:]
        self._folder_firsts, self._file_firsts = placed[: len(folders)], placed[len(folders) : -1]
        self._behind_root, self._behind = placed[1], placed[-1]
        self.capacity_bytes = geometry.cluster_count * geometry.cluster_bytes
        self.used_bytes = (self._behind - FIRST_CLUSTER) * geometry.cluster_bytes
        self.free_bytes = self.capacity_bytes - self.used_bytes
        self.files = tuple(self._files())

    def head(self) -> Iterator[tuple[int, bytes]]:
        """All but the contents, in pieces in rising order. What is not among them is zero."""
        boot_regions = compose_boot_region(self._boot()) * 2  # the second one is the backup [2, Table 3]
        yield from self._from(0, (boot_regions,))
        chains = (self._upcase, self._folder_firsts[0], self._behind_root)
        yield from self._from(FAT_OFFSET_MIN * SECTOR_BYTES, fat_pieces(chains))
        yield from self._from_cluster(self._bitmap, bitmap_pieces(self._behind - FIRST_CLUSTER))
        yield from self._from_cluster(self._upcase, (_capitals(),))
        done = 0
        for number, folder in enumerate(self._folders):
            yield from self._from_cluster(self._folder_firsts[number], self._entries(folder, done))
            done += len(folder.new.files)

    def _files(self) -> Iterator[Placed]:
        files = ((path, file) for folder in self._folders for path, file in folder.files)
        for (path, file), first in zip(files, self._file_firsts, strict=True):
            place = self._volume.start_byte + self._geometry.byte_of(first)
            yield Placed(path, place if file.size_bytes else 0, file.size_bytes)

    def _boot(self) -> BootSector:
        volume, geometry = self._volume, self._geometry
        used = self._behind - FIRST_CLUSTER
        return BootSector(
            volume_length=geometry.sectors,
            fat_offset=FAT_OFFSET_MIN,
            fat_length=geometry.fat_sectors,
            cluster_heap_offset=geometry.heap_sector,
            cluster_count=geometry.cluster_count,
            first_cluster_of_root_directory=self._folder_firsts[0],
            volume_serial_number=volume.serial,
            bytes_per_sector_shift=SECTOR_SHIFT,
            sectors_per_cluster_shift=geometry.cluster_sectors.bit_length() - 1,
            partition_offset=volume.start_byte // SECTOR_BYTES,
            percent_in_use=100 * used // geometry.cluster_count,
        )

    def _entries(self, folder: Folder, done: int) -> Iterator[bytes]:
        """What stands in a folder, whose first file has this number: its files, then its folders."""
        if not folder.path:
            yield self._special_entries()
        files, size = folder.new.files, self._geometry.cluster_bytes
        firsts = self._file_firsts[done : done + len(files)]
        items = [
            Item(file, first if file.size_bytes else 0, file.size_bytes)
            for file, first in zip(files, firsts, strict=True)
        ]
        for number in folder.inner:
            inner = self._folders[number]
            items.append(Item(inner.new, self._folder_firsts[number], inner.clusters * size))
        yield from entry_sets(items)

    def _special_entries(self) -> bytes:
        """What only the root has [7.1 to 7.3].

        A volume without a label gets an empty one, as from mkfs.exfat: the specification needs none, but
        dump.exfat stops where there is none (tried out).
        """
        return b"".join(
            (
                compose_label(self._volume.label or ""),
                BitmapEntry(self._bitmap, bitmap_bytes(self._geometry.cluster_count)).compose(),
                UpcaseEntry(RECOMMENDED_CHECKSUM, self._upcase, len(_capitals())).compose(),
            )
        )

    def _from_cluster(self, cluster: int, pieces: Iterable[bytes]) -> Iterator[tuple[int, bytes]]:
        return self._from(self._geometry.byte_of(cluster), pieces)

    def _from(self, place: int, pieces: Iterable[bytes]) -> Iterator[tuple[int, bytes]]:
        """Pieces that follow each other from this place of the volume on."""
        place += self._volume.start_byte
        for piece in pieces:
            yield place, piece
            place += len(piece)
