"""Has the same file decoded once, though it lies on many cards that are looked at side by side.

It must not know how the work is done, nor trust that files which begin and end alike are the same: whoever
does the work hashes each of them.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from mediacheck.card.edges import edges_of
from mediacheck.card.within import Within
from mediacheck.inspection import Wanted

P = ParamSpec("P")
T = TypeVar("T")
Likeness = bytes


class FirstAlone(Executor):
    """Hands inspections on to `pool`; a file that looks like one in work waits until that is done.

    By then the cache has the numbers of the first, and all that look like it cost only the reading. Leaving
    a with-block leaves it at work, since many cards share it.
    """

    def __init__(self, pool: Executor) -> None:
        self._pool = pool
        self._changed = threading.Lock()
        self._held: dict[Likeness, list[Callable[[], None]] | None] = {}
        """What waits for the first of its kind; None: the first is done, and nothing need wait."""

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """As the pool's own. What the pool raises for a call that was held back comes out of the future."""
        future: Future[T] = Future()
        likeness = _likeness(args)
        send = partial(self._send, future, likeness, partial(self._pool.submit, fn, *args, **kwargs))
        if likeness is None or self._is_free(likeness, send):
            send()
        return future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Nothing: the pool is not ours."""

    def _is_free(self, likeness: Likeness, send: Callable[[], None]) -> bool:
        with self._changed:
            if likeness not in self._held:
                self._held[likeness] = []
                return True
            waiting = self._held[likeness]
            if waiting is None:
                return True
            waiting.append(send)
            return False

    def _send(self, future: Future[T], likeness: Likeness | None, work: Callable[[], Future[T]]) -> None:
        try:
            task = work()
        except Exception as error:  # a future that is never answered would hang the whole run
            self._let_go(likeness)
            _answer(future, error)
            return
        task.add_done_callback(partial(self._done, future, likeness))

    def _done(self, future: Future[T], likeness: Likeness | None, task: Future[T]) -> None:
        self._let_go(likeness)
        if task.cancelled():
            future.cancel()
            future.set_running_or_notify_cancel()
        elif error := task.exception():
            _answer(future, error)
        elif future.set_running_or_notify_cancel():
            future.set_result(task.result())

    def _let_go(self, likeness: Likeness | None) -> None:
        if likeness is None:
            return
        with self._changed:
            waiting = self._held.get(likeness) or []
            self._held[likeness] = None
        for send in waiting:
            send()


def _answer(future: Future[Any], error: BaseException) -> None:
    if future.set_running_or_notify_cancel():
        future.set_exception(error)


def _likeness(args: tuple[Any, ...]) -> Likeness | None:
    """What equal files have in common: size, head and tail. None: nothing is decoded, or nothing kept."""
    if len(args) != 4 or not isinstance(args[0], Path | Within) or not isinstance(args[3], Wanted):
        return None
    location, _, size_bytes, wanted = args
    if wanted.cache is None or not size_bytes:
        return None
    with suppress(OSError, ValueError):
        return edges_of(location, size_bytes)
    return None
