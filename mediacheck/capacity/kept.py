"""What a medium kept of the stream that was written to it, sector by sector.

It must not read the medium, and must not say what follows for the card.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from mediacheck.capacity.stream import SECTOR_BYTES, SECTORS_IN_BLOCK, Stream, Words

NEAR_BITS = SECTOR_BYTES * 8 // 4
"""With fewer wrong bits than this, it is the same content with worn cells: other content differs in half of
its bits, and a broken line of the bus (one of eight) spoils one bit in sixteen."""

_BITS_SET = np.array([number.bit_count() for number in range(256)], np.uint8)
_KINDS = ("right", "worn", "misplaced", "blank", "other", "unreadable", "unread")
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Kept:
    """Numbers of sectors, each counted once."""

    right: int = 0
    worn: int = 0
    """Their own content, with some bits turned over."""
    misplaced: int = 0
    """They hold what was written for another place, whole."""
    blank: int = 0
    """All bits 0, or all 1."""
    other: int = 0
    """Something that was not written in this run."""
    unreadable: int = 0
    unread: int = 0
    """Nobody tried: too much before them could not be read."""
    first_bad_byte: int | None = None
    """How far into the stream; None where all is right."""
    nearest_bytes: int | None = None
    """Of the misplaced: how far the nearest lay from the place that it was written for."""

    @property
    def held(self) -> int:
        """Sectors that exist: what they got is there, if worn."""
        return self.right + self.worn

    @property
    def lost(self) -> int:
        """Sectors of which there is nothing left."""
        return self.misplaced + self.blank + self.other + self.unreadable + self.unread

    @property
    def bad(self) -> int:
        """All that did not come back as it was written."""
        return self.worn + self.lost


@dataclass(slots=True)
class Tally:
    """Counts, block by block."""

    stream: Stream
    counts: dict[str, int] = field(default_factory=lambda: dict.fromkeys(_KINDS, 0))
    first_bad: int | None = None
    nearest: int | None = None

    def see(self, block: int, found: Words, expected: Words, unreadable: Flags | None = None) -> None:
        """The sectors of this block as they came back; what stands for the unreadable is no matter."""
        differs = (found != expected).any(axis=1)
        if unreadable is not None:
            differs |= unreadable
        if not differs.any():
            self.counts["right"] += len(found)
            return
        first = block * SECTORS_IN_BLOCK
        self._note_bad(first + int(differs.argmax()))
        self.counts["right"] += int((~differs).sum())
        if unreadable is not None:
            self.counts["unreadable"] += int(unreadable.sum())
            differs &= ~unreadable
        if differs.any():
            self._sort(np.flatnonzero(differs) + first, found[differs], expected[differs])

    def skip(self, begin: int, end: int) -> None:
        """These sectors were not read at all."""
        self.counts["unread"] += end - begin
        if end > begin:
            self._note_bad(begin)

    @property
    def kept(self) -> Kept:
        """What was counted so far."""
        first, nearest = self.first_bad, self.nearest
        return Kept(
            **self.counts,
            first_bad_byte=None if first is None else first * SECTOR_BYTES,
            nearest_bytes=None if nearest is None else nearest * SECTOR_BYTES,
        )

    def _sort(self, numbers: npt.NDArray[np.int64], found: Words, expected: Words) -> None:
        """Each of these bad sectors is of one kind."""
        told = self.stream.numbers_told(found)
        misplaced = (told >= 0) & (told != numbers)
        blank = (found == found[:, :1]).all(axis=1) & ((found[:, 0] == 0) | (found[:, 0] == ~np.uint64(0)))
        rest = ~misplaced & ~blank
        wrong_bits = _BITS_SET[(found[rest] ^ expected[rest]).view(np.uint8)].sum(axis=1, dtype=np.int64)
        worn = int((wrong_bits < NEAR_BITS).sum())
        self.counts["misplaced"] += int(misplaced.sum())
        self.counts["blank"] += int((blank & ~misplaced).sum())
        self.counts["worn"] += worn
        self.counts["other"] += len(wrong_bits) - worn
        if misplaced.any():
            here = int(np.abs(told - numbers)[misplaced].min())
            self.nearest = here if self.nearest is None else min(self.nearest, here)

    def _note_bad(self, number: int) -> None:
        if self.first_bad is None:
            self.first_bad = number
