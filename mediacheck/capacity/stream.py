"""What a capacity check writes: pseudo-random, new in every run, and every sector knows its place.

It must not read or write a medium, and must not judge what came back from one.

The random words come from Philox 4x64-10, a generator that makes any part of its stream by itself: Salmon,
Moraes, Dror and Shaw, "Parallel random numbers: as easy as 1, 2, 3", SC11, 2011. No card can make up, pack
or repeat such content.
"""

from __future__ import annotations

import hashlib
import secrets
import struct
import sys
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

SECTOR_BYTES = 512
BLOCK_BYTES = 1 << 20
SECTORS_IN_BLOCK = BLOCK_BYTES // SECTOR_BYTES
KEY_BYTES = 16
"""Philox 4x64: a key of two words of 64 bits."""

Words: TypeAlias = npt.NDArray[np.uint64]
"""Sectors: one row of 64 words for each."""

_WORDS_IN_SECTOR = SECTOR_BYTES // 8
_MARK = b"mediachk"
"""How every sector begins, in every run: a file of a run that was killed is known by it."""
_MARK_AT, _TAG_AT, _NUMBER_AT, _PROOF_AT = range(4)
"""The first four words of a sector. The proof is the number and the tag once more, in one word: a number in
which a cell has turned a bit over is not believed."""


@dataclass(frozen=True, slots=True)
class Stream:
    """The content of one run, in blocks of 1 MiB that are made alone and in any order."""

    key: bytes

    def block(self, number: int) -> Words:
        """The sectors of one block, from 0: the first of block 1 is sector 2048."""
        low, high = struct.unpack("=QQ", self.key)
        # A block takes 2^15 steps of the counter's lowest word: its number stands in the next one.
        generator = np.random.Philox(key=np.array((low, high), np.uint64), counter=(0, number, 0, 0))
        words: Words = generator.random_raw(SECTORS_IN_BLOCK * _WORDS_IN_SECTOR)
        sectors = words.reshape(SECTORS_IN_BLOCK, _WORDS_IN_SECTOR)
        first = number * SECTORS_IN_BLOCK
        numbers = np.arange(first, first + SECTORS_IN_BLOCK, dtype=np.uint64)
        sectors[:, _MARK_AT] = _mark()
        sectors[:, _TAG_AT] = self.tag
        sectors[:, _NUMBER_AT] = numbers
        sectors[:, _PROOF_AT] = ~numbers ^ self.tag
        return sectors

    @property
    def tag(self) -> np.uint64:
        """What tells this run's sectors from those of another; the key cannot be found out from it."""
        return np.uint64(int.from_bytes(hashlib.sha256(self.key).digest()[:8], "little"))

    def numbers_told(self, sectors: Words) -> npt.NDArray[np.int64]:
        """For each sector, the number that it says it has; -1 where it is none of this stream."""
        numbers = sectors[:, _NUMBER_AT]
        own = (
            (sectors[:, _MARK_AT] == _mark())
            & (sectors[:, _TAG_AT] == self.tag)
            & (sectors[:, _PROOF_AT] == ~numbers ^ self.tag)
        )
        return np.where(own, numbers, np.uint64(2**64 - 1)).astype(np.int64)


def new_stream() -> Stream:
    """A stream that nobody has seen before."""
    return Stream(secrets.token_bytes(KEY_BYTES))


def as_sectors(content: bytes) -> Words:
    """Whole sectors, as read from a medium, in the shape of a block."""
    return np.frombuffer(content, np.uint64).reshape(-1, _WORDS_IN_SECTOR)


def has_mark(content: bytes) -> bool:
    """Whether there is a sector of a stream in this, of whatever run; the start of a file is enough."""
    whole = len(content) // SECTOR_BYTES * SECTOR_BYTES
    return any(content.startswith(_MARK, at) for at in range(0, whole, SECTOR_BYTES))


def _mark() -> np.uint64:
    return np.uint64(int.from_bytes(_MARK, sys.byteorder))
