"""Reads files, or a whole card from front to back, and works out SHA-256 while the next block is read.

It must not judge: it does not know which sums are wanted.
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import BinaryIO

from mediacheck.build.fan import BLOCK_BYTES, Fan
from mediacheck.card.blocks import Blocks
from mediacheck.card.model import Entry
from mediacheck.card.uncached import forget
from mediacheck.card.within import Within
from mediacheck.watching import ByteWatcher


@dataclass(frozen=True, slots=True)
class Sums:
    """What was read. Places are those in the entries that were handed over."""

    files: dict[int, str]
    """SHA-256 of the files that could be read to their end."""
    reasons: dict[int, str]
    """Why the others could not: clauses."""
    whole: str | None
    """SHA-256 of the front of the medium, if that was asked for and could be read."""
    whole_reason: str | None
    past_cache: bool | None
    bytes_read: int


def sums_of_files(entries: Sequence[Entry], watcher: ByteWatcher) -> Sums:
    """Read files one by one."""
    with _told(watcher, sum(entry.size_bytes for entry in entries)), Fan() as fan:
        reader = _Files(fan, watcher)
        for place, entry in enumerate(entries):
            reader.read(place, entry)
    return Sums(reader.sums(), reader.reasons, None, None, reader.past_cache, reader.bytes_read)


def sums_of_medium(
    source: str, entries: Sequence[Entry], whole_bytes: int | None, past_cache: bool, watcher: ByteWatcher
) -> Sums:
    """Read files as they come on the medium, and so many bytes of its front with them, in one go.

    Whatever cannot be read so is read file by file: one bad sector then costs one file.
    """
    segments = _Segments(entries)
    offsets = tuple(_offsets([(0, whole_bytes or 0), *segments.stretches()]))
    with _told(watcher, len(offsets) * BLOCK_BYTES), Fan() as fan:
        walk = _Pass(fan, segments, whole_bytes, watcher)
        try:
            with Blocks(source) as blocks:
                walk.read(blocks, offsets)
        except OSError as error:
            walk.stopped = str(error.strerror or error)
        fan.settle()
        single = _Files(fan, watcher)
        for place, entry in enumerate(entries):
            if place not in segments.done:
                single.read(place, entry)
    return Sums(
        segments.done | single.sums(),
        single.reasons,
        walk.whole_sum(),
        walk.stopped,
        past_cache,
        walk.bytes_read + single.bytes_read,
    )


@contextmanager
def _told(watcher: ByteWatcher, total_bytes: int) -> Iterator[None]:
    watcher.begin(total_bytes, "reading")
    try:
        yield
    finally:
        watcher.end()


def _offsets(stretches: Iterable[tuple[int, int]]) -> Iterator[int]:
    """Where the blocks begin that have something of these in them; stretches come in order."""
    reach = 0
    for start, end in stretches:
        yield from range(max(start // BLOCK_BYTES * BLOCK_BYTES, reach), end, BLOCK_BYTES)
        reach = max(reach, -(-end // BLOCK_BYTES) * BLOCK_BYTES)


class _Files:
    """Files one after the other; the sum of one is still worked out while the next is read."""

    def __init__(self, fan: Fan, watcher: ByteWatcher) -> None:
        self._fan, self._watcher = fan, watcher
        self._digests: dict[int, hashlib._Hash] = {}
        self._waiting: deque[hashlib._Hash] = deque()
        self.reasons: dict[int, str] = {}
        self.past_cache: bool | None = None
        self.bytes_read = 0

    def read(self, place: int, entry: Entry) -> None:
        """Read one file to its end."""
        try:
            with entry.open() as file:
                if isinstance(entry.location, Path):
                    forgotten = forget(file.fileno(), entry.size_bytes)
                    self.past_cache = forgotten and self.past_cache is not False
                read_bytes = self._read(place, file)
        except OSError as error:
            self.reasons[place] = str(error.strerror or error)
            return
        if read_bytes < entry.size_bytes:
            self.reasons[place] = f"it ends after {read_bytes:,} of {entry.size_bytes:,} bytes"
        elif read_bytes > entry.size_bytes:
            self.reasons[place] = f"it grew to {read_bytes:,} bytes while it was read"

    def sums(self) -> dict[int, str]:
        """Of all files that ended well. The fan must have settled."""
        return {
            place: digest.hexdigest() for place, digest in self._digests.items() if place not in self.reasons
        }

    def _read(self, place: int, file: BinaryIO) -> int:
        digest = self._digests[place] = hashlib.sha256()
        done = 0
        while True:
            room = self._fan.buffer()
            try:
                found: int = file.readinto(room)  # type: ignore[attr-defined]  # every opened entry has it
            except OSError:
                self._fan.hand(room, 0, [])  # nobody needs it
                raise
            self._waiting.append(digest)
            self._fan.hand(room, found, [self._take])
            if not found:
                return done
            done += found
            self.bytes_read += found
            self._watcher.advanced(found)

    def _take(self, block: memoryview) -> None:
        self._waiting.popleft().update(block)


class _Pass:
    """One way through a medium, which serves the sum of its front and those of the files in it."""

    def __init__(self, fan: Fan, segments: _Segments, whole_bytes: int | None, watcher: ByteWatcher) -> None:
        self._fan, self._segments, self._whole_bytes, self._watcher = fan, segments, whole_bytes, watcher
        self._whole = hashlib.sha256()
        self._whole_done = 0
        self.stopped: str | None = None
        self.bytes_read = 0

    def read(self, blocks: Blocks, offsets: Iterable[int]) -> None:
        """Read the blocks that begin there. Raises OSError."""
        for offset in offsets:
            room = self._fan.buffer()
            takers, length = [], 0
            try:
                length = self._read(blocks, offset, room)
                takers = [
                    self._segments.take,
                    *([self._take_whole] if offset < (self._whole_bytes or 0) else []),
                ]
                self._segments.offsets.append(offset)
            finally:
                self._fan.hand(room, length, takers)
            self.bytes_read += length
            self._watcher.advanced(length)

    def _read(self, blocks: Blocks, offset: int, room: memoryview) -> int:
        length = max(0, min(BLOCK_BYTES, blocks.size_bytes - offset))
        if not length or blocks.read_into(offset, room[:length]) < length:
            raise OSError("it ends before its end")
        return length

    def whole_sum(self) -> str | None:
        """Of as many bytes of the front as were asked for; None where not all could be read."""
        return self._whole.hexdigest() if self._whole_done == self._whole_bytes else None

    def _take_whole(self, block: memoryview) -> None:
        part = block[: (self._whole_bytes or 0) - self._whole_done]
        self._whole.update(part)
        self._whole_done += len(part)


@dataclass(frozen=True, slots=True)
class _Segment:
    """Bytes of one file that follow each other on the medium."""

    start_byte: int
    end_byte: int
    place: int
    is_last: bool


class _Segments:
    """Files whose bytes are met in their own order on the way from the front of a medium to its end."""

    def __init__(self, entries: Sequence[Entry]) -> None:
        found = [segment for place, entry in enumerate(entries) for segment in _segments(place, entry)]
        self._segments = sorted(found, key=lambda segment: segment.start_byte)
        self._next = 0
        self._open: list[_Segment] = []
        self._digests: dict[int, hashlib._Hash] = {}
        self.offsets: deque[int] = deque()
        """Where the blocks begin that are handed over and not yet taken."""
        empty = hashlib.sha256().hexdigest()
        self.done = {place: empty for place, entry in enumerate(entries) if _is_empty(entry)}
        """Sums of the files that were met to their end."""

    def stretches(self) -> Iterator[tuple[int, int]]:
        """What must be read, in order; some may overlap."""
        return ((segment.start_byte, segment.end_byte) for segment in self._segments)

    def take(self, block: memoryview) -> None:
        """The next block."""
        offset = self.offsets.popleft()
        end = offset + len(block)
        while self._next < len(self._segments) and self._segments[self._next].start_byte < end:
            self._open.append(self._segments[self._next])
            self._next += 1
        for segment in self._open:
            begin = max(segment.start_byte - offset, 0)
            self._add(segment, block[begin : segment.end_byte - offset], segment.end_byte <= end)
        self._open = [segment for segment in self._open if segment.end_byte > end]

    def _add(self, segment: _Segment, part: memoryview, to_its_end: bool) -> None:
        digest = self._digests.setdefault(segment.place, hashlib.sha256())
        digest.update(part)
        if segment.is_last and to_its_end:
            self.done[segment.place] = self._digests.pop(segment.place).hexdigest()


def _is_empty(entry: Entry) -> bool:
    return isinstance(entry.location, Within) and entry.size_bytes == 0


def _segments(place: int, entry: Entry) -> Iterator[_Segment]:
    """Of a file that lies whole on the medium, all of it forwards; of others none."""
    if not isinstance(entry.location, Within):
        return
    runs, left = entry.location.runs, entry.size_bytes
    if sum(run.length_bytes for run in runs) < left or any(
        b.start_byte < a.end_byte for a, b in pairwise(runs)
    ):
        return
    for run in runs:
        length = min(run.length_bytes, left)
        left -= length
        if length:
            yield _Segment(run.start_byte, run.start_byte + length, place, is_last=not left)
