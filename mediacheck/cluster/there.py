"""What runs on a worker of the cluster: it says what it has and reaches, and carries out call after call.

Each call runs in a process of its own below the worker, under its time limit: a file that crashes a decoder
costs one answer, and never the worker. It must not be called anywhere else.
"""

from __future__ import annotations

import multiprocessing
import pickle
import threading
from collections.abc import Callable
from concurrent.futures import Future, wait
from dataclasses import dataclass
from typing import Any, Protocol, Self, runtime_checkable

from mediacheck import __version__
from mediacheck.cluster.reach import Seen, not_reached, not_writable, out_of_reach
from mediacheck.errors import ClusterError, ProgramError, WorkerError
from mediacheck.which_ffmpeg import Program, find_ffmpeg
from mediacheck.workers import FileWorkers, TimeLimit

LOOK_S = 0.5
"""So often it is asked whether anybody still waits for the answer."""
IDLE_S = 30.0
"""A process with nothing to do is kept so long for the next call."""
SAME = (
    "The scheduler needs the same mediacheck as this computer; every worker needs that, the same ffmpeg, and "
    "the files at the same path."
)
"""What to do where a machine is not fit for the work."""


@runtime_checkable
class Travels(Protocol):
    """An argument that names programs or folders of the machine it comes from."""

    def here(self, ffmpeg: Program) -> Self:
        """The same for the machine where it is now, whose ffmpeg this is."""


@dataclass(frozen=True, slots=True)
class Call:
    """One call, as it is sent."""

    fn: Callable[..., Any]
    args: tuple[Any, ...]
    kwargs: dict[str, Any]
    time_limit_s: TimeLimit
    seen: Seen
    """The files that it reads, as they are where it comes from."""


def own_version() -> str:
    """Asked of the scheduler: it has to load `carry_out` to send it on, but never calls it."""
    return __version__


def look_around(looks: dict[str, str], marker: str | None, dask_worker: Any) -> dict[str, Any]:
    """What this worker has and reaches; `dask_worker` is filled in by the cluster."""
    try:
        ffmpeg, problem = find_ffmpeg().version, None
    except ProgramError as error:
        ffmpeg, problem = None, f"has no ffmpeg of use ({error})"
    return {
        "name": str(dask_worker.name),
        "threads": int(dask_worker.state.nthreads),
        "version": __version__,
        "ffmpeg": ffmpeg,
        "problem": problem or not_reached(looks) or not_writable(marker),
    }


def carry_out(key: str, version: str, ffmpeg: str, packed: bytes) -> bytes:
    """Do one call; packed (True, result) or (False, exception). Raises WorkerError where another worker may
    do better."""
    import distributed

    worker = distributed.get_worker()
    try:
        call = _unpacked(str(worker.name), version, ffmpeg, packed)
    except ClusterError as error:
        return pickle.dumps((False, error))

    def unwanted() -> bool:
        task = worker.state.tasks.get(key)
        return task is None or task.state == "cancelled"

    return _answered(call, unwanted)


def _unpacked(worker: str, version: str, ffmpeg: str, packed: bytes) -> Call:
    """The call, with programs and folders of this machine. ClusterError: a worker that nobody has asked
    before, since it came in the middle of the run, and that is not fit for it."""
    try:
        own = find_ffmpeg()
    except ProgramError as error:
        raise not_fit(f"The cluster's worker {worker} has no ffmpeg of use ({error})") from error
    if (version, ffmpeg) != (__version__, own.version):
        raise not_fit(
            f"The cluster's worker {worker} has mediacheck {__version__} with ffmpeg {own.version}, and "
            f"{version} with {ffmpeg} is needed"
        )
    call: Call = pickle.loads(packed)
    if path := out_of_reach(call.seen):
        raise not_fit(f"The cluster's worker {worker} does not see {path} as it is here")
    args = tuple(_here(arg, own) for arg in call.args)
    return Call(call.fn, args, call.kwargs, call.time_limit_s, call.seen)


def not_fit(text: str) -> ClusterError:
    """What is wrong with a machine of the cluster, with what to do about it."""
    error = ClusterError(text)
    error.advice = SAME
    return error


def _here(value: Any, ffmpeg: Program) -> Any:
    if isinstance(value, tuple) and not hasattr(value, "_fields"):
        return tuple(_here(each, ffmpeg) for each in value)
    return value.here(ffmpeg) if isinstance(value, Travels) else value


def _answered(call: Call, unwanted: Callable[[], bool]) -> bytes:
    with _own_workers() as workers:
        pool = workers.pool(call.time_limit_s)
        future: Future[Any] = pool.submit(call.fn, *call.args, **call.kwargs)
        while not wait((future,), LOOK_S).done:
            if unwanted():
                workers.end()
                raise WorkerError("nobody waits for this any more")
        error = future.exception()
    if error is None:
        return pickle.dumps((True, future.result()))
    if type(error) is WorkerError:  # no process could be started, or this worker is going
        raise error
    return pickle.dumps((False, error))


class _Workers:
    """One process below this worker, for one of its threads."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        """Held while a call is carried out."""
        self._pool: FileWorkers | None = None
        self._time_limit_s: TimeLimit = 0.0
        self._idle: threading.Timer | None = None

    def pool(self, time_limit_s: TimeLimit) -> FileWorkers:
        """The process, started anew where the kind of work is another."""
        if self._pool is None or self._time_limit_s != time_limit_s:
            self._let_go()
            _may_have_children()
            self._pool, self._time_limit_s = FileWorkers(1, time_limit_s), time_limit_s
        return self._pool

    def end(self) -> None:
        """Stop what it does, at once."""
        if self._pool is not None:
            self._pool.end()
            self._pool = None

    def __enter__(self) -> Self:
        self._guard.acquire()
        if self._idle is not None:
            self._idle.cancel()
        return self

    def __exit__(self, *_: object) -> None:
        self._idle = threading.Timer(IDLE_S, self._dismiss)
        self._idle.daemon = True
        self._idle.start()
        self._guard.release()

    def _dismiss(self) -> None:
        with self._guard:
            if self._idle is threading.current_thread():  # and no call came in between
                self._let_go()

    def _let_go(self) -> None:
        if self._pool is not None:
            self._pool.shutdown()
            self._pool = None


_own = threading.local()


def _own_workers() -> _Workers:
    if not hasattr(_own, "workers"):
        _own.workers = _Workers()
    workers: _Workers = _own.workers
    return workers


def _may_have_children() -> None:
    """Dask starts its workers as daemons, which multiprocessing allows no children; ours end with their
    parent by themselves."""
    multiprocessing.current_process()._config["daemon"] = False  # type: ignore[attr-defined]
