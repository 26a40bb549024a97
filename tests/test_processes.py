"""Ending process families, and exit codes in plain words."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Any, cast

import psutil
import pytest

from mediacheck import processes
from tests.outside_programs import ended

PARENT = """
import subprocess, sys, time
child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
print(child.pid, flush=True)
time.sleep(60)
"""


@pytest.mark.parametrize(
    ("exit_code", "words"),
    [
        (0, "ended with exit code 0"),
        (3, "ended with exit code 3"),
        (None, "ended in a way that the system does not tell"),
        (0xC0000005, "crashed with code 0xC0000005 (it touched memory that is not its own)"),
        (0xC0DE0000, "crashed with code 0xC0DE0000 (the code tells Windows why)"),
    ],
)
def test_exit_codes_in_plain_words(exit_code: int | None, words: str) -> None:
    assert processes.how_it_ended(exit_code) == words


@pytest.mark.skipif(os.name != "posix", reason="POSIX signals")
@pytest.mark.parametrize(
    ("exit_code", "words"),
    [
        (-11, "crashed (SIGSEGV)"),
        (-9, "was killed (SIGKILL), as happens when the memory runs out"),
        (-15, "was ended from outside (SIGTERM)"),
        (-4242, "was ended by signal 4242"),
    ],
)
def test_signals_in_plain_words(exit_code: int, words: str) -> None:
    assert processes.how_it_ended(exit_code) == words


def _family() -> tuple[subprocess.Popen[str], psutil.Process]:
    parent = subprocess.Popen([sys.executable, "-c", PARENT], stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    return parent, psutil.Process(int(parent.stdout.readline()))


def test_a_process_is_ended_with_its_children() -> None:
    parent, child = _family()
    with parent:
        processes.end_family(processes.find(parent.pid))
        assert parent.wait(timeout=5) != 0
        assert ended(child.pid)


def test_a_process_that_has_ended_already_is_no_mistake() -> None:
    parent, child = _family()
    with parent:
        handle = processes.find(parent.pid)
        parent.kill()
        parent.wait()
        processes.end_family(handle)
        processes.end_family(processes.find(parent.pid))
        processes.end_group(parent.pid)
        assert child.is_running()
        child.kill()


class _Orphan:
    """What `end_orphans` looks at, as Windows would show it."""

    def __init__(self, parent_pid: int, born_s: float) -> None:
        self._parent_pid, self._born_s, self.killed = parent_pid, born_s, False

    def ppid(self) -> int:
        return self._parent_pid

    def create_time(self) -> float:
        return self._born_s

    def children(self, recursive: bool) -> list[Any]:
        return []

    def suspend(self) -> None:
        raise psutil.AccessDenied

    def kill(self) -> None:
        self.killed = True


def test_orphans_are_those_with_the_number_of_the_dead_parent_and_younger_than_it() -> None:
    ours, older, other = _Orphan(77, 101.0), _Orphan(77, 99.0), _Orphan(78, 101.0)
    processes.end_orphans(77, 100.0, cast("list[psutil.Process]", [ours, older, other]))
    assert [orphan.killed for orphan in (ours, older, other)] == [True, False, False]
