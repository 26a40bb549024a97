"""Reads an exFAT volume on a medium: what it holds, in on-disk order, and what is wrong with it.

It must not write, and must not judge what a player makes of it. Source: "exFAT file system specification",
revision 1.00 (MicrosoftDocs/win32), sections in brackets; where it lies is in `exfat_layout` and
`exfat_entries`.
"""

from __future__ import annotations

from dataclasses import dataclass

from mediacheck.card.bulk import no_collection
from mediacheck.card.contents import Contents
from mediacheck.card.damages import Damages, printable
from mediacheck.card.exfat_boot import Boot, has_exfat, is_exfat, read_boot
from mediacheck.card.exfat_check import Holder, claim, tell_bitmap, tell_shared
from mediacheck.card.exfat_entries import BitmapEntry
from mediacheck.card.exfat_fat import Chain
from mediacheck.card.exfat_folder import Listing, walk
from mediacheck.card.exfat_heap import Claims, Heap
from mediacheck.card.exfat_layout import FIRST_CLUSTER, table_checksum
from mediacheck.card.exfat_names import tell_names
from mediacheck.card.exfat_upcase import TABLE_BYTES_MAX, Upcase, expanded, recommended
from mediacheck.card.medium import Medium
from mediacheck.card.model import Volume
from mediacheck.card.spans import Spans

__all__ = ("has_exfat", "is_exfat", "read_exfat")

BITMAP_WORDS = "the list of clusters in use (allocation bitmap)"
UPCASE_WORDS = "the table of capital letters (up-case table)"


def read_exfat(medium: Medium) -> Contents:
    """List the volume that begins with the medium. Raises CardError where nothing can be listed; OSError.

    `Volume.medium_bytes` and `.partition_table` are not known here. Times have a zone where the card tells
    one. A file breaks off where its chain, its valid length [7.6.5] or the medium ends; see `size_faults`.
    """
    damages = Damages()
    boot = read_boot(medium, damages)
    with no_collection():
        return _contents(medium, boot, damages)


def _contents(medium: Medium, boot: Boot, damages: Damages) -> Contents:
    heap, claims = Heap(medium, boot.sector, damages), Claims()
    listing = walk(heap, claims, damages)
    reading = _Reading(heap, claims, listing, damages)
    taken = reading.taken()
    upcase = reading.upcase()
    tell_shared(claims, damages)
    if taken is not None and listing.complete:
        tell_bitmap(claims, taken, heap, damages)
    tell_names(listing, upcase or recommended(), damages, sure=upcase is not None)
    volume = _volume(medium, boot, listing, taken)
    return Contents(volume, tuple(listing.files.entries(heap)), tuple(listing.folders), damages.listed)


@dataclass(frozen=True, slots=True)
class _Reading:
    """What the volume keeps of itself in its own clusters [7.1, 7.2]."""

    heap: Heap
    claims: Claims
    listing: Listing
    damages: Damages

    def taken(self) -> Spans | None:
        """The clusters that count as taken, by the bitmap in use; None where it cannot be read whole."""
        boot = self.heap.boot
        found = self.listing.bitmaps
        if (wanted := boot.number_of_fats) != len(found):
            self.damages.tell(
                f"the root folder has {len(found)} entries for {BITMAP_WORDS} instead of {wanted}"
            )
        for entry in found[:2]:
            self._stored(BITMAP_WORDS, entry.first_cluster, entry.data_length)
        active = next((entry for entry in found if entry.flags & 1 == boot.active_fat), None)
        return self._bits(active) if active else None

    def _bits(self, entry: BitmapEntry) -> Spans | None:
        count = self.heap.boot.cluster_count
        wanted = -(-count // 8)
        chain = self.heap.fat.chain(entry.first_cluster)
        if min(entry.data_length, self.heap.there_bytes(chain, wanted)) < wanted:
            self.damages.tell(f"{BITMAP_WORDS} is too short for the clusters of the card")
            return None
        return Spans.of_bits(self.heap.pieces(chain, wanted), FIRST_CLUSTER, count)

    def upcase(self) -> Upcase | None:
        """The capitals of this volume; None where its table is damaged."""
        found = self.listing.upcases
        if len(found) != 1:
            self.damages.tell(f"the root folder has {len(found)} entries for {UPCASE_WORDS} instead of 1")
        if not found:
            return None
        entry = found[0]
        chain = self._stored(UPCASE_WORDS, entry.first_cluster, entry.data_length)
        data = b"".join(self.heap.pieces(chain, min(entry.data_length, TABLE_BYTES_MAX)))
        upcase = expanded(data)
        if len(data) != entry.data_length or table_checksum(data) != entry.table_checksum:
            self.damages.tell(f"{UPCASE_WORDS} has a wrong checksum")
            return None
        if not upcase.has_mandatory:
            self.damages.tell(f"{UPCASE_WORDS} gives plain letters the wrong capitals")
        return upcase

    def _stored(self, who: str, first: int, length: int) -> Chain:
        chain = self.heap.fat.chain(first)
        claim(self.heap, self.claims, self.damages, Holder(who, length), chain)
        return chain


def _volume(medium: Medium, boot: Boot, listing: Listing, taken: Spans | None) -> Volume:
    sector = boot.sector
    capacity = sector.cluster_count * sector.cluster_bytes
    used = taken.total * sector.cluster_bytes if taken is not None else None
    label = next((printable(label) for label in listing.labels if label), None)
    return Volume(
        file_system="exFAT",
        label=label,
        serial=sector.serial,
        capacity_bytes=capacity,
        cluster_bytes=sector.cluster_bytes,
        used_bytes=used,
        free_bytes=capacity - used if used is not None else None,
        claimed_bytes=medium.start_byte + sector.volume_length * sector.sector_bytes,
        dirty=boot.dirty,
    )
