"""Programs for tests: Python lines, stand-ins named for how they fail, and whether one has ended.

Not only programs: whatever process a test has had started.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

import psutil
import pytest

STAND_INS = Path(__file__).parent / "broken_programs"
posix_only = pytest.mark.skipif(os.name != "posix", reason="POSIX signals")


def python_program(source: str, *arguments: str) -> tuple[str, ...]:
    return (sys.executable, "-c", source, *arguments)


def stand_in(name: str) -> tuple[str, ...]:
    return (sys.executable, str(STAND_INS / f"{name}.py"))


def gone(pid: int) -> bool:
    """Whether a process has ended; one that nobody has reaped yet has ended too."""
    try:
        return psutil.Process(pid).status() == psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return True


def until(condition: Callable[[], bool], limit_s: float = 8) -> bool:
    deadline_s = time.monotonic() + limit_s
    while not condition() and time.monotonic() < deadline_s:
        time.sleep(0.02)
    return condition()


def ended(pid: int, limit_s: float = 5) -> bool:
    return until(lambda: gone(pid), limit_s)
