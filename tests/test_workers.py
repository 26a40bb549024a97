"""Worker processes: every way of failing costs one task, and no process outlives its run."""

from __future__ import annotations

import importlib
import os
import pickle
import signal
import subprocess
import sys
import tempfile
import textwrap
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Future, wait
from functools import partial
from pathlib import Path
from typing import Any, NoReturn

import psutil
import pytest

from mediacheck import worker_process
from mediacheck.errors import ProgramError, WorkerDied, WorkerError, WorkerTooSlow
from mediacheck.worker_process import tell
from mediacheck.workers import FileWorkers
from tests.outside_programs import gone, until

HEAVY = {"typer", "rich", "cv2", "av", "numpy", "pydantic", "PIL"}
SLEEPER = (sys.executable, "-c", "import time; time.sleep(60)")
posix_only = pytest.mark.skipif(os.name != "posix", reason="POSIX signals")


def double(number: int) -> int:
    return number * 2


def own_pid() -> int:
    return os.getpid()


def fail_with(error: Exception) -> NoReturn:
    raise error


class Stubborn(Exception):
    """An exception that cannot be made again from its own arguments."""

    def __init__(self, first: str, second: str) -> None:
        super().__init__(f"{first} and {second}")


def fail_stubbornly() -> NoReturn:
    raise Stubborn("one", "two")


def ask_to_exit() -> NoReturn:
    sys.exit(3)


def end_abruptly(exit_code: int) -> None:
    os._exit(exit_code)


def end_by_signal(number: int) -> None:
    os.kill(os.getpid(), number)
    time.sleep(60)


def give_back_a_lock() -> threading.Lock:
    return threading.Lock()


def with_grandchild(note: str, then: Callable[[], None]) -> None:
    """Start a process that sleeps, note both process numbers in a file, and go on with `then`."""
    child = subprocess.Popen(SLEEPER)
    part = Path(note + ".part")
    part.write_text(f"{os.getpid()} {child.pid}")
    part.replace(note)
    then()


def with_temporary_file(note: str, then: Callable[[], None]) -> None:
    """Leaves the path of a temporary file in the note."""
    path = Path(tempfile.mkdtemp()) / "copy"
    path.touch()
    Path(f"{note}.new").write_text(str(path))
    Path(f"{note}.new").rename(note)
    then()


def sleep_long() -> None:
    time.sleep(60)


def crash() -> None:
    os._exit(9)


def heavy_modules() -> set[str]:
    return HEAVY & set(sys.modules)


def print_to_stdout() -> None:
    print("from Python", flush=True)
    os.write(1, b"from below Python")
    subprocess.run([sys.executable, "-c", "print('from a child')"], check=True)


def limit_of(seconds: float) -> float:
    return seconds / 10


def sleep_for(seconds: float) -> float:
    time.sleep(seconds)
    return seconds


def tell_numbers(many: int) -> str:
    for number in range(many):
        tell(number)
    return "result"


def tell_and_crash() -> None:
    tell("last words")
    os._exit(9)


def tell_without_end() -> None:
    while True:
        tell("still here")


def tell_a_lock() -> None:
    tell(threading.Lock())


def tell_from_a_thread() -> str:
    thread = threading.Thread(target=tell, args=("from a thread",))
    thread.start()
    thread.join()
    return "result"


def noted_pids(note: Path) -> list[int]:
    assert until(note.exists), "the task did not begin"
    return [int(word) for word in note.read_text().split()]


@pytest.fixture(scope="module")
def workers() -> Iterator[FileWorkers]:
    with FileWorkers(2, 30) as shared:
        yield shared


@pytest.fixture
def one() -> Iterator[FileWorkers]:
    with FileWorkers(1, 30) as single:
        yield single


def test_500_tasks_come_back_in_order(workers: FileWorkers) -> None:
    assert list(workers.map(double, range(500))) == [number * 2 for number in range(500)]


def test_work_is_done_in_other_processes_that_are_kept(workers: FileWorkers) -> None:
    pids = {workers.submit(own_pid).result() for _ in range(20)}
    assert os.getpid() not in pids
    assert 1 <= len(pids) <= 2


