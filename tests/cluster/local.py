"""A cluster of two workers on this machine, on ports that the system chooses, and work for it.

It must not judge what comes of it.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import distributed
import psutil

from mediacheck.card.within import Within
from mediacheck.inspection import Inspection, Wanted
from mediacheck.measure.model import Measurements
from mediacheck.survey import NoWatcher
from tests.rules import make


@contextmanager
def two_workers() -> Iterator[distributed.LocalCluster]:
    """Each a process of its own that does one thing at a time, started anew when it dies."""
    made: Any = distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        scheduler_port=0,
        dashboard_address="127.0.0.1:0",
        silence_logs=60,
    )
    with made as cluster:
        yield cluster


@contextmanager
def bare_scheduler() -> Iterator[str]:
    """The address of a scheduler on a machine that has Dask and no mediacheck."""
    command = [sys.executable, "-c", BARE_SCHEDULER]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        try:
            assert process.stdout is not None
            yield process.stdout.readline().strip()
        finally:
            process.kill()


BARE_SCHEDULER = """
import asyncio, sys
from distributed import Scheduler

sys.modules["mediacheck"] = None

async def main():
    async with Scheduler(host="127.0.0.1", port=0, dashboard_address="127.0.0.1:0") as scheduler:
        print(scheduler.address, flush=True)
        await scheduler.finished()

asyncio.run(main())
"""


class Killing(NoWatcher):
    """Hears of files that are done, and after so many of them kills a worker."""

    def __init__(self, victim: int, after: int) -> None:
        self._victim, self._after = victim, after
        self._files = 0

    @property
    def killed(self) -> bool:
        return self._files >= self._after

    def done(self, path: str, size_bytes: int) -> None:
        self._files += 1
        if self._files == self._after:
            psutil.Process(self._victim).kill()


def pids(address: str) -> set[int]:
    """The processes of the workers themselves."""
    with distributed.Client(address, set_as_default=False) as client:
        return set(client.run(os.getpid).values())


def parent() -> int:
    """Below which process a call runs."""
    return os.getppid()


def crash() -> None:
    """As a decoder may."""
    os._exit(139)


def sleep(seconds: float, mark: str | None = None) -> int:
    """A call that takes its time; it leaves a file with its process number when it begins."""
    if mark is not None:
        Path(mark).write_text(str(os.getpid()))
    time.sleep(seconds)
    return os.getppid()


def confused(*sent: object) -> bytes:
    """In the place of `carry_out`: a worker that cannot do any work."""
    raise ValueError("no such slot")


def refuse(word: str) -> None:
    """A call that fails by itself."""
    raise KeyError(word)


def slowly(location: Path | Within, path: str, size_bytes: int, wanted: Wanted) -> Inspection:
    """As if every file were a conforming clip that takes a moment."""
    time.sleep(0.3)
    file = make.video_file(path)
    measured = Measurements(300, 10.0) if wanted.depth == "full" else None
    return Inspection("video", file.facts, measured, "a" * 64 if wanted.sha256 else None)
