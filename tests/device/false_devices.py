"""Invented media as raw devices, which note what is done to them and fail where they are told to.

They must not be anywhere near a real device.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Callable

from tests.device.false_media import Whole

MIB = 1 << 20
Hook = Callable[[str, int], None]
"""Is asked before each "read", "write" and "sync" (of place 0), and may raise."""


class FalseDevice:
    """A medium as a device."""

    def __init__(
        self,
        medium: Whole,
        hook: Hook = lambda what, place: None,
        forgets: bool = True,
        sector_bytes: int = 512,
    ) -> None:
        self.medium, self.hook, self.forgets = medium, hook, forgets
        self.size_bytes, self.sector_bytes = medium.claimed, sector_bytes
        self.log: list[tuple[str, int, int]] = []
        """What was done, where, and to how many bytes; reads are not noted."""
        self.is_closed = False

    def read(self, offset: int, length: int) -> bytes:
        """As asked, up to the end."""
        self.hook("read", offset)
        return self.medium.read(offset, min(length, self.size_bytes - offset))

    def write(self, offset: int, content: bytes) -> None:
        """As asked."""
        assert offset % self.sector_bytes == 0
        assert offset + len(content) <= self.size_bytes
        self.log.append(("write", offset, len(content)))
        self.hook("write", offset)
        self.medium.write(offset, content)

    def sync(self) -> None:
        """Nothing is kept back."""
        self.log.append(("sync", 0, 0))
        self.hook("sync", 0)

    def forget(self) -> bool:
        """As was said."""
        return self.forgets

    def close(self) -> None:
        """Noted."""
        self.is_closed = True

    @property
    def writes(self) -> list[tuple[int, int]]:
        """Where was written, and how much, in this order."""
        return [(offset, length) for what, offset, length in self.log if what == "write"]


def filled_with(byte: int, size_bytes: int) -> Whole:
    """A medium that is full of one byte."""
    medium = Whole(size_bytes)
    medium.cells[:] = bytes((byte,)) * size_bytes
    return medium


def holding(content: bytes, size_bytes: int) -> Whole:
    """A medium that begins so."""
    medium = Whole(size_bytes)
    medium.write(0, content)
    return medium


def fails(number: int, what: str, from_byte: int, to_byte: int | None = None) -> Hook:
    """A hook that raises this error for this kind of call in this stretch."""

    def hook(asked: str, place: int) -> None:
        if asked == what and from_byte <= place and (to_byte is None or place < to_byte):
            raise OSError(number, os.strerror(number))

    return hook


def gone_after(calls: int) -> Hook:
    """A hook as of a device that is taken out after so many calls."""
    left = [calls]

    def hook(asked: str, place: int) -> None:
        left[0] -= 1
        if left[0] < 0:
            raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))

    return hook
