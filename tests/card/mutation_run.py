"""Opens spoiled images one after another as a card, reads what they list, and takes down how that went.

It must not judge: `python -m tests.card.mutation_run FOLDER FIRST COUNT` prints what it took down as JSON.
"""

from __future__ import annotations

import faulthandler
import json
import re
import sys
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path

import psutil

from mediacheck.card.model import Card, Entry
from mediacheck.card.opening import open_card
from mediacheck.card.within import Within
from mediacheck.errors import CardError
from tests.card.mutation_subjects import load
from tests.card.mutations import Canvas, spoiled

HANGS_S = 60
WATCHED = 64
"""Nothing may take 2 s; where so many images take so long, the process gives up and shows where it was."""
READ_BYTES_MAX = 32 << 20
"""So much of the files of one image is read whole; of the others only the end: a spoiled image of a few MiB
may list many files that share all its clusters."""
PIECE_BYTES = 1 << 20
UNPRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]")
PARTS = frozenset(("", ".", ".."))
"""What no part of a path may be: it would lead out of its folder."""
PROGRESS_EVERY = 250
FAILURES_MAX = 20


@dataclass
class Took:
    """What came of a number of images."""

    images: int = 0
    opened: int = 0
    """Those that were listed, damaged or not."""
    damages: int = 0
    entries: int = 0
    slowest_s: float = 0.0
    """Processor time of opening one and listing it."""
    slowest_seed: int = -1
    peak_bytes: int = 0
    """The most memory that the process held, Python and its libraries included."""
    failures: list[str] = field(default_factory=list)
    """What came out that should not, with the number of the image."""


def run(folder: Path, first: int, count: int) -> Iterator[Took]:
    """Images by their numbers, from `first` on; what came of them so far, now and then, and at the end."""
    took = Took()
    subjects = load(folder)
    with _own_copies(folder, [subject.name for subject in subjects]) as canvases:
        for seed in range(first, first + count):
            if took.images % WATCHED == 0:
                faulthandler.dump_traceback_later(HANGS_S, exit=True)
            number = seed % len(subjects)
            with spoiled(canvases[number], subjects[number], seed) as path:
                _take(path, seed, took)
            if took.images % PROGRESS_EVERY == 0 or took.images == count:
                took.peak_bytes = peak_memory_bytes()
                yield took
    faulthandler.cancel_dump_traceback_later()


def _take(path: Path, seed: int, took: Took) -> None:
    start = time.process_time()
    try:
        card = _opened(path)
        seconds = time.process_time() - start
        if card:
            read_whole(card)
    except Exception:  # whatever comes out is what this is looking for
        seconds = time.process_time() - start
        card = None
        if len(took.failures) < FAILURES_MAX:
            took.failures.append(f"image {seed} ({path.name}): {traceback.format_exc()}")
    took.images += 1
    if card:
        took.opened += card.unlisted is None
        took.entries += len(card.entries)
        took.damages += len(card.damage or ())
    if seconds > took.slowest_s:
        took.slowest_s, took.slowest_seed = seconds, seed


def _opened(path: Path) -> Card | None:
    try:
        return open_card(path)
    except CardError:
        return None


def read_whole(card: Card) -> None:
    """Every file is readable to its end, and everything is as `model` promises. AssertionError; OSError of a
    medium is no fault."""
    assert [entry.position for entry in card.entries] == list(range(len(card.entries)))
    paths = [*card.folders, *(entry.path for entry in card.entries)]
    assert not [path for path in paths if UNPRINTABLE.search(path) or not PARTS.isdisjoint(path.split("/"))]
    assert all(damage.what.strip() and "\n" not in damage.what for damage in card.damage or ())
    left = READ_BYTES_MAX
    for entry in card.entries:
        left -= _read(entry, left)


def _read(entry: Entry, left: int) -> int:
    """Read a file to its end; only its last bytes where too much was read already."""
    location = entry.location
    assert isinstance(location, Within)
    assert all(run.start_byte >= 0 and run.length_bytes > 0 for run in location.runs)
    there = min(entry.size_bytes, sum(run.length_bytes for run in location.runs))
    try:
        with entry.open() as file:
            if there > left:
                file.seek(there - 1)
            place = file.tell()
            while piece := file.read(PIECE_BYTES):
                place += len(piece)
            assert place <= there
            return place if there <= left else 0
    except OSError:
        return 0


def peak_memory_bytes() -> int:
    """The most memory that this process has held since it began."""
    status = Path("/proc/self/status")  # Linux: `ru_maxrss` counts what the parent held as well
    if status.exists():
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) * 1024
    memory = psutil.Process().memory_info()
    if peak := getattr(memory, "peak_wset", 0):  # Windows
        return int(peak)
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss  # bytes on macOS


@contextmanager
def _own_copies(folder: Path, names: list[str]) -> Iterator[list[Canvas]]:
    """Copies of all images that nobody else changes."""
    import shutil
    import tempfile

    with tempfile.TemporaryDirectory(dir=folder) as own:
        canvases = [Canvas(Path(shutil.copy(folder / name, own))) for name in names]
        try:
            yield canvases
        finally:
            for canvas in canvases:
                canvas.close()


def main() -> None:
    """Print a line of JSON now and then, and a last one."""
    folder, first, count = sys.argv[1:]
    for took in run(Path(folder), int(first), int(count)):
        print(json.dumps(asdict(took)), flush=True)


if __name__ == "__main__":
    main()
