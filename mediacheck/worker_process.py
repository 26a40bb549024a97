"""One worker process: its parent's side (`Worker`) and its own (`serve`), joined by a pipe.

It must not choose the work or queue it: that is `workers`.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import shutil
import signal
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from multiprocessing import connection
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

from mediacheck import processes
from mediacheck.errors import WorkerDied, WorkerError, WorkerTooSlow

START_LIMIT_S = 60.0
"""Starting Python and importing what a task needs; slow disks and virus scanners take their time."""
DISMISS_WAIT_S = 2.0
BEGUN = b"begun"
TOLD = "told"
_SPAWN = multiprocessing.get_context("spawn")
_STARTING = threading.Lock()
"""multiprocessing's list of children is not made for several threads that start and reap."""
_telling = threading.local()
"""Holds `channel` in the one thread of a worker process that does its tasks."""


def tell(value: object) -> None:
    """Called by a task while it works: hands `value` to whoever listens in the parent process.

    Does nothing outside a worker process, or in a thread that a task has started. Waits while the
    listener is far behind. WorkerError if the value cannot be sent.
    """
    channel: Connection | None = getattr(_telling, "channel", None)
    if channel is None:
        return
    try:
        packed = pickle.dumps((TOLD, value))
    except Exception as error:
        raise WorkerError(f"what the task tells cannot be sent: {error}") from error
    channel.send_bytes(packed)


def _unheard(value: object) -> None:
    """For tasks to which nobody listens."""


def packed_task(fn: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]) -> bytes:
    """One call, ready to send. WorkerError if something in it cannot be sent."""
    try:
        return pickle.dumps((fn, args, kwargs))
    except Exception as error:
        raise WorkerError(f"the task cannot be sent to a worker process: {error}") from error


class Worker:
    """A process that does one task after the other. Used by one thread; only `end` is for all."""

    def __init__(self, *, copied: bool = False) -> None:
        """Starts the process without waiting for it. WorkerError if the system refuses.

        `copied`: as a copy of this process with all that it has imported, where `can_copy` says so.
        """
        self._born_s = time.time()
        self._gone = self._reaped = False
        self._exit_code: int | None = None
        self._guard = threading.Lock()
        """Held while the process number is used: after reaping it may be another process's."""
        self._scratch = _scratch()
        try:
            self._process, self._channel = _started(self._scratch, copied=copied)
        except BaseException as error:  # Ctrl-C too
            _clear(self._scratch)
            if not isinstance(error, Exception):
                raise
            raise WorkerError(f"a worker process could not be started: {error}") from error
        self._pid = self._process.pid or -1
        self._handle = processes.find(self._pid)

    def alive(self) -> bool:
        """Whether the process is there to take a task."""
        return not self._gone and not connection.wait([self._process.sentinel], 0)

    def begin(self, payload: bytes) -> None:
        """Hand over a task and wait until its function is about to be called; WorkerError if it never is."""
        try:
            self._channel.send_bytes(payload)
            self._receive(START_LIMIT_S)
        except TimeoutError:
            self.end()
            raise WorkerError(f"a worker process did not start within {START_LIMIT_S:g} s") from None
        except (EOFError, OSError):
            how = self._how_it_died()
            raise WorkerError(f"a worker process could not be started: it {how}") from None

    def finish(self, limit_s: float, on_told: Callable[[object], None] = _unheard) -> tuple[bool, Any]:
        """Wait for the answer: (True, result) or (False, exception that the function raised).

        `on_told` gets what the function tells meanwhile, in order; what it raises is dropped, and the time
        that it takes is not counted. WorkerTooSlow, WorkerDied, WorkerError: there is no answer, and the
        process is gone.
        """
        deadline_s = time.monotonic() + limit_s
        try:
            while (answer := self._message(deadline_s))[0] == TOLD:
                heard_s = time.monotonic()
                if heard_s > deadline_s:  # or a task that tells without end would never be too slow
                    raise TimeoutError
                with suppress(BaseException):  # who only looks on must not cost the result
                    on_told(answer[1])
                deadline_s += time.monotonic() - heard_s
        except TimeoutError:
            self.end()
            raise WorkerTooSlow(f"the work went over {limit_s:g} s and was ended") from None
        except (EOFError, OSError):
            raise WorkerDied(f"the worker process {self._how_it_died()}") from None
        return answer

    def _message(self, deadline_s: float) -> tuple[Any, Any]:
        """What comes next: (TOLD, value) or the answer."""
        message = self._receive(max(0.0, deadline_s - time.monotonic()))
        try:
            first, value = pickle.loads(message)
        except Exception as error:
            self.end()
            raise WorkerError(f"the answer of the worker process cannot be read: {error}") from error
        return first, value

    def end(self) -> None:
        """End the process and all that it started, at once. For any thread, at any time."""
        with self._guard:
            self._gone = True
            if not self._reaped:
                processes.end_family(self._handle)
                self._end_leftovers()

    def dismiss(self) -> None:
        """Let the process go: it ends itself when the pipe closes, or is ended if it does not."""
        self._channel.close()
        self._see_off()

    def _receive(self, limit_s: float) -> bytes:
        ready = connection.wait([self._channel, self._process.sentinel], limit_s)
        if not ready:
            raise TimeoutError
        if self._channel in ready:
            return self._channel.recv_bytes()
        raise EOFError

    def _how_it_died(self) -> str:
        self._see_off()
        return processes.how_it_ended(self._exit_code)

    def _see_off(self) -> None:
        """Give the process a moment to end, end it if it does not, and let go of what it holds."""
        if self._reaped:
            return
        if not connection.wait([self._process.sentinel], DISMISS_WAIT_S):
            self.end()
        if connection.wait([self._process.sentinel], DISMISS_WAIT_S):
            self._reap()  # a process that hangs in a driver would keep us waiting here

    def _reap(self) -> None:
        with self._guard, _STARTING:
            self._gone = True
            self._end_leftovers()
            self._process.join()
            self._exit_code = self._process.exitcode
            self._reaped = True
            self._process.close()
        _clear(self._scratch)

    def _end_leftovers(self) -> None:
        """Children of a process that crashed have lost their parent, and are found another way."""
        processes.end_session(self._pid)
        if sys.platform == "win32":
            processes.end_orphans(self._pid, self._born_s)


