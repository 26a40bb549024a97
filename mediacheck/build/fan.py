"""Hands blocks of bytes to several takers at once, each in a thread of its own and in order.

It must not know what they do: hashing and writing both let other threads run.
"""

from __future__ import annotations

import mmap
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType
from typing import Self

BLOCK_BYTES = 4 << 20
BLOCKS_AT_ONCE = 6
"""More would not be faster, and each takes its memory."""

Taker = Callable[[memoryview], None]


class Fan:
    """Used by one thread. What a taker raises comes out of `buffer`, `hand` or the end of the block."""

    def __init__(self) -> None:
        self._lanes: dict[Taker | Callable[[], None], ThreadPoolExecutor] = {}
        self._busy: deque[tuple[memoryview | bytes, list[Future[None]]]] = deque()
        self._free: list[memoryview] = []
        self._made = 0
        self._beside: Future[None] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                self.settle()
                self._end_beside()
        finally:
            for lane in self._lanes.values():
                lane.shutdown(wait=True, cancel_futures=True)

    def buffer(self) -> memoryview:
        """Room for one block, which nobody reads any more. Its memory begins where a page does."""
        while not self._free and self._made == BLOCKS_AT_ONCE:
            self._take_back()
        if self._free:
            return self._free.pop()
        self._made += 1
        return memoryview(mmap.mmap(-1, BLOCK_BYTES))

    def hand(self, block: memoryview | bytes, length: int, takers: Sequence[Taker]) -> None:
        """Give the first so many bytes to these takers. A memoryview is from `buffer` and goes back there."""
        view = memoryview(block)[:length]
        self._busy.append((block, [self._lane(taker).submit(taker, view) for taker in takers]))
        if len(self._busy) > 2 * BLOCKS_AT_ONCE:  # blocks that are not from `buffer` must not pile up
            self._take_back()

    def beside(self, work: Callable[[], None]) -> None:
        """Have this done while blocks are taken, which do not wait for it; not if it is still being done."""
        if self._beside is None or self._beside.done():
            self._end_beside()
            self._beside = self._lane(work).submit(work)

    def settle(self) -> None:
        """Wait until all that was handed over is taken."""
        while self._busy:
            self._take_back()

    def _end_beside(self) -> None:
        if self._beside:
            self._beside.result()

    def _lane(self, taker: Taker | Callable[[], None]) -> ThreadPoolExecutor:
        if taker not in self._lanes:
            self._lanes[taker] = ThreadPoolExecutor(1)
        return self._lanes[taker]

    def _take_back(self) -> None:
        block, tasks = self._busy.popleft()
        for task in tasks:
            task.result()
        if isinstance(block, memoryview):
            self._free.append(block)
