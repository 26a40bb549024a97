"""A whole raw device as a surface: all that is on it is written over, and it is left empty.

It must not decide whether the device may be written over.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from mediacheck.capacity.stream import SECTOR_BYTES
from mediacheck.device.raw_device import Device
from mediacheck.endings import endings_are_tidy, undisturbed

EMPTIED_BYTES = 1 << 20
"""The partition table, or the start of a file system without one, lies in here: without it, no computer takes
what is left, or the stream, for a card that is formatted."""


@contextmanager
def surface_of(device: Device, shown: str, is_there: Callable[[], bool]) -> Iterator[WholeDevice]:
    """Fill the device in the block; however it ends, the device is empty then and closed."""
    surface = WholeDevice(device, shown, is_there)
    with endings_are_tidy():
        try:
            yield surface
        finally:
            with undisturbed():
                surface.leave()


@dataclass(slots=True)
class WholeDevice:
    """A device, from its first byte to its last."""

    device: Device
    shown: str
    is_there: Callable[[], bool]
    left_behind: str | None = None
    """Why it could not be left empty, a clause."""
    _end_bytes: int = 0
    _forgotten: bool | None = None

    @property
    def claimed_bytes(self) -> int:
        """As the device tells."""
        return self.device.size_bytes

    @property
    def used_bytes(self) -> int:
        """Nothing is spared."""
        return 0

    @property
    def room_bytes(self) -> int:
        """All of it."""
        return self.device.size_bytes // SECTOR_BYTES * SECTOR_BYTES

    def write(self, content: memoryview) -> int:
        """Behind what was written before. Raises OSError."""
        self.device.write(self._end_bytes, bytes(content))
        self._end_bytes += len(content)
        return len(content)

    def sync(self) -> None:
        """Wait until it is on the medium. Raises OSError."""
        self.device.sync()

    def read(self, offset: int, length: int) -> bytes:
        """From the medium, as far as the system can be told to. Raises OSError."""
        if self._forgotten is None:
            self._forgotten = self.device.forget()
        return self.device.read(offset, length)

    def is_from_medium(self) -> bool:
        """Whether the system was seen to have forgotten what was written."""
        return bool(self._forgotten)

    def file_at(self, offset: int) -> str | None:
        """There are no files."""
        return None

    def leave(self) -> None:
        """Empty its beginning and let go of it. Does not raise: see `left_behind`."""
        try:
            self.device.write(0, bytes(min(EMPTIED_BYTES, self.device.size_bytes)))
            self.device.sync()
        except OSError as error:
            self.left_behind = f"its beginning could not be emptied ({error.strerror or error})"
        finally:
            self.device.close()