def _scratch() -> str | None:
    """A folder for all temporary files of one process: one that is ended cannot remove its own."""
    with suppress(OSError):
        return tempfile.mkdtemp(prefix="mediacheck-")
    return None  # a task that needs one will tell


def _clear(scratch: str | None) -> None:
    if scratch is not None:
        shutil.rmtree(scratch, ignore_errors=True)


def can_copy() -> bool:
    """Whether a worker may begin as a copy of this process: Linux, and no thread that the copy would lack.

    A lock that such a thread holds would never be given back in the copy.
    """
    own = processes.find(os.getpid())
    return sys.platform == "linux" and own is not None and own.num_threads() == 1


def _started(scratch: str | None, *, copied: bool) -> tuple[BaseProcess, Connection]:
    context = multiprocessing.get_context("fork") if copied else _SPAWN
    ours, theirs = context.Pipe()
    life = partial(_serve_copied, ours) if copied else serve
    try:
        process: BaseProcess = context.Process(
            target=life, args=(theirs, scratch), name="mediacheck", daemon=True
        )
        with _STARTING, _keyboard_interrupts_held(tracked=not copied):
            process.start()
    except BaseException:
        ours.close()
        raise
    finally:
        theirs.close()  # or the pipe would stay open when the process has gone
    return process, ours


def _serve_copied(ours: Connection, theirs: Connection, scratch: str | None) -> None:
    ours.close()  # the copy of the parent's end would keep the pipe open when the parent has closed it
    serve(theirs, scratch)


@contextmanager
def _keyboard_interrupts_held(*, tracked: bool) -> Iterator[None]:
    """A process started inside begins with Ctrl-C held back, until `serve` has chosen to ignore it.

    `tracked`: multiprocessing starts a process of its own beside it.
    """
    if sys.platform == "win32":
        yield
        return
    if tracked:
        from multiprocessing import resource_tracker

        resource_tracker.ensure_running()  # its first start would lift our hold again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def serve(channel: Connection, scratch: str | None = None) -> None:
    """The life of a worker process: do tasks until the pipe closes, then end with all children.

    `scratch` is the folder for its temporary files; it goes at the end, here or in the parent process.
    """
    _settle_in()
    tempfile.tempdir = scratch
    watch = threading.Thread(
        target=_end_with_parent, args=(scratch,), name="mediacheck-parent-watch", daemon=True
    )
    watch.start()
    with suppress(EOFError, OSError):
        while True:
            work = _unpacked(channel.recv_bytes())
            channel.send_bytes(BEGUN)
            with _heard_through(channel):
                channel.send_bytes(_packed_answer(work))
            del work
    _leave(0, scratch)


@contextmanager
def _heard_through(channel: Connection) -> Iterator[None]:
    """Only while a task works: told at another time, it would be taken for the mark of a beginning."""
    _telling.channel = channel
    try:
        yield
    finally:
        _telling.channel = None


def _settle_in() -> None:
    """Stand apart from the terminal: its Ctrl-C, its standard output, crash dialogs and core files."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(OSError):
        silence = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silence, 1)
        os.close(silence)
    if sys.platform == "win32":
        import ctypes

        # SEM_FAILCRITICALERRORS and SEM_NOGPFAULTERRORBOX: a crash must not wait for a click.
        ctypes.windll.kernel32.SetErrorMode(0x0001 | 0x0002)
        return
    import resource

    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    with suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    with suppress(OSError):
        os.setsid()


def _end_with_parent(scratch: str | None) -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        _leave(1, scratch)


def _leave(exit_code: int, scratch: str | None) -> None:
    processes.end_children()
    _clear(scratch)
    os._exit(exit_code)  # no exit hooks: a library that hangs in its own must not keep us


def _unpacked(payload: bytes) -> Callable[[], object]:
    try:
        fn, args, kwargs = pickle.loads(payload)
        return partial(fn, *args, **kwargs)
    except Exception as error:
        return partial(_refuse, error)


def _refuse(error: Exception) -> object:
    raise WorkerError(f"the worker process cannot read its task: {error}") from error


def _packed_answer(work: Callable[[], object]) -> bytes:
    try:
        return _packed_value(work())
    except BaseException as error:
        return _packed_error(error)


def _packed_value(value: object) -> bytes:
    try:
        return pickle.dumps((True, value))
    except Exception as error:
        raise WorkerError(f"the result cannot be sent back from the worker process: {error}") from error


def _packed_error(error: BaseException) -> bytes:
    """The exception itself where it survives the journey, else a WorkerError with its text."""
    error.add_note("In the worker process:\n" + traceback.format_exc())
    with suppress(Exception):
        packed = pickle.dumps((False, error))
        pickle.loads(packed)
        if isinstance(error, Exception):
            return packed
    return pickle.dumps((False, WorkerError(f"{type(error).__name__}: {error}")))
