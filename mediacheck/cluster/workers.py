"""The workers of a running Dask cluster as a `concurrent.futures.Executor`: a drop-in for `FileWorkers`.

It must not know what the work is.
"""

from __future__ import annotations

import logging
import pickle
import threading
import time
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Executor, Future
from contextlib import contextmanager, suppress
from functools import partial
from types import TracebackType
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar
from uuid import uuid4

from mediacheck import __version__
from mediacheck.cluster.reach import Needs, Seen, looks_of, marked, out_of_reach, seen_by
from mediacheck.cluster.there import Call, carry_out, look_around, not_fit, own_version
from mediacheck.errors import ClusterError, WorkerDied, WorkerError
from mediacheck.which_ffmpeg import find_ffmpeg
from mediacheck.workers import TimeLimit

if TYPE_CHECKING:
    import distributed

P = ParamSpec("P")
T = TypeVar("T")
CONNECT_LIMIT_S = 8.0
ANSWER_LIMIT_S = 30.0
"""For every worker to say what it has and reaches; a shared drive may have to wake up."""
LOOK_LIMIT_S = 0.5
"""For every worker to look at one more card."""
NO_WORKERS_LIMIT_S = 30.0
"""So long a cluster may be without any worker in the middle of a run: one that died is started anew."""
WATCH_S = 2.0
RETRIES = 3
"""How often work goes to another worker where one could not start it. One that dies costs none of these."""
NOT_INSTALLED = "--cluster needs a package that is not installed here: run pip install 'mediacheck[cluster]'"


class ClusterWorkers(Executor):
    """Runs functions on the cluster, each in a process of its own under a time limit.

    As with `FileWorkers`: what a function raises comes out of the future as itself, and `WorkerTooSlow`,
    `WorkerDied` and `WorkerError` cost one task. A worker of the cluster that dies costs none: another one
    does its tasks again. `ClusterError` comes out of every future when the cluster is lost as a whole.

    Leaving a with-block leaves it at work, unless by an exception, which drops all that is not done.
    """

    def __init__(self, client: distributed.Client, time_limit_s: TimeLimit, threads: int) -> None:
        self.threads = threads
        """How many tasks the cluster does at once."""
        self._client = client
        self._time_limit_s = time_limit_s
        self._ffmpeg = find_ffmpeg().version
        self._run = uuid4().hex[:12]
        self._guard = threading.Lock()
        """Guards all that follows."""
        self._submitted = 0
        self._waiting: dict[Future[Any], distributed.Future[bytes]] = {}
        self._closed: ClusterError | None = None
        threading.Thread(target=self._watch, name="mediacheck-cluster", daemon=True).start()

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Send one call. ClusterError after `close`, or when the cluster is lost."""
        seen = seen_by(args)
        future: Future[T] = Future()
        try:
            packed = pickle.dumps(Call(fn, args, kwargs, self._time_limit_s, seen))
        except Exception as error:
            future.set_exception(WorkerError(f"the task cannot be sent to the cluster: {error}"))
            return future
        with self._guard:
            if self._closed is not None:
                raise self._closed
            self._submitted += 1
            key = f"mediacheck-{self._run}-{self._submitted}"
            task = self._client.submit(
                carry_out, key, __version__, self._ffmpeg, packed, key=key, pure=False, retries=RETRIES
            )
            self._waiting[future] = task
        task.add_done_callback(partial(self._finished, future, seen))
        return future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Nothing: whoever made the connection closes it."""

    def __exit__(
        self,
        exc_type: type[BaseException] | None,
        exc_val: BaseException | None,
        exc_tb: TracebackType | None,
    ) -> None:
        if exc_type is not None:
            self.close()

    def close(self, why: ClusterError | None = None) -> None:
        """Drop all that is not done: workers end it within a second."""
        with self._guard:
            self._closed = self._closed or why or ClusterError("The run was stopped before this was done")
            waiting, self._waiting = self._waiting, {}
        with suppress(Exception):  # a cluster that is lost drops it by itself
            self._client.cancel(list(waiting.values()))
        for future in waiting:
            _fail(future, self._closed)

    def _finished(self, future: Future[Any], seen: Seen, task: distributed.Future[bytes]) -> None:
        """In a thread of the cluster's client."""
        returned, value = self._outcome(task, seen)
        with self._guard:
            known = self._waiting.pop(future, None)
        if known is None:  # given up by now
            return
        if not returned:
            _fail(future, value)
        elif future.set_running_or_notify_cancel():
            future.set_result(value)

    def _outcome(self, task: distributed.Future[bytes], seen: Seen) -> tuple[bool, Any]:
        from distributed import KilledWorker

        try:
            packed = task.result()
        except CancelledError:
            return False, ClusterError("The connection to the cluster was lost")
        except KilledWorker:
            return False, WorkerDied("each worker of the cluster that began with it ended before it was done")
        except WorkerError as error:
            return False, error
        except Exception as error:  # of the cluster's own: it says nothing of the file
            return False, not_fit(f"The cluster cannot do this work ({type(error).__name__}: {error})")
        finally:
            with suppress(Exception):
                task.release()
        try:
            returned, value = pickle.loads(packed)
        except Exception as error:
            return False, WorkerError(f"the answer cannot be read: {type(error).__name__}: {error}")
        if isinstance(value, ClusterError) and (path := out_of_reach(seen)):
            return False, WorkerError(f"{path} is not there any more, or has changed")
        return returned, value

    def _watch(self) -> None:
        """Ends the run when the cluster has been without a worker for too long."""
        last_seen_s = time.monotonic()
        while self._closed is None:
            time.sleep(WATCH_S)
            try:
                there = bool(self._client.nthreads())
            except Exception:  # the connection is lost, which each task tells
                return
            if there or not self._waiting:
                last_seen_s = time.monotonic()
            elif time.monotonic() - last_seen_s > NO_WORKERS_LIMIT_S:
                self.close(ClusterError("The cluster has no worker left"))


