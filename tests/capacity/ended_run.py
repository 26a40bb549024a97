"""A run that is ended at a certain moment: fills a folder that stands for a drive until then."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from contextlib import suppress
from dataclasses import fields
from pathlib import Path

from mediacheck.capacity import files as filling
from mediacheck.capacity.examination import examine
from mediacheck.capacity.files import Calls, files_on
from mediacheck.capacity.stream import new_stream
from mediacheck.endings import endings_are_tidy
from mediacheck.watching import NoByteWatcher
from tests.capacity.drives import MIB, drive

CALLS = 50
"""About as many as one run makes."""


def run_until(root: Path, moment: int, ending: signal.Signals) -> None:
    """Run again and again. From this call of the system on, each is preceded by the signal."""
    filling.FILE_BYTES = MIB
    if ending != signal.SIGKILL:  # which the tests may have been started without, as by nohup
        signal.signal(ending, signal.default_int_handler)
    done = 0

    def ended(call: Callable[..., object]) -> Callable[..., object]:
        def counted(*arguments: object) -> object:
            nonlocal done
            done += 1
            if done > moment:
                os.kill(os.getpid(), ending)
            return call(*arguments)

        return counted

    real = Calls(sync=lambda _: None)  # a process that is killed takes nothing with it that was written
    calls = {one.name: ended(getattr(real, one.name)) for one in fields(Calls)}
    with suppress(KeyboardInterrupt), endings_are_tidy():
        while True:
            with files_on(drive(root, room=8 * MIB), print, Calls(**calls)) as files:  # type: ignore[arg-type]
                examine(files, new_stream(), NoByteWatcher())
