"""The two passes of a capacity check: the stream is written until the medium is full, and read back.

They must not say what follows from it.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from itertools import count

import numpy as np

from mediacheck.capacity.kept import Flags, Kept, Tally
from mediacheck.capacity.pace import Clock, Pace, Stopwatch
from mediacheck.capacity.stream import BLOCK_BYTES, SECTOR_BYTES, Stream, Words, as_sectors
from mediacheck.capacity.surface import Surface, require_there
from mediacheck.device.raw_device import FULL
from mediacheck.errors import CardError
from mediacheck.watching import ByteWatcher

SYNC_BYTES = 32 << 20
"""What is written before the medium is waited for: so little that its speed shows, and not the memory's."""
MADE_AHEAD = 4
PIECE_BYTES = 4096
"""Systems read no less than this from a medium."""
FAILED_READS_MAX = 1024
"""Each may take a second or more. After so many, a block that cannot be read is not taken apart any more."""
UNREADABLE_BLOCKS_MAX = 256
"""After so many in a row the rest is not tried."""


@dataclass(frozen=True, slots=True)
class Written:
    """How the filling ended."""

    size_bytes: int
    """Whole sectors that are known to have reached the medium as far as the system knows."""
    pace: Pace
    stopped: str | None = None
    """Why the medium took no more although it had room."""


def fill(surface: Surface, stream: Stream, watcher: ByteWatcher, clock: Clock) -> Written:
    """Write the stream until the room is used up or the medium takes no more."""
    filling = _Filling(surface, Stopwatch(clock))
    stopped = None
    watcher.begin(surface.room_bytes, "writing")
    try:
        with _made_ahead(stream) as blocks:
            for block in blocks:
                took = filling.take(memoryview(block.data).cast("B"))
                watcher.advanced(took)
                if filling.is_over:
                    break
    except OSError as error:
        stopped = _why_stopped(surface, error)
    finally:
        watcher.end()
    whole_bytes = filling.synced_bytes - filling.synced_bytes % SECTOR_BYTES
    if not whole_bytes:
        refused = CardError(f"nothing can be written to {surface.shown}: {stopped or 'it is full'}")
        refused.advice = "See whether it is write-protected, and try it in another reader."
        raise refused
    return Written(whole_bytes, filling.watch.pace, stopped)


@dataclass(slots=True)
class _Filling:
    """How far the writing is."""

    surface: Surface
    watch: Stopwatch
    done_bytes: int = 0
    synced_bytes: int = 0
    is_over: bool = False

    def take(self, block: memoryview) -> int:
        """Write as much of this block as there is room for. Raises OSError."""
        content = block[: self.surface.room_bytes - self.done_bytes]
        try:
            took = self.watch.timed(self.surface.write, content)
        except OSError:
            with suppress(OSError):
                self._sync()
            raise
        self.done_bytes += took
        self.is_over = took < len(content) or self.done_bytes >= self.surface.room_bytes
        if self.is_over or self.done_bytes - self.synced_bytes >= SYNC_BYTES:
            self._sync()
        return took

    def _sync(self) -> None:
        self.watch.timed(self.surface.sync)
        self.synced_bytes = self.done_bytes
        self.watch.mark(self.synced_bytes)


def _why_stopped(surface: Surface, error: OSError) -> str | None:
    """None where it is only full. CardError where it is gone."""
    require_there(surface, error)
    return None if error.errno in FULL else error.strerror or str(error)


@contextmanager
def _made_ahead(stream: Stream) -> Iterator[Iterator[Words]]:
    """The blocks of a stream from the first on, each made while another one is written or read."""
    with ThreadPoolExecutor(1) as maker:

        def blocks() -> Iterator[Words]:
            waiting = [maker.submit(stream.block, number) for number in range(MADE_AHEAD)]
            for number in count(MADE_AHEAD):
                waiting.append(maker.submit(stream.block, number))
                yield waiting.pop(0).result()

        yield blocks()


def read_back(
    surface: Surface, stream: Stream, size_bytes: int, watcher: ByteWatcher, clock: Clock
) -> tuple[Kept, Pace]:
    """Compare so many bytes with what was written. CardError: it is gone."""
    watch, tally, reader = Stopwatch(clock), Tally(stream), _Reader(surface)
    watcher.begin(size_bytes, "reading back")
    try:
        with _made_ahead(stream) as blocks:
            for number, offset in enumerate(range(0, size_bytes, BLOCK_BYTES)):
                if reader.has_given_up:
                    tally.skip(offset // SECTOR_BYTES, size_bytes // SECTOR_BYTES)
                    break
                length = min(BLOCK_BYTES, size_bytes - offset)
                content, holes = watch.timed(reader.read, offset, length)
                tally.see(number, as_sectors(content), next(blocks)[: length // SECTOR_BYTES], holes)
                if (offset + length) % SYNC_BYTES == 0 or offset + length == size_bytes:
                    watch.mark(offset + length)
                watcher.advanced(length)
    finally:
        watcher.end()
    return tally.kept, watch.pace


@dataclass(slots=True)
class _Reader:
    """Reads a surface although some of it cannot be read, within a bound of tries."""

    surface: Surface
    failed: int = 0
    _holes: list[tuple[int, int]] = field(default_factory=list)
    _unreadable_blocks: int = 0

    @property
    def has_given_up(self) -> bool:
        """Whether so much in a row could not be read that trying on is of no use."""
        return self._unreadable_blocks >= UNREADABLE_BLOCKS_MAX

    def read(self, offset: int, length: int) -> tuple[bytes, Flags | None]:
        """So many bytes, and which sectors of them could not be read; None for none."""
        self._holes = []
        content = self._pieces(offset, length)
        if not self._holes:
            self._unreadable_blocks = 0
            return content, None
        flags = np.zeros(length // SECTOR_BYTES, np.bool_)
        for begin, end in self._holes:
            flags[(begin - offset) // SECTOR_BYTES : -(-(end - offset) // SECTOR_BYTES)] = True
        self._unreadable_blocks = self._unreadable_blocks + 1 if flags.all() else 0
        return content, flags

    def _pieces(self, offset: int, length: int) -> bytes:
        """What can be read of this, and zeros in between, by halving what cannot."""
        try:
            content = self.surface.read(offset, length)
        except OSError as error:
            require_there(self.surface, error)
            self.failed += 1
            if length <= PIECE_BYTES or self.failed > FAILED_READS_MAX:
                self._holes.append((offset, offset + length))
                return bytes(length)
            half = length // 2 // SECTOR_BYTES * SECTOR_BYTES
            return self._pieces(offset, half) + self._pieces(offset + half, length - half)
        if len(content) < length:
            self._holes.append((offset + len(content), offset + length))
        return content.ljust(length, b"\0")
