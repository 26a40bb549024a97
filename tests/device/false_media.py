"""Invented media: of false capacity in several ways, with bad cells, slow stretches, and sudden ends.

They must not know what is written to them.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

SECTOR = 512


class Clock:
    """Seconds that go by only when somebody says so."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


class Whole:
    """A medium that is what it claims; the others are made from it."""

    def __init__(self, claimed: int, true: int | None = None, stuck: Mapping[int, int] | None = None) -> None:
        self.claimed, self.true = claimed, claimed if true is None else true
        self.cells = bytearray(self.true)
        self.stuck = stuck or {}
        """Cells that always read 1: the byte's place in the cells, and a mask."""

    def write(self, offset: int, content: bytes | memoryview) -> None:
        """Raises OSError."""
        self.cells[offset : offset + len(content)] = content

    def read(self, offset: int, length: int) -> bytes:
        """Raises OSError."""
        found = self.cells[offset : offset + length]
        for place, mask in self.stuck.items():
            if offset <= place < offset + length:
                found[place - offset] |= mask
        return bytes(found)


class Wraps(Whole):
    """Begins again from its start when it is at its end."""

    def write(self, offset: int, content: bytes | memoryview) -> None:
        for at, piece in _turns(offset, len(content), self.true):
            super().write(at, content[piece])

    def read(self, offset: int, length: int) -> bytes:
        return b"".join(
            super(Wraps, self).read(at, piece.stop - piece.start)
            for at, piece in _turns(offset, length, self.true)
        )


def _turns(offset: int, length: int, turn: int) -> Iterable[tuple[int, slice]]:
    done = 0
    while done < length:
        at = (offset + done) % turn
        here = min(length - done, turn - at)
        yield at, slice(done, done + here)
        done += here


class Drops(Whole):
    """Forgets what is written beyond its end, and reads as something else there."""

    fill = b"\x00"

    def write(self, offset: int, content: bytes | memoryview) -> None:
        super().write(offset, content[: max(self.true - offset, 0)])

    def read(self, offset: int, length: int) -> bytes:
        inside = super().read(offset, max(min(length, self.true - offset), 0))
        return inside + self.beyond(length - len(inside))

    def beyond(self, length: int) -> bytes:
        """What stands there."""
        return self.fill * length


class DropsToOnes(Drops):
    """As an erased flash memory reads."""

    fill = b"\xff"


class DropsToNoise(Drops):
    """As memory that was never written."""

    def beyond(self, length: int) -> bytes:
        return os.urandom(length)


class RepeatsLast(Whole):
    """Everything beyond its end is kept in its last sector."""

    def write(self, offset: int, content: bytes | memoryview) -> None:
        last = self.true - SECTOR
        super().write(offset, content[: max(last - offset, 0)])
        if offset + len(content) > last:
            super().write(last, content[-SECTOR:])

    def read(self, offset: int, length: int) -> bytes:
        last = self.true - SECTOR
        inside = super().read(offset, max(min(length, last - offset), 0))
        return inside + super().read(last, SECTOR) * ((length - len(inside)) // SECTOR)


class Refuses(Whole):
    """Neither takes nor gives anything beyond its end."""

    def read(self, offset: int, length: int) -> bytes:
        if offset + length > self.true:
            raise OSError(errno.EIO, "Input/output error")
        return super().read(offset, length)

    def write(self, offset: int, content: bytes | memoryview) -> None:
        super().write(offset, content[: max(self.true - offset, 0)])


FALSE = (Wraps, Drops, DropsToOnes, DropsToNoise, RepeatsLast)
"""In ways that can be told to the byte; what cannot be read is told to the page."""


@dataclass
class FalseSurface:
    """A medium as a surface: from `used_bytes` on it is free to be written."""

    medium: Whole
    used_bytes: int = 0
    clock: Clock = field(default_factory=Clock)
    mb_s: Callable[[int], float] = lambda offset: 10.0
    """How fast it is at a place, for both directions."""
    fails: Callable[[str, int], None] = lambda what, offset: None
    """Is asked before each "write", "sync" and "read", and may raise."""
    there: bool = True
    forgotten: bool = True
    shown: str = "the invented card"
    _end: int = 0

    @property
    def claimed_bytes(self) -> int:
        """As it says."""
        return self.medium.claimed

    @property
    def room_bytes(self) -> int:
        """All that is not in use."""
        return self.medium.claimed - self.used_bytes

    def write(self, content: memoryview) -> int:
        """Behind what was written."""
        self.fails("write", self._end)
        self.medium.write(self.used_bytes + self._end, content)
        self._spend(self._end, len(content))
        self._end += len(content)
        return len(content)

    def sync(self) -> None:
        """Nothing is kept back."""
        self.fails("sync", self._end)

    def read(self, offset: int, length: int) -> bytes:
        """Counted from the start of what was written."""
        self.fails("read", offset)
        self._spend(offset, length)
        return self.medium.read(self.used_bytes + offset, length)

    def is_there(self) -> bool:
        """As was said."""
        return self.there

    def is_from_medium(self) -> bool:
        """As was said."""
        return self.forgotten

    def file_at(self, offset: int) -> str | None:
        """There are no files."""
        return None

    def _spend(self, offset: int, count: int) -> None:
        self.clock.now_s += count / self.mb_s(offset) / 1_000_000
