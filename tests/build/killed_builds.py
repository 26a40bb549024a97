"""Builds cards in processes of its own and kills each at a moment that it is told: run by `test_killed`.

For each line on standard input, a number of seconds, it forks, builds, kills, and answers with a line:
"killed" or "done". It must not look at what is left.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

from mediacheck.build.build import write_out
from mediacheck.build.fill import fill
from mediacheck.build.record import beside
from mediacheck.watching import NoByteWatcher
from tests.build import made


def build(kind: str, source: Path, out: Path) -> None:
    """Once, whole."""
    if kind == "image":
        write_out(made.planned(source), out, beside(out), False, NoByteWatcher())
    else:
        fill(made.content(source), out, "fixed", None, NoByteWatcher())


def build_and_kill(kind: str, source: Path, out: Path, after_s: float) -> str:
    """In a child that lives so long at most."""
    child = os.fork()
    if child == 0:
        build(kind, source, out)
        os._exit(0)
    until = time.monotonic() + after_s
    while time.monotonic() < until:
        if os.waitpid(child, os.WNOHANG)[0]:
            return "done"
        time.sleep(0.001)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return "killed"


def main() -> None:
    """Kind, source folder and output as arguments."""
    kind, source, out = sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3])
    for line in sys.stdin:
        print(build_and_kill(kind, source, out, float(line)), flush=True)


if __name__ == "__main__":
    main()
