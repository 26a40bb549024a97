"""The one door to worker processes: an executor that survives a crashing or hanging file.

It must not know what the work is. A worker process imports the module of the function that it is given,
and `__main__` once more (the spawn method does that): `mediacheck/__main__.py` has to stay light.
"""

from __future__ import annotations

import atexit
import math
import threading
import time
import weakref
from collections import deque
from collections.abc import Callable
from concurrent.futures import Executor, Future
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from types import TracebackType
from typing import Any, ParamSpec, TypeVar

from mediacheck.errors import WorkerError
from mediacheck.worker_process import START_LIMIT_S, Worker, packed_task

P = ParamSpec("P")
T = TypeVar("T")
TimeLimit = float | Callable[..., float]
"""Seconds for one task, or a function that tells them from the arguments of the task."""
OnTold = Callable[[Future[Any], object], None]
"""Hears what a running task tells (`worker_process.tell`), and by whose future its result will come."""

JOIN_SLICE_S = 0.2
"""On Windows a longer wait would hold back Ctrl-C."""
END_WAIT_S = 5.0
"""How long to wait for threads whose worker was just ended; one that hangs in a driver is left behind."""


@dataclass(frozen=True, slots=True)
class _Task:
    future: Future[Any]
    fn: Callable[..., Any]
    args: tuple[Any, ...]
    kwargs: dict[str, Any] = field(default_factory=dict)
    prepares: bool = False
    """Done by the worker that then takes the first task; not counted as work."""


