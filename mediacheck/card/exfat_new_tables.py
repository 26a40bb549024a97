"""The FAT and the allocation bitmap of a new exFAT volume, in pieces: those of a huge one fill no memory.

It must not decide where anything lies. Sections in brackets are those of the "exFAT file system
specification", revision 1.00.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from mediacheck.card.exfat_fat import ENTRY_BYTES
from mediacheck.card.exfat_layout import FAT_END, FAT_MEDIA

PIECE_BYTES = 1 << 20
_FULL = b"\xff" * PIECE_BYTES


def fat_pieces(ends: Sequence[int]) -> Iterator[bytes]:
    """The FAT [4.1] of chains that follow each other without gaps from cluster 2 on.

    Each goes up to, not with, one of these clusters. Behind them the FAT is zero: nobody looks there for what
    lies in one piece and says so [6.3.4.2].
    """
    step = PIECE_BYTES // ENTRY_BYTES
    last = np.array([1, *(end - 1 for end in ends)])
    for first in range(0, ends[-1], step):
        stop = min(ends[-1], first + step)
        entries = np.arange(first + 1, stop + 1, dtype="<u4")
        entries[last[(last >= first) & (last < stop)] - first] = FAT_END
        if first == 0:
            entries[0] = FAT_MEDIA
        yield entries.tobytes()


def bitmap_pieces(used: int) -> Iterator[bytes]:
    """The allocation bitmap [7.1.5] of a volume whose first clusters are in use, and no others.

    Behind them it is zero.
    """
    full, rest = divmod(used, 8)
    for place in range(0, full, PIECE_BYTES):
        yield _FULL[: full - place]
    if rest:
        yield bytes(((1 << rest) - 1,))
