"""A worker that gets ready before there is work takes the first task, and costs nothing where none comes."""

from __future__ import annotations

import os
import sys
import time
from functools import partial
from typing import NoReturn

import psutil

from mediacheck.errors import WorkerTooSlow
from mediacheck.inspection import get_ready
from mediacheck.workers import FileWorkers

_ready = False


def become_ready() -> None:
    global _ready
    _ready = True


def was_ready() -> tuple[bool, int]:
    return _ready, os.getpid()


def fail() -> NoReturn:
    raise RuntimeError("nothing can be imported here")


def nap(seconds: float) -> int:
    time.sleep(seconds)
    return os.getpid()


def loaded() -> set[str]:
    return {"cv2", "av", "numpy"} & set(sys.modules)


def test_the_first_task_is_done_by_the_worker_that_got_ready() -> None:
    with FileWorkers(2, 30) as workers:
        workers.prepare(become_ready)
        first = workers.submit(was_ready).result()
        assert first[0]
        assert workers.submit(was_ready).result() == first


def test_a_single_task_starts_no_second_worker_and_two_tasks_do() -> None:
    with FileWorkers(2, 30) as workers:
        workers.prepare(become_ready)
        one = workers.submit(nap, 0.5)
        other = workers.submit(nap, 0.5)
        assert one.result() != other.result()
    with FileWorkers(2, 30) as workers:
        workers.prepare(become_ready)
        workers.submit(nap, 0.0).result()
        assert len(workers._threads) == 1


def test_what_fails_while_getting_ready_is_met_by_the_task_itself() -> None:
    with FileWorkers(1, 30) as workers:
        workers.prepare(fail)
        assert workers.submit(was_ready).result()[0] is False


def test_the_time_limit_of_tasks_is_not_that_of_getting_ready() -> None:
    with FileWorkers(1, 0.4) as workers:
        workers.prepare(partial(nap, 1.0))
        assert isinstance(workers.submit(os.getpid).result(), int)
        assert isinstance(workers.submit(nap, 2.0).exception(), WorkerTooSlow)


def test_where_no_task_comes_the_process_is_gone_afterwards() -> None:
    before = {child.pid for child in psutil.Process().children(recursive=True)}
    with FileWorkers(1, 30) as workers:
        workers.prepare(become_ready)
    later = [one for one in psutil.Process().children(recursive=True) if one.pid not in before]
    assert [one for one in later if "spawn_main" in " ".join(one.cmdline())] == []


def test_full_depth_loads_the_decoder_and_quick_depth_leaves_opencv_out() -> None:
    with FileWorkers(1, 60) as workers:
        workers.prepare(partial(get_ready, "full"))
        assert workers.submit(loaded).result() == {"cv2", "av", "numpy"}
    with FileWorkers(1, 60) as workers:
        workers.prepare(partial(get_ready, "quick"))
        assert "cv2" not in workers.submit(loaded).result()
