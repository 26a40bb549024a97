"""An image file or raw device, read in large blocks into room that the caller has.

It must not know what the bytes mean, and must not write. For reading here and there, see `medium`.
"""

from __future__ import annotations

import io
import os
from types import TracebackType
from typing import Self

from mediacheck.card.device import geometry, is_device, windows_device
from mediacheck.card.uncached import forget


class Blocks:
    """Windows and macOS read raw devices by whole sectors only: ask for places and lengths that are."""

    def __init__(self, source: str) -> None:
        """Open it. Raises OSError."""
        name = windows_device(source) or source  # a `Path` would put a backslash behind it
        self._file = open(name, "rb", buffering=0)  # noqa: PTH123, SIM115  # closed by `__exit__`
        try:
            device = is_device(source)
            self.size_bytes = geometry(self._file).size_bytes if device else self._file.seek(0, io.SEEK_END)
        except BaseException:
            self._file.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

    def forget(self) -> bool:
        """As `uncached.forget`."""
        return forget(self._file.fileno(), self.size_bytes)

    def read_into(self, offset: int, room: memoryview) -> int:
        """Read from there until the room is full or the end is met; how many bytes. Raises OSError."""
        done = 0
        while done < len(room):
            found = self._read_once(offset + done, room[done:])
            if not found:
                break
            done += found
        return done

    def _read_once(self, offset: int, room: memoryview) -> int:
        if hasattr(os, "preadv"):
            found: int = os.preadv(self._file.fileno(), [room], offset)
            return found
        self._file.seek(offset)
        return self._file.readinto(room) or 0
