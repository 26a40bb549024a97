"""The files of a FAT volume in the order of the disk, with the chains that they lie in.

It must not read the medium, and must not judge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from mediacheck.card.fat_chains import Chains, Follower
from mediacheck.card.fat_entries import heads_of
from mediacheck.card.fat_folder import Listing
from mediacheck.card.fat_layout import FatType
from mediacheck.card.fat_names import Slots
from mediacheck.card.fat_table import Places


@dataclass(frozen=True, slots=True)
class Files:
    """One row for each file: those of a folder as it lists them, then those of the folders in it."""

    slots: Slots
    paths: list[str]
    short: list[str]
    valid: list[bool]
    """Whether the name is valid Unicode."""
    chains: Chains

    @property
    def sizes_bytes(self) -> Places:
        """What the directory says."""
        found: Places = self.slots["size"].astype(np.int64)
        return found


def files_of(listing: Listing, kind: FatType, follower: Follower) -> Files:
    """All files that the folders list, and their chains."""
    order = _order(listing)
    slots = np.concatenate([rows.slots for rows in listing.rows])[order]
    paths = [path for rows in listing.rows for path in rows.paths]
    short = [name for rows in listing.rows for name in rows.short]
    valid = np.concatenate([rows.valid for rows in listing.rows])[order]
    chosen = order.tolist()
    chains = follower.follow(heads_of(slots, kind))
    return Files(
        slots, [paths[row] for row in chosen], [short[row] for row in chosen], valid.tolist(), chains
    )


def _order(listing: Listing) -> Places:
    """The rows that are files, of all levels one after the other, in the order of the disk."""
    rank = np.empty(len(listing.folders), np.int64)
    rank[list(listing.order)] = np.arange(len(listing.folders))
    folder = np.concatenate([rows.folder for rows in listing.rows])
    files = np.flatnonzero(~np.concatenate([rows.is_folder for rows in listing.rows]))
    return files[np.argsort(rank[folder[files]], kind="stable")]
