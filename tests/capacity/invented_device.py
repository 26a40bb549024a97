"""An invented medium as a raw device that is open, and that notes what is asked of it.

It must not do more than it is asked for.
"""

from __future__ import annotations

import errno

from tests.device.false_media import Whole


class Invented:
    """A medium as a device."""

    sector_bytes = 512

    def __init__(self, medium: Whole, forgets: bool = True) -> None:
        self.medium, self.forgets, self.size_bytes = medium, forgets, medium.claimed
        self.calls: list[str] = []
        self.broken = False

    def _called(self, name: str) -> None:
        if self.broken:
            raise OSError(errno.EIO, "Input/output error")
        if self.calls[-1:] != [name]:
            self.calls.append(name)

    def read(self, offset: int, length: int) -> bytes:
        """As asked."""
        self._called("read")
        return self.medium.read(offset, length)

    def write(self, offset: int, content: bytes) -> None:
        """As asked."""
        self._called("write")
        assert offset + len(content) <= self.size_bytes
        self.medium.write(offset, content)

    def sync(self) -> None:
        """Noted."""
        self._called("sync")

    def forget(self) -> bool:
        """As was said."""
        self._called("forget")
        return self.forgets

    def close(self) -> None:
        """Noted."""
        self.calls.append("close")
