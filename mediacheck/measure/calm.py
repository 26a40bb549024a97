"""Reads the pipe of a decode by what has come in a while, and not by each piece as it comes.

It must not know what comes. Whoever is woken for every picture finds none of his own things in the core's
cache, and leaves none of the decoder's there: a check of 1080p took a fiftieth longer.
"""

from __future__ import annotations

import os
import select
import sys
from contextlib import suppress
from typing import BinaryIO

PAUSE_MIN_S, PAUSE_MAX_S = 0.001, 0.025
ROOM_MIN_BYTES = 1 << 18
"""A narrower pipe is full before the shortest pause is over: Linux gives some of 4 kB to who has many."""
STEP_MAX = 2.0
"""The pause grows or shrinks by this much at a time."""


class CalmReader:
    """Waits, when the pipe is empty, until about half of what it can hold has come, or a moment has passed.

    So who writes seldom waits for us. In a pipe that is narrow, or does not tell what it can hold, nothing is
    waited for.
    """

    def __init__(self, pipe: BinaryIO) -> None:
        self._pipe = pipe
        self._room_bytes = room_bytes(pipe)
        self._pause_s = PAUSE_MIN_S
        self._taken_bytes = 0
        """Since the last pause."""
        self._is_empty = False

    def read(self, size: int) -> bytes:
        """Up to so many bytes; none at the end."""
        if self._is_empty and self._room_bytes >= ROOM_MIN_BYTES:
            self._wait()
        data = os.read(self._pipe.fileno(), size)
        self._taken_bytes += len(data)
        self._is_empty = len(data) < size
        return data

    def _wait(self) -> None:
        wanted = self._room_bytes / 2
        step = min(max(wanted / max(self._taken_bytes, 1), 1 / STEP_MAX), STEP_MAX)
        self._pause_s = min(max(self._pause_s * step, PAUSE_MIN_S), PAUSE_MAX_S)
        self._taken_bytes = 0
        _pause(self._pipe.fileno(), self._pause_s)


def room_bytes(pipe: BinaryIO) -> int:
    """How much a pipe can hold; 0 where the system does not tell (it does on Linux), or what is no pipe."""
    if sys.platform == "linux":
        import fcntl

        with suppress(OSError):
            return fcntl.fcntl(pipe, fcntl.F_GETPIPE_SZ)
    return 0


def _pause(pipe: int, seconds: float) -> None:
    """Until the time has passed or whoever writes has gone, and not because something has come."""
    if sys.platform == "linux":
        waiting = select.poll()
        waiting.register(pipe, 0)
        waiting.poll(seconds * 1000)