def test_no_process_starts_before_there_is_work_nor_more_than_there_is_work() -> None:
    before = set(psutil.Process().children())
    with FileWorkers(4, 30) as lazy:
        assert set(psutil.Process().children()) == before
        pid = lazy.submit(own_pid).result()
        assert lazy.submit(own_pid).result() == pid
    assert gone(pid)


def test_a_worker_loads_nothing_heavy(workers: FileWorkers) -> None:
    assert workers.submit(heavy_modules).result() == set()


@pytest.mark.parametrize("error", [ValueError("no such frame"), ProgramError("no ffmpeg"), MemoryError()])
def test_an_exception_travels_as_itself(workers: FileWorkers, error: Exception) -> None:
    with pytest.raises(type(error)) as caught:
        workers.submit(fail_with, error).result()
    assert caught.value.args == error.args
    assert "fail_with" in caught.value.__notes__[0]


def test_an_exception_that_cannot_travel_becomes_a_worker_error_with_its_text(workers: FileWorkers) -> None:
    with pytest.raises(WorkerError, match=r"^Stubborn: one and two$"):
        workers.submit(fail_stubbornly).result()


def test_a_task_that_asks_to_exit_does_not_end_the_run(workers: FileWorkers) -> None:
    with pytest.raises(WorkerError, match=r"^SystemExit: 3$"):
        workers.submit(ask_to_exit).result()


def test_a_result_that_cannot_be_sent_is_a_worker_error(workers: FileWorkers) -> None:
    with pytest.raises(WorkerError, match="cannot be sent back"):
        workers.submit(give_back_a_lock).result()


def test_a_task_that_cannot_be_sent_is_a_worker_error(workers: FileWorkers) -> None:
    with pytest.raises(WorkerError, match="cannot be sent to a worker process"):
        workers.submit(lambda: 1).result()


def test_a_crash_costs_one_task(workers: FileWorkers) -> None:
    futures: list[Future[Any]] = [
        workers.submit(end_abruptly, 3) if n == 3 else workers.submit(double, n) for n in range(8)
    ]
    wait(futures)
    errors = [future.exception() for future in futures]
    assert [type(error) for error in errors] == [WorkerDied if n == 3 else type(None) for n in range(8)]
    assert str(errors[3]) == "the worker process ended with exit code 3"
    assert [f.result() for n, f in enumerate(futures) if n != 3] == [n * 2 for n in range(8) if n != 3]


@posix_only
def test_a_signal_is_named(one: FileWorkers) -> None:
    with pytest.raises(WorkerDied, match=r"crashed \(SIGSEGV\)$"):
        one.submit(end_by_signal, signal.SIGSEGV).result()
    with pytest.raises(WorkerDied, match=r"killed \(SIGKILL\), as happens when the memory runs out$"):
        one.submit(end_by_signal, signal.SIGKILL).result()


@posix_only
def test_a_worker_that_died_between_tasks_is_replaced_unnoticed(one: FileWorkers) -> None:
    first = one.submit(own_pid).result()
    os.kill(first, signal.SIGKILL)
    assert until(lambda: gone(first))
    assert one.submit(own_pid).result() != first


def test_a_hang_is_ended_with_its_grandchild_and_the_run_goes_on(tmp_path: Path) -> None:
    with FileWorkers(1, 1.0) as hasty:
        stuck = hasty.submit(with_grandchild, str(tmp_path / "note"), sleep_long)
        after = hasty.submit(double, 21)
        with pytest.raises(WorkerTooSlow, match=r"went over 1 s and was ended$"):
            stuck.result(timeout=20)
        assert all(until(partial(gone, pid)) for pid in noted_pids(tmp_path / "note"))
        assert after.result(timeout=20) == 42


def test_a_crash_ends_the_grandchild_too(one: FileWorkers, tmp_path: Path) -> None:
    with pytest.raises(WorkerDied, match="exit code 9"):
        one.submit(with_grandchild, str(tmp_path / "note"), crash).result()
    assert all(until(partial(gone, pid)) for pid in noted_pids(tmp_path / "note"))


def test_the_time_limit_may_depend_on_the_arguments() -> None:
    with FileWorkers(1, limit_of) as one:
        with pytest.raises(WorkerTooSlow, match=r"over 0\.3 s"):
            one.submit(sleep_for, 3).result()
        with pytest.raises(TypeError):  # a limit that cannot be worked out fails its own task only
            one.submit(sleep_for, "long").result()  # type: ignore[arg-type]


