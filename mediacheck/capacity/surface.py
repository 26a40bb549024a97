"""What a capacity check fills: the free space of a drive, or a whole device.

It must not know what is written to it.
"""

from __future__ import annotations

from typing import Protocol

from mediacheck.device.raw_device import GONE
from mediacheck.errors import CardError


class Surface(Protocol):
    """Written once, from its start to its end; then read."""

    @property
    def shown(self) -> str:
        """Its name, as people know it."""

    @property
    def claimed_bytes(self) -> int:
        """As large as it says that it is, all together."""

    @property
    def used_bytes(self) -> int:
        """What is not to be written to, because files are there."""

    @property
    def room_bytes(self) -> int:
        """What is to be written: whole sectors."""

    def write(self, content: memoryview) -> int:
        """Put this behind what was written before. Fewer bytes than given: it is full. Raises OSError."""

    def sync(self) -> None:
        """Wait until all that was written is on the medium. Raises OSError."""

    def read(self, offset: int, length: int) -> bytes:
        """From what was written; fewer bytes than asked for where the rest is not there. Raises OSError."""

    def is_there(self) -> bool:
        """Whether the medium still is."""

    def is_from_medium(self) -> bool:
        """Whether all that was read so far is proven to have come from the medium, not from memory."""

    def file_at(self, offset: int) -> str | None:
        """The file that holds this byte of the stream; None where there are no files."""


def require_there(surface: Surface, error: OSError) -> None:
    """CardError if this is because the medium was taken out."""
    if error.errno in GONE or not surface.is_there():
        gone = CardError(f"{surface.shown} went away in the middle: it was taken out, or its reader failed")
        gone.advice = "Put it in again and run the same command again."
        raise gone from error
