"""Whether a medium is as large and as fast as it claims: fills it with a stream and reads all of it back.

It must not know whether it fills a drive with files or a device, and must not print.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

from mediacheck.capacity.kept import Kept
from mediacheck.capacity.pace import Clock, Pace
from mediacheck.capacity.passes import Written, fill, read_back
from mediacheck.capacity.stream import SECTOR_BYTES, Stream
from mediacheck.capacity.surface import Surface
from mediacheck.watching import ByteWatcher

FALSE_PART = 64
"""A card that lost more than one part in so many is of false capacity; below, cells are bad. Cards of false
capacity claim at least twice what they hold (common practice, no source)."""

USED_PART = 20
"""What is in use and was not tested is of no weight while it is less than one part in so many."""


@dataclass(frozen=True, slots=True)
class Capacity:
    """What was found out about one medium."""

    claimed_bytes: int
    used_bytes: int
    room_bytes: int
    written: Written
    kept: Kept
    read: Pace
    from_medium: bool
    """Whether it is proven that what came back was read from the medium."""
    first_bad_file: str | None = None

    @property
    def is_false(self) -> bool:
        """Whether a part is missing, and not just a few cells bad."""
        return self.kept.lost * FALSE_PART > self.written.size_bytes // SECTOR_BYTES

    @property
    def is_sound(self) -> bool:
        """Whether all that could be written was, and came back."""
        return not self.kept.bad and self.written.stopped is None

    @property
    def true_bytes(self) -> int:
        """The size that it really has, as far as was found out; what was not tested counts as it claims.

        Where it begins again from its start when it is at its end, each place holds what was written last to
        it, and the distance to what was meant for it is the size; that counts only where it fits to what is
        held. In all other cases it is what holds its content, and what is in use.
        """
        if self.is_sound:
            return self.claimed_bytes
        return self._turn_bytes or self.used_bytes + self.kept.held * SECTOR_BYTES

    @property
    def is_upper_bound(self) -> bool:
        """Whether what is in use may be a good part of the true size, or beyond it."""
        counted = self.is_false and not self._turn_bytes
        return counted and self.used_bytes * USED_PART > self.kept.held * SECTOR_BYTES

    @property
    def _turn_bytes(self) -> int | None:
        held_bytes, turn_bytes = self.kept.held * SECTOR_BYTES, self.kept.nearest_bytes
        if turn_bytes is None or turn_bytes < held_bytes:
            return None
        beyond_bytes = turn_bytes - held_bytes - self.used_bytes  # bad cells, which hold nothing
        return turn_bytes if beyond_bytes * FALSE_PART <= turn_bytes else None


def examine(
    surface: Surface, stream: Stream, watcher: ByteWatcher, clock: Clock = time.monotonic
) -> Capacity:
    """Fill it and read it back. CardError: it is gone, or takes nothing at all."""
    written = fill(surface, stream, watcher, clock)
    kept, pace = read_back(surface, stream, written.size_bytes, watcher, clock)
    bad = kept.first_bad_byte
    return Capacity(
        claimed_bytes=surface.claimed_bytes,
        used_bytes=surface.used_bytes,
        room_bytes=surface.room_bytes,
        written=written,
        kept=kept,
        read=pace,
        from_medium=surface.is_from_medium(),
        first_bad_file=None if bad is None else surface.file_at(bad),
    )
