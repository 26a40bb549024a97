"""Writes a planned image: each byte once, hashed on its way, holes left where there is nothing.

It must not decide what goes where: the plan has a place for everything.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sys
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np

from mediacheck.build.direct import Reading, Writing
from mediacheck.build.fan import BLOCK_BYTES, Fan, Taker
from mediacheck.build.plan import ImagePlan
from mediacheck.build.source import changed, fill_view, opened
from mediacheck.card.mbr_layout import Mbr, MbrEntry
from mediacheck.errors import OutputError
from mediacheck.loop import File
from mediacheck.names import FileSystem
from mediacheck.rules.wording import exact
from mediacheck.watching import ByteWatcher

ZEROS = bytes(BLOCK_BYTES)
PEEK_BYTES = 4096
SYNC_BYTES = 64 << 20
"""After so many bytes the disk is told to begin, while the next ones are still read and hashed."""
SECTOR_BYTES = 512
FAT32_LBA_SECTORS = 16_450_560
FAT16_SMALL_SECTORS = 65_536
"""From these sizes on a FAT32 part has the type 0Ch instead of 0Bh, a FAT16 part 06h instead of 04h (pages
that quote the SD file system specification, second-hand)."""


@dataclass(frozen=True, slots=True)
class Written:
    """What was written, by its hashes."""

    size_bytes: int
    sha256: str


def write_image(plan: ImagePlan, target: BinaryIO, watcher: ByteWatcher) -> Written:
    """Write the image into an empty file. CardError: a file is not what it was when it was checked.

    `target` gets the full size; what is zero stays a hole where the file system has such. Raises OSError.
    """
    target.truncate(plan.shape.image_bytes)
    watcher.begin(plan.shape.image_bytes, "building")
    try:
        with Fan() as fan:
            stream = _Stream(fan, target, watcher)
            for place, piece in head(plan):
                stream.zeros_until(place)
                stream.take(piece)
            for placed, file in zip(plan.laid_out.files, plan.content.files, strict=True):
                if placed.size_bytes:
                    stream.zeros_until(placed.start_byte)
                stream.copy(file)
            stream.zeros_until(plan.shape.image_bytes)
            fan.settle()
            stream.end()
        return Written(plan.shape.image_bytes, stream.sha256.hexdigest())
    finally:
        watcher.end()


def require_room(plan: ImagePlan, folder: Path) -> None:
    """OutputError where the disk has not the room that the image takes, counting what is not zero."""
    need = plan.laid_out.used_bytes
    free = shutil.disk_usage(folder).free
    if free < need:
        error = OutputError(
            f"The image takes {exact(need)} on the disk of {folder}, which has {exact(free)} left"
        )
        error.advice = "Choose a place on another disk, or make room there."
        raise error


def head(plan: ImagePlan) -> Iterator[tuple[int, bytes]]:
    """All that is no file's content: the partition table, and what the volume has before the contents."""
    if plan.shape.table == "MBR":
        yield 0, _mbr(plan).compose()
    yield from plan.laid_out.head()


def _mbr(plan: ImagePlan) -> Mbr:
    first, sectors = (size // SECTOR_BYTES for size in (plan.shape.start_byte, plan.shape.volume_bytes))
    entry = MbrEntry.of(part_type(plan.shape.file_system, sectors), first, sectors)
    return Mbr.of(entry, disk_signature=plan.volume.serial)


def part_type(file_system: FileSystem, sectors: int) -> int:
    """The type of a part of so many sectors in an MBR (exFAT: specification 1.00, 10.2)."""
    if file_system == "exFAT":
        return 0x07
    if file_system == "FAT32":
        return 0x0C if sectors >= FAT32_LBA_SECTORS else 0x0B
    return 0x06 if sectors >= FAT16_SMALL_SECTORS else 0x04


class _Stream:
    """The image from its first byte to its last."""

    def __init__(self, fan: Fan, target: BinaryIO, watcher: ByteWatcher) -> None:
        self.sha256 = hashlib.sha256()
        self._fan, self._target, self._watcher = fan, target, watcher
        self._writing = Writing(target)
        self._place = self._written = self._unsynced = 0
        self._of_files: deque[tuple[hashlib._Hash, File | None]] = deque()

    def zeros_until(self, place: int) -> None:
        """Nothing up to there."""
        while self._place < place:
            self._pass(ZEROS, min(BLOCK_BYTES, place - self._place))

    def take(self, piece: bytes) -> None:
        """These bytes."""
        for start in range(0, len(piece), BLOCK_BYTES):
            part = piece[start : start + BLOCK_BYTES]
            self._pass(part, len(part))

    def copy(self, file: File) -> None:
        """The bytes of a file, which must be those that were checked."""
        digest, left = hashlib.sha256(), file.entry.size_bytes
        with opened(file) as source:
            reading = Reading(source, left)
            while left:
                buffer = self._fan.buffer()
                found = fill_view(reading, buffer, file, least=min(left, BLOCK_BYTES))
                left -= found
                if left < 0:
                    raise changed(file)
                self._of_files.append((digest, None if left else file))
                self._pass(buffer, found, self._hash_file)
            if fill_view(reading, memoryview(bytearray(1)), file, least=0):
                raise changed(file)

    def end(self) -> None:
        """Nothing follows."""
        self._writing.end()

    def _pass(self, block: memoryview | bytes, length: int, *more: Taker) -> None:
        self._fan.hand(block, length, (self._hash, self._write, *more))
        self._place += length
        self._watcher.advanced(length)
        if block is not ZEROS and not self._writing.is_direct:
            self._unsynced += length
        if self._unsynced >= SYNC_BYTES:
            self._unsynced = 0
            self._fan.beside(self._sync)

    def _hash(self, block: memoryview) -> None:
        self.sha256.update(block)

    def _hash_file(self, block: memoryview) -> None:
        """The last block of a file tells whether it is the one that was checked."""
        digest, ended = self._of_files.popleft()
        digest.update(block)
        if ended and digest.hexdigest() != ended.sha256:
            raise changed(ended)

    def _write(self, block: memoryview) -> None:
        if block.obj is not ZEROS and not is_zero(block):
            self._writing.write(self._written, block)
        self._written += len(block)

    def _sync(self) -> None:
        if sys.platform == "linux":
            os.fdatasync(self._target.fileno())


def is_zero(block: memoryview) -> bool:
    """Whether there is nothing in it; a look at its start tells of most blocks that there is."""
    if any_set(block[:PEEK_BYTES]):
        return False
    return not any_set(block)


def any_set(block: memoryview) -> bool:
    """Whether any bit is set."""
    return bool(np.frombuffer(block, np.uint8).any())
