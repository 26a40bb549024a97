"""Reads the pipe of a decode by what has come in a while, and not by each piece as it comes.

It must not know what comes. Whoever looks at every picture as it comes finds none of his own things in the
core's cache, and leaves none of the decoder's there: looking took a third longer than by a quarter of a
second at a time, and a check of 1080p a twentieth.
"""

from __future__ import annotations

import io
import os
import select
import sys
import time
from contextlib import suppress
from typing import BinaryIO, Self

PAUSE_MIN_S, PAUSE_MAX_S = 0.001, 0.025
ROOM_MIN_BYTES = 1 << 18
"""A narrower pipe is full before the shortest pause is over: Linux gives some of 4 kB to who has many."""
STEP_MAX = 2.0
"""The pause grows or shrinks by this much at a time."""
GATHER_MIN_S, GATHER_MAX_S = 0.03, 0.25
"""The first pictures are handed over soon, so that a short clip is not waited for."""
STORE_BYTES = 6 << 20
"""A quarter of a second of small pictures on two cores, and as much again."""


class CalmReader:
    """Empties the pipe now and then into a store, and hands over what lies in another one.

    The pipe is emptied when about half of what it can hold has come, or a moment has passed, while what came
    before is being looked at too: so who writes seldom waits for us. Where the pipe is narrow, or does not
    tell what it can hold, each read is one of the pipe.
    """

    def __init__(self, pipe: BinaryIO) -> None:
        self._pipe = io.FileIO(os.dup(pipe.fileno()))  # another thread may close the other one meanwhile
        self._room_bytes = room_bytes(pipe)
        self._handed, self._gathered = _Store(STORE_BYTES), _Store(STORE_BYTES)
        self._pause_s, self._gather_s = PAUSE_MIN_S, GATHER_MIN_S
        self._began_s = self._emptied_s = time.monotonic()
        """When the store that is being filled was begun, and when the pipe was emptied last."""
        self._ended = self._left = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._pipe.close()

    def leave(self) -> None:
        """From any thread: nobody wants to see more, and the next read is told the end."""
        self._left = True

    def read(self, size: int) -> bytes:
        """Up to so many bytes; none at the end."""
        if self._left:
            return b""
        if self._room_bytes < ROOM_MIN_BYTES:
            return self._pipe.read(size)
        if not self._handed.filled_bytes:
            self._gather()
            self._handed, self._gathered = self._gathered, self._handed
            self._began_s, self._gather_s = time.monotonic(), min(self._gather_s * STEP_MAX, GATHER_MAX_S)
        elif time.monotonic() - self._emptied_s >= self._pause_s and self._has_come():
            self._empty()
        return self._handed.taken(size)

    def _gather(self) -> None:
        """Until enough has come, or a while has passed, or the pipe has ended."""
        if not self._gathered.filled_bytes:
            self._empty()  # waits for the first
        while self._may_empty() and time.monotonic() - self._began_s < self._gather_s:
            _wait(self._pipe, self._pause_s)
            if self._has_come():
                self._empty()

    def _may_empty(self) -> bool:
        return not self._ended and self._gathered.free_bytes >= self._room_bytes

    def _has_come(self) -> bool:
        """Whether the pipe can be emptied without waiting; its end counts."""
        return self._may_empty() and _wait(self._pipe, 0, for_more=True)

    def _empty(self) -> None:
        """Take what is in the pipe, and set the pause by how full it was."""
        came_bytes = self._gathered.fill(self._pipe, self._room_bytes)
        self._ended = not came_bytes
        self._emptied_s = time.monotonic()
        step = min(max(self._room_bytes / 2 / max(came_bytes, 1), 1 / STEP_MAX), STEP_MAX)
        self._pause_s = min(max(self._pause_s * step, PAUSE_MIN_S), PAUSE_MAX_S)


class _Store:
    """Bytes that came and were not taken yet, in room that is used again and again."""

    def __init__(self, size: int) -> None:
        self._bytes = memoryview(bytearray(size))
        self._taken = self._filled = 0

    @property
    def filled_bytes(self) -> int:
        return self._filled - self._taken

    @property
    def free_bytes(self) -> int:
        return len(self._bytes) - self._filled

    def fill(self, pipe: io.FileIO, size: int) -> int:
        """How many bytes came, of at most so many, in one read; none where the pipe has ended."""
        came = pipe.readinto(self._bytes[self._filled : self._filled + size]) or 0
        self._filled += came
        return came

    def taken(self, size: int) -> bytes:
        """The next bytes, and room again when they were the last."""
        data = bytes(self._bytes[self._taken : min(self._taken + size, self._filled)])
        self._taken += len(data)
        if self._taken == self._filled:
            self._taken = self._filled = 0
        return data


def room_bytes(pipe: BinaryIO) -> int:
    """How much a pipe can hold; 0 where the system does not tell (it does on Linux), or what is no pipe."""
    if sys.platform == "linux":
        import fcntl

        with suppress(OSError):
            return fcntl.fcntl(pipe, fcntl.F_GETPIPE_SZ)
    return 0


def _wait(pipe: io.FileIO, seconds: float, *, for_more: bool = False) -> bool:
    """False if the time has passed, True if whoever writes has gone or, where wanted, something has come."""
    if sys.platform == "linux":
        waiting = select.poll()
        waiting.register(pipe, select.POLLIN if for_more else 0)
        return bool(waiting.poll(seconds * 1000))
    return False
