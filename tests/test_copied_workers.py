"""A worker that begins as a copy of its parent: it has what that has imported, and ends as any other."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from functools import partial
from pathlib import Path
from typing import NoReturn

import psutil
import pytest

from mediacheck.worker_process import Worker, can_copy
from tests.outside_programs import gone, until

pytestmark = pytest.mark.skipif(
    sys.platform != "linux",
    reason="`can_copy` says no: macOS' libraries do not bear a fork, Windows has none",
)

LIMIT_S = 30
BEGIN = """
import json, os, sys, threading, time
from mediacheck.worker_process import can_copy
from mediacheck.workers import FileWorkers
assert can_copy()
sys.modules["only_the_parent_has_it"] = sys
workers = FileWorkers(1, 30)
workers.prepare(threading.active_count, copied=True)
"""
ASK = (
    BEGIN
    + """
from tests.test_copied_workers import about
print(json.dumps(workers.submit(about).result()))
begun_s = time.monotonic()
workers.shutdown()
print(json.dumps(time.monotonic() - begun_s))
"""
)
NAP = (
    BEGIN
    + """
from tests.test_early_workers import nap
task = workers.submit(nap, 30.0)
while not task.running(): time.sleep(0.01)
print(json.dumps(None), flush=True)
task.result()
"""
)


def about() -> dict[str, object]:
    return {
        "pid": os.getpid(),
        "parent": os.getppid(),
        "copied": "only_the_parent_has_it" in sys.modules,
        "interrupted": signal.getsignal(signal.SIGINT) == signal.SIG_IGN,
        "held_back": signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ()),
        "stdout": str(Path("/proc/self/fd/1").readlink()),
    }


def started(program: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", program]
    folder = Path(__file__).parent.parent
    return subprocess.Popen(command, cwd=folder, stdout=subprocess.PIPE, text=True)


def test_it_has_what_its_parent_imported_and_stands_apart_from_the_terminal() -> None:
    with started(ASK) as program:
        answer, took = program.communicate(timeout=LIMIT_S)[0].splitlines()
    told = json.loads(answer)
    assert told["parent"] == program.pid
    assert told["copied"]
    assert told["interrupted"]
    assert not told["held_back"]
    assert told["stdout"] == os.devnull
    assert json.loads(took) < 1.0, "it ends as soon as its pipe is closed"
    assert not psutil.pid_exists(told["pid"])


@pytest.mark.parametrize("end", [signal.SIGINT, signal.SIGKILL])
def test_it_ends_with_its_parent(end: signal.Signals) -> None:
    with started(NAP) as program:
        assert program.stdout is not None
        assert json.loads(program.stdout.readline()) is None
        (copy,) = psutil.Process(program.pid).children()
        program.send_signal(end)
        assert program.wait(LIMIT_S) != 0
        assert until(lambda: gone(copy.pid), LIMIT_S)


def test_one_that_dies_costs_a_task_and_is_replaced() -> None:
    program = BEGIN + (
        "task = workers.submit(os._exit, 3)\n"
        "print(json.dumps(type(task.exception()).__name__))\n"
        "from tests.test_copied_workers import about\n"
        "print(json.dumps(workers.submit(about).result()['copied']))\n"
        "workers.shutdown()\n"
    )
    with started(program) as running:
        how, copied = running.communicate(timeout=LIMIT_S)[0].splitlines()
    assert json.loads(how) == "WorkerDied"
    assert json.loads(copied) is False, "the next one begins anew, since this process has threads by now"


def test_a_process_with_another_thread_is_not_copied() -> None:
    done = threading.Event()
    thread = threading.Thread(target=partial(done.wait, LIMIT_S))
    thread.start()
    try:
        assert not can_copy()
    finally:
        done.set()
        thread.join()


def test_ctrl_c_while_a_worker_begins_leaves_no_folder(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def interrupted(*_: object, **__: object) -> NoReturn:
        raise KeyboardInterrupt

    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    monkeypatch.setattr("mediacheck.worker_process._started", interrupted)
    with pytest.raises(KeyboardInterrupt):
        Worker(copied=True)
    assert list(tmp_path.iterdir()) == []
