"""All new files of a repair, made by worker processes: each master for all players at once.

It must not decide what to make; a file that cannot be made costs no other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from mediacheck import early, inspection
from mediacheck.card.within import Within
from mediacheck.errors import WorkerError
from mediacheck.inspection import Decoded
from mediacheck.repair.model import Made, NotMade
from mediacheck.repair.task import Task, time_limit_s, together_limit_s
from mediacheck.repair.work import convert, convert_together
from mediacheck.survey import Watcher
from mediacheck.workers import FileWorkers

Answer = Made | NotMade
Crew = Callable[[int], Executor]
"""Gives the pool for so many files at once."""
Key = tuple[int, str]
"""Which player, counted from 0, and the path in its copy."""
AGAIN = "Run it again; if it happens again, ask for a new export of this file."
TICK_S = 0.2
"""A longer wait would hold Ctrl-C back on Windows."""


@dataclass(frozen=True, slots=True)
class Order:
    """One file to make. `path` is what people know it by, `size_bytes` its share of the whole work."""

    key: Key
    path: str
    size_bytes: int
    task: Task


News = SimpleQueue[tuple[Future[tuple[Answer, ...]], Decoded | None]]


@contextmanager
def crew(jobs: int) -> Iterator[Crew]:
    """Worker processes that stay for all stages of a run: to start one takes longer than many a file."""
    workers = early.workers(jobs, limit_s, "full")
    workers.stays_open = True
    try:
        yield lambda _: workers
    except BaseException:
        workers.end()
        raise
    workers.shutdown()


def limit_s(what: tuple[Task, ...] | Path | Within, *rest: Any) -> float:
    """For what is made, and for what is looked at (`inspection.inspect`)."""
    if not isinstance(what, tuple):
        return inspection.time_limit_s(what, *rest)
    return time_limit_s(what[0]) if len(what) == 1 else together_limit_s(what)


def make_all(
    orders: Sequence[Order],
    jobs: int,
    watcher: Watcher,
    crew: Crew,
    meanwhile: Callable[[], None] = lambda: None,
) -> Mapping[Key, Answer]:
    """Make them, and do `meanwhile` what needs no worker. Raises what `work.convert` raises: a full disk."""
    groups = _by_master(orders)
    watcher.begin(len(orders), sum(order.size_bytes for order in orders))
    if not orders:
        meanwhile()
        return {}
    news: News = SimpleQueue()
    with crew(jobs) as pool:
        if isinstance(pool, FileWorkers):
            pool.on_told = partial(_pass_on, news)
        waiting = {_submitted(pool, group, news): group for group in groups}
        meanwhile()
        return _answers(waiting, news, watcher)


def _by_master(orders: Sequence[Order]) -> list[tuple[Order, ...]]:
    groups: dict[object, list[Order]] = {}
    for order in orders:
        groups.setdefault(order.task.location, []).append(order)
    return [tuple(group) for group in groups.values()]


def _submitted(pool: Executor, group: tuple[Order, ...], news: News) -> Future[tuple[Answer, ...]]:
    future = pool.submit(make_group, tuple(order.task for order in group))
    future.add_done_callback(lambda done: news.put((done, None)))
    return future


def make_group(tasks: tuple[Task, ...]) -> tuple[Answer, ...]:
    """In a worker process: all that is made of one master."""
    return (convert(tasks[0]),) if len(tasks) == 1 else convert_together(tasks)


def _pass_on(news: News, future: Future[tuple[Answer, ...]], told: object) -> None:
    if isinstance(told, Decoded):
        news.put((future, told))


def _answers(
    waiting: dict[Future[tuple[Answer, ...]], tuple[Order, ...]], news: News, watcher: Watcher
) -> dict[Key, Answer]:
    found: dict[Key, Answer] = {}
    while waiting:
        try:
            future, so_far = news.get(timeout=TICK_S)
        except Empty:
            watcher.waiting()
            continue
        if so_far is not None:
            if future in waiting:
                first = waiting[future][0]
                watcher.decoded(first.path, sum(order.size_bytes for order in waiting[future]), so_far)
            continue
        group = waiting.pop(future)
        for order, answer in zip(group, _answer(future, len(group)), strict=True):
            found[order.key] = answer
            watcher.done(order.path, order.size_bytes)
    return found


def _answer(future: Future[tuple[Answer, ...]], count: int) -> tuple[Answer, ...]:
    try:
        return future.result()
    except WorkerError as error:
        return (NotMade(f"Making it did not end well: {error}.", AGAIN),) * count
