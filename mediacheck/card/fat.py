"""Reads a FAT12, FAT16 or FAT32 volume: what is on it, in the order of the disk, and what is broken.

It must not write, and must not judge what a player makes of it.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from mediacheck.card.bulk import no_collection, records
from mediacheck.card.contents import Contents
from mediacheck.card.damages import Damages, printable
from mediacheck.card.fat_boot import (
    FIRST_CLUSTER,
    Geometry,
    check_backup,
    check_boot,
    geometry_of,
    held_bytes,
    read_boot,
)
from mediacheck.card.fat_chains import Follower
from mediacheck.card.fat_check import (
    check_copies,
    check_files,
    check_folders,
    check_info,
    check_lost,
    check_shared,
    check_table,
    claims_of,
)
from mediacheck.card.fat_files import Files, files_of
from mediacheck.card.fat_folder import Listing, list_folders
from mediacheck.card.fat_layout import EXTENDED_SIGNATURE, NO_NAME, SHORT_SIGNATURE, BootSector
from mediacheck.card.fat_names import CODE_PAGE
from mediacheck.card.fat_slots import ARCHIVE, DELETED, HIDDEN, READ_ONLY, STANDS_FOR_E5, SYSTEM, moments
from mediacheck.card.fat_table import Flags, Table, compare_copies, flags_of, read_table
from mediacheck.card.medium import Medium
from mediacheck.card.model import Attribute, Entry, Volume
from mediacheck.card.within import Run, Within

ATTRIBUTES: tuple[tuple[int, Attribute], ...] = (
    (READ_ONLY, "read-only"),
    (HIDDEN, "hidden"),
    (SYSTEM, "system"),
    (ARCHIVE, "archive"),
)


def read_fat(medium: Medium) -> Contents:
    """What the FAT volume on this medium holds.

    `partition_table` and `medium_bytes` of the volume stay None: it does not know what lies around it.
    Raises CardError where the boot sector is so broken that nothing can be listed, and OSError where the
    medium cannot be read.
    """
    with no_collection():
        return _read(medium, Damages())


def _read(medium: Medium, damages: Damages) -> Contents:
    boot = read_boot(medium, damages)
    geometry = geometry_of(boot)
    check_boot(boot, geometry, damages)
    check_backup(boot, geometry, medium, damages)
    table = read_table(medium, geometry)
    flags = flags_of(boot, table)
    check_table(boot, table, flags, geometry, damages)
    follower = Follower(table)
    listing = list_folders(medium, geometry, follower, damages)
    files = files_of(listing, geometry.type, follower)
    unusable = _check(medium, boot, geometry, table, listing, files, damages)
    volume = _volume(medium, boot, geometry, table, flags, listing.label)
    entries = _entries(files, unusable, geometry, medium)
    folders = tuple(listing.folders[number].path for number in listing.order if number)
    return Contents(volume, entries, folders, damages.listed)


def _check(
    medium: Medium,
    boot: BootSector,
    geometry: Geometry,
    table: Table,
    listing: Listing,
    files: Files,
    damages: Damages,
) -> dict[int, str]:
    """Hold everything against everything. Returns why nothing of a file can be read, by its number."""
    claims = claims_of(files, listing.folders)
    check_folders(listing.folders, geometry, held_bytes(medium), damages)
    unusable = check_files(files, geometry, held_bytes(medium), damages)
    check_shared(files, listing.folders, claims, damages)
    check_copies(compare_copies(medium, geometry), files, claims, damages)
    check_lost(claims, listing, files, table, geometry, damages)
    check_info(medium, boot, geometry, table, damages)
    return unusable


def _volume(
    medium: Medium, boot: BootSector, geometry: Geometry, table: Table, flags: Flags, label: bytes | None
) -> Volume:
    signed = boot.extended_signature in (EXTENDED_SIGNATURE, SHORT_SIGNATURE)
    if label is None and boot.extended_signature == EXTENDED_SIGNATURE and boot.label != NO_NAME:
        label = boot.label
    return Volume(
        file_system=geometry.type.name,
        label=_label_text(label) if label else None,
        serial=f"{boot.serial >> 16:04X}-{boot.serial & 0xFFFF:04X}" if signed else None,
        capacity_bytes=geometry.size_bytes,
        cluster_bytes=geometry.cluster_bytes,
        used_bytes=table.used * geometry.cluster_bytes,
        free_bytes=table.free * geometry.cluster_bytes,
        claimed_bytes=medium.start_byte + geometry.size_bytes,
        dirty=flags.dirty,
    )


def _label_text(label: bytes) -> str | None:
    if label[0] == STANDS_FOR_E5:
        label = bytes([DELETED]) + label[1:]
    return printable(label.rstrip(b" \0").decode(CODE_PAGE)) or None


def _entries(files: Files, unusable: dict[int, str], geometry: Geometry, medium: Medium) -> tuple[Entry, ...]:
    """One entry for each file. Columns are made first: a card may hold tens of thousands."""
    slots, sizes, count = files.slots, files.sizes_bytes.tolist(), len(files.paths)
    attributes = _attributes()
    return tuple(
        records(
            Entry,
            files.paths,
            sizes,
            range(count),
            records(Within, [medium.source] * count, _runs(files, geometry, medium), sizes),
            list(map(unusable.get, range(count))),
            files.valid,
            files.short,
            [attributes[value] for value in slots["attributes"].tolist()],
            moments(slots["created"], slots["created_hundredths"]),
            moments(slots["written"], np.zeros(count, np.uint8)),
        )
    )


def _runs(files: Files, geometry: Geometry, medium: Medium) -> list[tuple[Run, ...]]:
    chains = files.chains
    first_byte = medium.start_byte + geometry.data_start_byte
    starts = first_byte + (chains.starts - FIRST_CLUSTER) * geometry.cluster_bytes
    runs = tuple(records(Run, starts.tolist(), (chains.lengths * geometry.cluster_bytes).tolist()))
    if np.array_equal(chains.first_run, np.arange(len(chains.first_run))):  # each file in one piece
        return list(zip(runs, strict=True))
    return [runs[start:stop] for start, stop in pairwise(chains.first_run.tolist())]


def _attributes() -> list[frozenset[Attribute]]:
    """The attributes for every value of the byte that holds them."""
    return [frozenset(word for bit, word in ATTRIBUTES if value & bit) for value in range(256)]