def _fail(future: Future[Any], error: BaseException) -> None:
    if future.set_running_or_notify_cancel():
        future.set_exception(error)


@contextmanager
def cluster_workers(address: str, time_limit_s: TimeLimit, needs: Needs) -> Iterator[ClusterWorkers]:
    """The workers of the cluster whose scheduler is at `address`, all of them asked before.

    ClusterError: not installed, not reachable, or a worker that is not fit for the work.
    """
    client = _connected(address)
    try:
        workers = ClusterWorkers(client, time_limit_s, _asked(client, address, needs))
        try:
            yield workers
        finally:
            workers.close()
    finally:
        with suppress(Exception):
            client.close(timeout=2)


def _connected(address: str) -> distributed.Client:
    try:
        import distributed
    except ImportError as error:
        missing = ClusterError(NOT_INSTALLED)
        missing.advice = ""
        raise missing from error
    _keep_silent()

    class Connection(distributed.Client):
        """One that only we close: where nothing answers, its own way of closing may not end."""

        def __del__(self) -> None:
            """Nothing."""

    def connect() -> distributed.Client:
        with warnings.catch_warnings():  # of other versions of its own packages: only ours are compared
            warnings.simplefilter("ignore")
            made: distributed.Client = Connection(  # type: ignore[no-untyped-call]
                address, timeout=CONNECT_LIMIT_S, set_as_default=False
            )
            return made

    try:
        client = _in_time(connect, CONNECT_LIMIT_S + 1)
    except (ValueError, TypeError) as error:
        reason = "that is no address of a scheduler, such as tcp://127.0.0.1:8786"
        raise ClusterError(f"The cluster at {address} cannot be reached: {reason}") from error
    except Exception as error:
        raise _silent(address) from error
    if client is None:
        raise _silent(address)
    return client


def _silent(address: str) -> ClusterError:
    return ClusterError(
        f"The cluster at {address} cannot be reached: no scheduler answers there within {CONNECT_LIMIT_S:g} s"
    )


def _keep_silent() -> None:
    """What its parts would write to standard error is told by us, in one sentence."""
    for name in list(logging.root.manager.loggerDict):
        if name.partition(".")[0] == "distributed":
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)


def _asked(client: distributed.Client, address: str, needs: Needs) -> int:
    """Ask every worker what it has and reaches; how many tasks they do at once. ClusterError."""
    _ask_scheduler(client)
    try:
        client.wait_for_workers(1, timeout=CONNECT_LIMIT_S)
    except Exception as error:
        raise ClusterError(f"The cluster at {address} has no worker") from error
    limit_s = ANSWER_LIMIT_S + LOOK_LIMIT_S * len(needs.read)
    with marked(needs.write) as marker:
        answers = _answers(client, looks_of(needs.read), marker, limit_s)
    if answers is None:
        raise ClusterError(f"Not every worker of the cluster answered within {limit_s:g} s")
    for worker, answer in answers.items():
        if problem := _problem(answer):
            name = answer["name"] if isinstance(answer, dict) else worker
            shown = worker if name == worker else f"{name} at {worker}"
            raise not_fit(f"The cluster's worker {shown} {problem}")
    return sum(int(answer["threads"]) for answer in answers.values())


def _ask_scheduler(client: distributed.Client) -> None:
    """ClusterError: it could not even pass the work on."""
    try:
        version = _in_time(partial(client.run_on_scheduler, own_version), ANSWER_LIMIT_S)
    except Exception as error:
        lacks = f"has no mediacheck {__version__} ({type(error).__name__}: {error})"
        raise not_fit(f"The cluster's scheduler {lacks}") from error
    if version is None:
        raise ClusterError(f"The cluster's scheduler did not answer within {ANSWER_LIMIT_S:g} s")
    if version != __version__:
        raise not_fit(
            f"The cluster's scheduler has mediacheck {version}, and this computer has {__version__}"
        )


def _answers(
    client: distributed.Client, looks: dict[str, str], marker: str | None, limit_s: float
) -> dict[str, Any] | None:
    """What each worker says, by its address; None: one of them does not answer in time."""
    ask = partial(client.run, look_around, looks, marker, on_error="return")
    try:
        return _in_time(ask, limit_s)
    except Exception as error:
        raise ClusterError(f"The workers of the cluster cannot be asked: {error}") from error


def _problem(answer: Any) -> str | None:
    """Why this worker is not fit, as the end of a sentence; None: it is."""
    if not isinstance(answer, dict):
        return f"has no mediacheck {__version__} ({type(answer).__name__}: {answer})"
    if answer["version"] != __version__:
        return f"has mediacheck {answer['version']}, and this computer has {__version__}"
    own = find_ffmpeg().version
    if answer["ffmpeg"] not in (None, own):
        return f"has ffmpeg {answer['ffmpeg']}, and this computer has {own}"
    problem: str | None = answer["problem"]
    return problem


def _in_time(ask: Callable[[], T], limit_s: float) -> T | None:
    """What comes of it; None where that takes too long, and it is left behind. Raises what it raises."""
    found: list[T] = []
    failed: list[Exception] = []

    def work() -> None:
        try:
            found.append(ask())
        except Exception as error:
            failed.append(error)

    thread = threading.Thread(target=work, name="mediacheck-cluster-asked", daemon=True)
    thread.start()
    deadline_s = time.monotonic() + limit_s
    while thread.is_alive() and time.monotonic() < deadline_s:
        thread.join(0.2)  # a longer wait would hold Ctrl-C back on Windows
    if failed:
        raise failed[0]
    return found[0] if found else None
