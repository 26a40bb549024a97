"""Programs for tests: Python lines, stand-ins named for how they fail, and whether one has ended."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import psutil
import pytest

STAND_INS = Path(__file__).parent / "broken_programs"
posix_only = pytest.mark.skipif(os.name != "posix", reason="POSIX signals")


def python_program(source: str, *arguments: str) -> tuple[str, ...]:
    return (sys.executable, "-c", source, *arguments)


def stand_in(name: str) -> tuple[str, ...]:
    return (sys.executable, str(STAND_INS / f"{name}.py"))


def ended(pid: int, limit_s: float = 5) -> bool:
    deadline_s = time.monotonic() + limit_s
    while time.monotonic() < deadline_s:
        try:
            if psutil.Process(pid).status() == psutil.STATUS_ZOMBIE:
                return True
        except psutil.NoSuchProcess:
            return True
        time.sleep(0.02)
    return False