def test_importing_what_a_task_needs_is_not_counted_as_time_of_the_task(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    slow = "import time\nfrom multiprocessing import parent_process\nif parent_process(): time.sleep(1.2)\n"
    (tmp_path / "slow_to_import.py").write_text(slow + "def triple(number): return number * 3\n")
    monkeypatch.syspath_prepend(tmp_path)
    triple = importlib.import_module("slow_to_import").triple
    with FileWorkers(1, 0.6) as hasty:
        assert hasty.submit(triple, 4).result(timeout=30) == 12


def test_what_tasks_tell_arrives_in_order_before_the_result_under_their_own_future() -> None:
    heard: list[tuple[object, object, bool]] = []
    with FileWorkers(2, 30, lambda future, told: heard.append((future, told, future.done()))) as two:
        futures = [two.submit(tell_numbers, 300) for _ in range(3)]
        assert [future.result() for future in futures] == ["result"] * 3
    for future in futures:
        assert [entry for entry in heard if entry[0] is future] == [(future, n, False) for n in range(300)]
    assert len(heard) == 900


def test_nobody_needs_to_listen(workers: FileWorkers) -> None:
    assert workers.submit(tell_numbers, 5).result() == "result"


def test_telling_outside_a_worker_process_or_in_another_thread_does_nothing() -> None:
    heard: list[object] = []
    assert tell_numbers(3) == "result"
    with FileWorkers(1, 30, lambda _, told: heard.append(told)) as one:
        assert one.submit(tell_from_a_thread).result() == "result"
        assert one.submit(tell_numbers, 1).result() == "result"
    assert heard == [0]


def test_telling_while_a_task_is_imported_does_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = "from mediacheck.worker_process import tell\ntell('too early')\ndef triple(n): return n * 3\n"
    (tmp_path / "tells_when_imported.py").write_text(source)
    monkeypatch.syspath_prepend(tmp_path)
    triple = importlib.import_module("tells_when_imported").triple
    heard: list[object] = []
    with FileWorkers(1, 30, lambda _, told: heard.append(told)) as one:
        assert one.submit(triple, 4).result() == 12
    assert heard == []


def test_a_slow_listener_costs_no_task_its_time() -> None:
    heard: list[object] = []

    def listen(_: object, told: object) -> None:
        time.sleep(0.3)
        heard.append(told)

    with FileWorkers(1, 1, listen) as one:
        assert one.submit(tell_numbers, 6).result(timeout=20) == "result"
    assert heard == list(range(6))


@pytest.mark.parametrize(
    "error", [ValueError("bad listener"), OSError("no terminal"), TimeoutError(), SystemExit(1)]
)
def test_a_listener_that_fails_costs_no_result(error: BaseException) -> None:
    def listen(_: object, told: object) -> NoReturn:
        raise error

    with FileWorkers(1, 30, listen) as one:
        assert [one.submit(tell_numbers, 3).result(timeout=20) for _ in range(2)] == ["result"] * 2


def test_a_task_that_tells_without_end_is_too_slow_all_the_same() -> None:
    with FileWorkers(1, 0.5, lambda _, told: None) as hasty, pytest.raises(WorkerTooSlow):
        hasty.submit(tell_without_end).result(timeout=20)


def test_what_was_told_before_a_crash_is_heard() -> None:
    heard: list[object] = []
    with FileWorkers(1, 30, lambda _, told: heard.append(told)) as one:
        with pytest.raises(WorkerDied, match="exit code 9"):
            one.submit(tell_and_crash).result()
        assert one.submit(double, 4).result() == 8
    assert heard == ["last words"]


def test_telling_what_cannot_be_sent_fails_its_own_task(one: FileWorkers) -> None:
    with pytest.raises(WorkerError, match="what the task tells cannot be sent"):
        one.submit(tell_a_lock).result()
    assert one.submit(double, 4).result() == 8


@posix_only
def test_ctrl_c_while_a_worker_starts_does_not_end_it() -> None:
    worker = worker_process.Worker()
    os.kill(worker._pid, signal.SIGINT)
    worker.begin(worker_process.packed_task(double, (4,), {}))
    assert worker.finish(30) == (True, 8)
    worker.dismiss()
    assert not worker.alive()


def test_a_replaced_worker_is_not_kept_in_the_books(one: FileWorkers) -> None:
    for _ in range(3):
        with pytest.raises(WorkerDied):
            one.submit(end_abruptly, 1).result()
        one.submit(own_pid).result()
    assert len(one._workers) == 1


@posix_only
def test_crashed_workers_hold_no_files_open_while_their_errors_are_kept(one: FileWorkers) -> None:
    one.submit(own_pid).result()
    before = psutil.Process().num_fds()
    errors = [one.submit(end_abruptly, n).exception() for n in range(1, 5)]
    one.submit(own_pid).result()
    assert [str(error)[-1] for error in errors] == ["1", "2", "3", "4"]
    assert psutil.Process().num_fds() == before


def test_a_system_that_refuses_new_processes_costs_each_task_a_worker_error(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuse(*_: object) -> NoReturn:
        raise BlockingIOError("resource temporarily unavailable")

    monkeypatch.setattr(worker_process._SPAWN.Process, "start", refuse)
    with FileWorkers(2, 5) as refused:
        errors = [refused.submit(double, n).exception(timeout=5) for n in range(3)]
    assert [(type(e), str(e)) for e in errors] == [
        (WorkerError, "a worker process could not be started: resource temporarily unavailable")
    ] * 3


def test_a_worker_that_dies_while_starting_is_told_apart_from_a_crash(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(worker_process, "serve", end_abruptly)
    with FileWorkers(1, 5) as one:
        error = one.submit(double, 1).exception(timeout=20)
    assert type(error) is WorkerError
    assert str(error) == "a worker process could not be started: it ended with exit code 1"


def test_queued_tasks_can_be_cancelled(tmp_path: Path) -> None:
    with FileWorkers(1, 30) as one:
        running: Future[Any] = one.submit(sleep_for, 0.3)
        queued = [one.submit(double, n) for n in range(3)]
        assert until(running.running)
        assert queued[1].cancel()
        one.shutdown(wait=False, cancel_futures=True)
        _, still_waiting = wait([running, *queued], timeout=10)
    assert still_waiting == set()
    assert running.result() == 0.3
    assert [future.cancelled() for future in queued] == [True, True, True]


def test_no_work_is_taken_after_shutdown() -> None:
    one = FileWorkers(1, 5)
    one.shutdown()
    with pytest.raises(RuntimeError, match="shut down"):
        one.submit(double, 1)


def test_what_is_queued_at_shutdown_is_still_done() -> None:
    with FileWorkers(2, 30) as two:
        futures = [two.submit(double, n) for n in range(20)]
    assert [future.result() for future in futures] == [n * 2 for n in range(20)]


def test_ctrl_c_ends_workers_and_grandchildren_at_once(tmp_path: Path) -> None:
    futures: list[Future[None]] = []
    begun_s = 0.0

    def interrupted() -> NoReturn:
        nonlocal begun_s
        with FileWorkers(2, 60) as two:
            for n in range(4):
                futures.append(two.submit(with_grandchild, str(tmp_path / str(n)), sleep_long))
            pids.extend(noted_pids(tmp_path / "0") + noted_pids(tmp_path / "1"))
            begun_s = time.monotonic()
            raise KeyboardInterrupt

    pids: list[int] = []
    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert time.monotonic() - begun_s < 4
    assert len(pids) == 4
    assert all(until(partial(gone, pid), 2) for pid in pids)
    for future in futures[:2]:
        assert str(future.exception(timeout=1)) == "the run was stopped before this was done"
    for future in futures[2:]:
        with pytest.raises(CancelledError):
            future.result(timeout=1)


@posix_only
def test_workers_ignore_ctrl_c_from_the_terminal(one: FileWorkers) -> None:
    pid = one.submit(own_pid).result()
    os.kill(pid, signal.SIGINT)
    assert one.submit(own_pid).result() == pid
    assert os.getsid(pid) != os.getsid(0)


SCRIPT = """
    import os, sys, time
    from mediacheck.workers import FileWorkers
    from tests import test_workers as here

    if __name__ == "__main__":
        {body}
"""


def script(tmp_path: Path, body: str) -> subprocess.Popen[str]:
    """A program of its own that uses workers."""
    path = tmp_path / "script.py"
    path.write_text(textwrap.dedent(SCRIPT).format(body=body))
    root = str(Path(__file__).parent.parent)
    environment = {**os.environ, "PYTHONPATH": root}
    return subprocess.Popen(
        [sys.executable, str(path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
    )


def test_when_the_parent_is_killed_worker_and_grandchild_end(tmp_path: Path) -> None:
    note = tmp_path / "note"
    parent = script(
        tmp_path,
        f"FileWorkers(1, 60).submit(here.with_grandchild, {str(note)!r}, here.sleep_long); time.sleep(60)",
    )
    pids = noted_pids(note)
    parent.kill()
    parent.communicate()
    assert all(until(partial(gone, pid), 5) for pid in pids)


def nothing() -> None:
    """Comes to its end."""


@pytest.mark.parametrize("then", [nothing, crash, sleep_long])
def test_temporary_files_go_however_a_task_ends(tmp_path: Path, then: Callable[[], None]) -> None:
    """The copy of a clip that its decoder needs may have gigabytes."""
    note = tmp_path / "note"
    with FileWorkers(1, 60) as workers:
        workers.submit(with_temporary_file, str(note), then)
        assert until(note.exists)
        if then is sleep_long:
            workers.end()
    assert until(lambda: not Path(note.read_text()).exists(), 5)
    assert Path(note.read_text()).parents[1] != Path(tempfile.gettempdir())
    assert not Path(note.read_text()).parents[1].exists()


def test_temporary_files_go_when_the_parent_is_killed(tmp_path: Path) -> None:
    note = tmp_path / "note"
    task = f"here.with_temporary_file, {str(note)!r}, here.sleep_long"
    parent = script(tmp_path, f"FileWorkers(1, 60).submit({task}); time.sleep(60)")
    assert until(note.exists)
    parent.kill()
    parent.communicate()
    assert until(lambda: not Path(note.read_text()).parents[1].exists(), 5)


def test_leaving_without_shutdown_neither_hangs_nor_leaves_processes(tmp_path: Path) -> None:
    note = tmp_path / "note"
    body = (
        f"FileWorkers(1, 60).submit(here.with_grandchild, {str(note)!r}, here.sleep_long); here.noted_pids("
    )
    parent = script(tmp_path, f"{body}here.Path({str(note)!r}))")
    _, complaint = parent.communicate(timeout=20)
    assert (parent.returncode, complaint) == (0, "")
    assert all(until(partial(gone, pid), 2) for pid in noted_pids(note))


def test_nothing_that_workers_print_reaches_standard_output(tmp_path: Path) -> None:
    body = 'FileWorkers(1, 60).submit(here.print_to_stdout).result(); print("report")'
    output, complaint = script(tmp_path, body).communicate(timeout=30)
    assert (output, complaint) == ("report\n", "")


@posix_only
def test_ctrl_c_in_the_terminal_ends_the_program_quietly(tmp_path: Path) -> None:
    """The terminal sends SIGINT to every process of the group; only the parent may react."""
    note = tmp_path / "note"
    body = f"""
        try:
            with FileWorkers(2, 60) as two:
                two.submit(here.with_grandchild, {str(note)!r}, here.sleep_long).result()
        except KeyboardInterrupt:
            print("stopped")
    """
    parent = script(tmp_path, textwrap.indent(textwrap.dedent(body), "    ").strip())
    pids = noted_pids(note)
    for pid in (parent.pid, pids[0]):
        os.kill(pid, signal.SIGINT)
    output, complaint = parent.communicate(timeout=20)
    assert (output, complaint, parent.returncode) == ("stopped\n", "", 0)
    assert all(until(partial(gone, pid), 2) for pid in pids)


def test_jobs_must_be_at_least_one() -> None:
    with pytest.raises(ValueError, match="at least 1"):
        FileWorkers(0, 1)


def test_a_task_survives_pickling_with_its_arguments() -> None:
    fn, args, kwargs = pickle.loads(worker_process.packed_task(double, (4,), {}))
    assert fn(*args, **kwargs) == 8
