"""A run that a test kills: fills a folder that stands for a drive, again and again until it is ended."""

from __future__ import annotations

from contextlib import suppress
from multiprocessing.synchronize import Event
from pathlib import Path

from mediacheck.build import capacity_files
from mediacheck.build.capacity import examine
from mediacheck.build.capacity_files import files_on
from mediacheck.build.endings import endings_are_tidy
from mediacheck.build.stream import new_stream
from mediacheck.watching import NoByteWatcher
from tests.build.drives import MIB, drive


def fill_for_ever(root: Path, ready: Event) -> None:
    """Say that it is ready, and go on."""
    capacity_files.FILE_BYTES = MIB
    with suppress(KeyboardInterrupt), endings_are_tidy():  # between two runs there is nothing to tidy up
        ready.set()
        while True:
            with files_on(drive(root, room=8 * MIB), print) as files:
                examine(files, new_stream(), NoByteWatcher())