class FileWorkers(Executor):
    """Runs functions in processes of their own, each under a time limit; a drop-in `Executor`.

    The function must be importable by name, its arguments and result picklable. What it raises comes
    out of the future as itself. `WorkerTooSlow`: over its time limit; `WorkerDied`: the process crashed;
    plain `WorkerError`: no process could be started, or something could not be sent. Each of these costs
    one task: the worker is replaced and the run goes on.

    `on_told` is called in a thread of ours while a task runs, for one task in order and before its result,
    for different tasks at the same time. What it raises is dropped.

    Leaving the with-block by an exception (Ctrl-C too) ends every worker and its children at once.
    """

    def __init__(self, jobs: int, time_limit_s: TimeLimit, on_told: OnTold | None = None) -> None:
        if jobs < 1:
            raise ValueError("jobs must be at least 1")
        self._jobs = jobs
        self._time_limit_s = time_limit_s
        self.on_told = on_told or _unheard
        self.stays_open = False
        """Whether leaving a with-block leaves it at work, for one stage of a run after the other."""
        self._changed = threading.Condition()
        """Guards all that follows."""
        self._tasks: deque[_Task] = deque()
        self._threads: list[threading.Thread] = []
        self._workers: set[Worker] = set()
        self._unfinished = 0
        self._closed = False
        self._ended = False
        _ALL.add(self)

    def settle(self, jobs: int, time_limit_s: TimeLimit) -> None:
        """Say how many at once and how long each may take, where that was not known at first."""
        with self._changed:
            self._jobs, self._time_limit_s = jobs, time_limit_s

    def prepare(self, fn: Callable[[], object], *, copied: bool = False) -> None:
        """Start a worker before there is work: it calls `fn`, to import what tasks need, and waits for one.

        What `fn` raises is dropped: a task that needs the same will meet it again. `copied`: the worker is a
        copy of this process (where `can_copy` says so), which takes a tenth of the time.
        """
        with self._changed:
            if not self._threads and not self._closed:
                self._add_thread(self._copy() if copied else None)
                self._tasks.append(_Task(Future(), fn, (), prepares=True))
                self._changed.notify()

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Queue one call. RuntimeError after `shutdown`."""
        future: Future[T] = Future()
        with self._changed:
            if self._closed:
                raise RuntimeError("no more work is taken: these workers were shut down")
            if len(self._threads) < min(self._jobs, self._unfinished + 1):
                self._add_thread()
            self._unfinished += 1
            self._tasks.append(_Task(future, fn, args, kwargs))
            self._changed.notify()
        return future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Take no more work; what is queued is done first unless cancelled. Ctrl-C meanwhile ends all."""
        with self._changed:
            self._closed = True
            dropped = self._take_queue() if cancel_futures else ()
            self._changed.notify_all()
        _cancel(dropped)
        if not wait:
            return
        try:
            self._join()
        except BaseException:
            self.end()
            raise

    def end(self) -> None:
        """Stop at once: every worker and its children are ended, queued futures cancelled."""
        with self._changed:
            self._closed = self._ended = True
            dropped, workers = self._take_queue(), tuple(self._workers)
            self._changed.notify_all()
        for worker in workers:
            worker.end()
        _cancel(dropped)
        self._join(END_WAIT_S)

    def __exit__(
        self,
        exc_type: type[BaseException] | None,
        exc_val: BaseException | None,
        exc_tb: TracebackType | None,
    ) -> None:
        if exc_type is not None:
            self.end()
        elif not self.stays_open:
            self.shutdown(wait=True)

    def _join(self, timeout_s: float = math.inf) -> None:
        deadline_s = time.monotonic() + timeout_s
        for thread in self._threads:
            if thread is threading.current_thread():  # a callback may call from there
                continue
            while thread.is_alive() and time.monotonic() < deadline_s:
                thread.join(JOIN_SLICE_S)

    def _take_queue(self) -> tuple[_Task, ...]:
        tasks = tuple(self._tasks)
        self._tasks.clear()
        self._unfinished -= sum(not task.prepares for task in tasks)
        return tasks

    def _copy(self) -> Worker | None:
        with suppress(WorkerError):  # then one is started when there is a task, and that will tell
            return self._hired(copied=True)
        return None

    def _add_thread(self, worker: Worker | None = None) -> None:
        name = f"mediacheck-worker-{len(self._threads) + 1}"
        thread = threading.Thread(target=self._manage, args=(worker,), name=name, daemon=True)
        thread.start()
        self._threads.append(thread)

    def _manage(self, worker: Worker | None) -> None:
        """One thread: takes tasks and has them done by one worker at a time; at first by this one, if any."""
        while (task := self._next()) is not None:
            if task.future.set_running_or_notify_cancel():
                worker = self._carry_out(task, worker)
            else:
                self._finished_one(task)
            del task  # or the last answer is kept in memory while waiting for the next task
        if worker:
            self._dismiss(worker)

    def _next(self) -> _Task | None:
        with self._changed:
            while not self._tasks:
                if self._closed:
                    return None
                self._changed.wait()
            return self._tasks.popleft()

    def _carry_out(self, task: _Task, idle: Worker | None) -> Worker | None:
        """Do one task. Returns the worker that can take the next one, if there is one left."""
        worker, returned, value = idle, False, None
        try:
            payload = packed_task(task.fn, task.args, task.kwargs)
            limit_s = self._limit_s(task)
            worker = self._begun(idle, payload)
            returned, value = worker.finish(limit_s, partial(self.on_told, task.future))
        except WorkerError as error:
            value = self._stopped() or error
        except BaseException as error:  # a future that is never answered would hang the whole run
            value = error
        if worker is not None and not worker.alive():
            self._dismiss(worker)
            worker = None
        self._finished_one(task)
        _answer(task.future, returned, value)
        return worker

    def _finished_one(self, task: _Task) -> None:
        """Before the answer is given: who then submits at once finds this worker free."""
        with self._changed:
            self._unfinished -= not task.prepares

    def _limit_s(self, task: _Task) -> float:
        limit = START_LIMIT_S if task.prepares else self._time_limit_s
        return limit(*task.args, **task.kwargs) if callable(limit) else limit

    def _begun(self, idle: Worker | None, payload: bytes) -> Worker:
        """The worker that has begun the task: the one at hand, or a new one if that died while idle."""
        if idle is not None and idle.alive():
            with suppress(WorkerError):
                idle.begin(payload)
                return idle
        if idle is not None:
            self._dismiss(idle)
        worker = self._hired()
        try:
            worker.begin(payload)
        except WorkerError:
            self._dismiss(worker)
            raise
        return worker

    def _hired(self, *, copied: bool = False) -> Worker:
        worker = Worker(copied=copied)
        with self._changed:
            self._workers.add(worker)
            ended = self._ended
        if ended:
            worker.end()
        return worker

    def _dismiss(self, worker: Worker) -> None:
        worker.dismiss()
        with self._changed:
            self._workers.discard(worker)

    def _stopped(self) -> WorkerError | None:
        return WorkerError("the run was stopped before this was done") if self._ended else None


def _unheard(future: Future[Any], told: object) -> None:
    """For workers to which nobody listens."""


def _answer(future: Future[Any], returned: bool, value: Any) -> None:
    if returned:
        future.set_result(value)
    else:
        future.set_exception(value)


def _cancel(tasks: tuple[_Task, ...]) -> None:
    for task in tasks:
        if task.future.cancel():
            task.future.set_running_or_notify_cancel()  # wakes those who wait for it


_ALL: weakref.WeakSet[FileWorkers] = weakref.WeakSet()


@atexit.register
def _end_all() -> None:
    """Runs before multiprocessing's own exit hook, which would wait for our workers."""
    for workers in tuple(_ALL):
        workers.end()
