"""A worker process and ffmpeg's version, got ready while the command line is still being read.

Reading it takes a fifth of a second, and so does the start of a worker. It must not know the work.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING

from mediacheck.names import Depth
from mediacheck.which_ffmpeg import ask_ahead, ask_for_ffmpeg

if TYPE_CHECKING:
    from mediacheck.workers import FileWorkers, TimeLimit

LOOKING_COMMANDS = frozenset(("check", "build", "fix"))
"""Those that nearly always look at files."""
OTHER_WORK = frozenset(("-h", "--help", "--cluster"))
"""With these, no file is looked at by processes of ours."""
NEEDED_BY_BOTH = "mediacheck.inspection"
NEEDED = ("av", "pymediainfo", "mediacheck.media.read", NEEDED_BY_BOTH)
NEEDED_AT_FULL_DEPTH = ("ffmpeg", "mediacheck.measure.decode")
"""The gauges are loaded later, while ffmpeg opens the file."""

_waiting: FileWorkers | None = None


def begin(arguments: Sequence[str]) -> None:
    """Get ready for this command line, as far as its words tell. What is not taken ends with the program."""
    global _waiting
    words = frozenset(word.partition("=")[0] for word in arguments)
    if arguments and arguments[0] in LOOKING_COMMANDS and not words & OTHER_WORK:
        depth: Depth = "quick" if "quick" in arguments or "--depth=quick" in arguments else "full"
        if depth == "full":
            ask_ahead()
        from mediacheck.worker_process import can_copy  # loaded while it answers

        copied = can_copy()
        if copied:  # loaded now, the copy has it too
            import_module(NEEDED_BY_BOTH)
        _waiting = _preparing(depth, copied=copied)


def workers(jobs: int, time_limit_s: TimeLimit, depth: Depth) -> FileWorkers:
    """Processes for inspections of this depth: those that are waiting, or new ones that get ready at once."""
    global _waiting
    found, _waiting = _waiting or _preparing(depth), None
    found.settle(jobs, time_limit_s)
    return found


def get_ready(depth: Depth) -> None:
    """Import what inspections of this depth need, in a worker process that has nothing to do yet."""
    for name in (*NEEDED, *(NEEDED_AT_FULL_DEPTH if depth == "full" else ())):
        import_module(name)


def _preparing(depth: Depth, *, copied: bool = False) -> FileWorkers:
    from mediacheck.workers import FileWorkers

    made = FileWorkers(1, math.inf)
    made.prepare(partial(get_ready, depth), copied=copied)
    if depth == "full":
        ask_for_ffmpeg()
    return made
