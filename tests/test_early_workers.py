"""A worker that gets ready before there is work takes the first task, and costs nothing where none comes."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Iterator
from functools import partial
from typing import NoReturn

import psutil
import pytest

from mediacheck import early, programs
from mediacheck.early import get_ready
from mediacheck.errors import WorkerTooSlow
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
    return {"av", "cv2", "ffmpeg", "mediacheck.inspection", "mediacheck.measure.decode"} & set(sys.modules)


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


def test_full_depth_loads_the_decode_and_neither_depth_the_gauges() -> None:
    """Those are loaded while ffmpeg opens the file."""
    with FileWorkers(1, 60) as workers:
        workers.prepare(partial(get_ready, "full"))
        assert workers.submit(loaded).result() == {
            "av", "ffmpeg", "mediacheck.inspection", "mediacheck.measure.decode"
        }  # fmt: skip
    with FileWorkers(1, 60) as workers:
        workers.prepare(partial(get_ready, "quick"))
        assert workers.submit(loaded).result() == {"av", "mediacheck.inspection"}


@pytest.fixture
def nothing_waits() -> Iterator[None]:
    yield
    early.workers(1, 60, "quick").end()


@pytest.mark.parametrize("command", ["check", "build", "fix"])
@pytest.mark.usefixtures("nothing_waits")
def test_what_got_ready_while_the_command_line_was_read_takes_the_work(command: str) -> None:
    early.begin([command, "card", "--profile", "basic-1080p"])
    waiting = early._waiting
    with early.workers(2, 60, "full") as workers:
        assert workers is waiting
        assert workers.submit(loaded).result() >= {"mediacheck.measure.decode"}
        one, other = workers.submit(nap, 0.5), workers.submit(nap, 0.5)
        assert one.result() != other.result(), "as many at once as were wanted in the end"
    with early.workers(1, 60, "quick") as others:
        assert others is not workers, "each is taken once"


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["rules"],
        ["check", "--help"],
        ["check", "card", "--profile", "basic-1080p", "--cluster=tcp://10.0.0.5:8786"],
        ["--version"],
    ],
)
def test_where_no_file_will_be_looked_at_nothing_gets_ready(arguments: list[str]) -> None:
    before = threading.active_count()
    early.begin(arguments)
    assert threading.active_count() == before


@pytest.mark.usefixtures("nothing_waits")
def test_for_quick_depth_nobody_asks_for_ffmpeg() -> None:
    before = dict(programs._LAUNCHED)
    early.begin(["check", "card", "--depth", "quick"])
    assert "mediacheck-ffmpeg" not in {thread.name for thread in threading.enumerate()}
    assert before == programs._LAUNCHED


@pytest.mark.usefixtures("nothing_waits")
def test_ffmpeg_begins_to_answer_before_anything_else_gets_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    """It has a core to itself then."""
    done = list[str]()
    monkeypatch.setattr(early, "ask_ahead", lambda: done.append("asked"))
    monkeypatch.setattr(FileWorkers, "prepare", lambda *_, **__: done.append("a worker"))
    monkeypatch.setattr(early, "ask_for_ffmpeg", lambda: done.append("waits for the answer"))
    early.begin(["check", "card"])
    assert done == ["asked", "a worker", "waits for the answer"]


def test_the_time_limit_is_the_one_that_was_said_last() -> None:
    with FileWorkers(1, 60) as workers:
        workers.settle(1, 0.4)
        assert isinstance(workers.submit(nap, 2.0).exception(), WorkerTooSlow)
