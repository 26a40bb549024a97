"""The table of clusters of a new FAT volume, in pieces: that of a huge one fills no memory.

It must not decide where anything lies.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from mediacheck.card.fat_boot import FIRST_CLUSTER
from mediacheck.card.fat_layout import FatType
from mediacheck.card.fat_table import Places

PIECE_BYTES = 1 << 20


def table_pieces(kind: FatType, media: int, behind: Places) -> Iterator[bytes]:
    """The table of chains that follow each other without gaps from the first cluster on.

    `behind` has the cluster behind each of them, ascending; what is behind the last one is free, and zero.
    Each entry leads to the next cluster, or ends a chain with all ones, as Microsoft's systems do
    (specification, "FAT Data Structure"). The first two entries: same; both marks of a sound volume are set.
    """
    end = int(behind[-1]) if len(behind) else FIRST_CLUSTER
    step = PIECE_BYTES * 8 // kind.entry_bits
    for first in range(0, end, step):
        stop = min(end, first + step)
        entries = np.arange(first + 1, stop + 1, dtype=np.uint32).astype(f"<u{kind.entry_bits // 8}")
        own = slice(*np.searchsorted(behind, (first + 1, stop + 1)))
        entries[behind[own] - 1 - first] = kind.mask
        if first == 0:
            entries[:FIRST_CLUSTER] = (kind.mask & ~0xFF | media, kind.mask)
        yield entries.tobytes()
