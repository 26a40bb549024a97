"""What to do when whoever reads our standard output goes away, as `| head` does."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def readers_may_leave() -> Iterator[None]:
    """Print inside this: a reader that has left is no error, and changes no exit code.

    rich leaves the program with code 1 in that case, which would say here that a card will not play.
    """
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        _say_no_more()
    except SystemExit as leaving:
        if leaving.code != 1:
            raise
        _say_no_more()


def _say_no_more() -> None:
    """Python would complain once more of the closed pipe when it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
