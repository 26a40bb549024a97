"""Opens a great number of spoiled card images: what comes out, how slow is the slowest, how much memory.

The images are those of tests/card/mutations.py: sound ones of every kind with their structures changed by a
seeded chance (boot sectors, FATs, folders, bitmap, up-case table, MBR, GPT; in most, checksums put right
afterwards; sectors swapped, images cut off). Each is opened by `open_card`, and its files are read.

`python benchmarks/fuzz_card.py [--small] [--images=N] [--from=NUMBER] [--minutes=M]`: two processes at once.
Seconds of one image are processor time; the memory is the most that a process held, Python and numpy
included. The number of an image that failed is enough to make it again.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from side_by_side import finish, small

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from tests.card.mutation_run import Took  # noqa: E402  # needs the path
from tests.card.mutation_subjects import build  # noqa: E402  # needs the path

PROCESSES = 2
BATCH_MAX = 2_500
SECONDS_MAX, MEMORY_MB_MAX = 2.0, 200.0


class Crew:
    """Processes that take batches of images until none are left or the time is up."""

    def __init__(self, folder: Path, numbers: range, until: float, progress: Progress) -> None:
        self.folder, self.until, self.progress = folder, until, progress
        self.task = progress.add_task("images", total=len(numbers))
        batch = min(BATCH_MAX, -(-len(numbers) // PROCESSES))
        self.waiting = [numbers[start : start + batch] for start in range(0, len(numbers), batch)][::-1]
        self.lock = threading.Lock()
        self.took: list[Took] = []

    def run(self) -> Sequence[Took]:
        """What came of each batch."""
        threads = [threading.Thread(target=self._work) for _ in range(PROCESSES)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return self.took

    def _work(self) -> None:
        while time.monotonic() < self.until:
            with self.lock:
                if not self.waiting:
                    return
                batch = self.waiting.pop()
            took = self._take(batch)
            with self.lock:
                self.took.append(took)

    def _take(self, batch: range) -> Took:
        command = [sys.executable, "-m", "tests.card.mutation_run", str(self.folder)]
        command += [str(batch.start), str(len(batch))]
        took = Took()
        with (
            tempfile.TemporaryFile("w+") as complaint,
            subprocess.Popen(
                command, cwd=ROOT, stdout=subprocess.PIPE, stderr=complaint, text=True
            ) as running,
        ):
            assert running.stdout
            for line in running.stdout:
                before, took = took.images, Took(**json.loads(line))
                with self.lock:
                    self.progress.advance(self.task, took.images - before)
            if running.wait():
                complaint.seek(0)
                took.failures.append(
                    f"the process ended after image {batch.start + took.images}: {complaint.read()}"
                )
        return took


def option(name: str, usual: float) -> float:
    """The number that stands behind `--NAME=` on the command line."""
    given = (word.partition("=")[2] for word in sys.argv[1:] if word.startswith(f"--{name}="))
    return float(next(given, usual))


def columns() -> tuple[TextColumn, BarColumn, MofNCompleteColumn, TimeRemainingColumn]:
    return TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn()


def main() -> None:
    """Make the sound images, open the spoiled ones, and print what came of them."""
    first, count = int(option("from", 0)), int(option("images", 1_000 if small() else 200_000))
    console = Console(stderr=True)
    start = time.monotonic()
    with (
        tempfile.TemporaryDirectory() as name,
        Progress(*columns(), console=console, disable=not console.is_terminal) as progress,
    ):
        folder = Path(name)
        build(folder)
        until = start + 60 * option("minutes", 24 * 60)
        took = Crew(folder, range(first, first + count), until, progress).run()
    slowest = max(took, key=lambda one: one.slowest_s)
    failures = [failure for one in took for failure in one.failures]
    for failure in failures[:10]:
        print(failure)
    print(f"slowest: image {slowest.slowest_seed}")
    figures: dict[str, float | None] = {
        "images": sum(one.images for one in took),
        "listed": sum(one.opened for one in took),
        "files_read": sum(one.entries for one in took),
        "damages_told": sum(one.damages for one in took),
        "seconds": time.monotonic() - start,
        "slowest_s": slowest.slowest_s,
        "peak_memory_mb": max(one.peak_bytes for one in took) / 1e6,
        "exceptions": len(failures),
    }
    finish(
        "fuzz_card", figures, [], {"slowest_s": SECONDS_MAX, "peak_memory_mb": MEMORY_MB_MAX, "exceptions": 0}
    )


if __name__ == "__main__":
    main()
