"""Lets work that has to tidy up do so when it is ended from outside.

It must not know what the work is. Nothing helps against SIGKILL or a power cut.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

ENDINGS = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name))
"""Ended by another program, the terminal closed, Ctrl-Break on Windows."""


@contextmanager
def endings_are_tidy() -> Iterator[None]:
    """Being ended from outside raises KeyboardInterrupt in here, as Ctrl-C does anyway."""
    with _handled(dict.fromkeys(ENDINGS, signal.default_int_handler)):
        yield


@contextmanager
def undisturbed() -> Iterator[None]:
    """Being asked to end changes nothing in here: the work is the tidying up itself, and short."""
    with _handled(dict.fromkeys((signal.SIGINT, *ENDINGS), signal.SIG_IGN)):
        yield


@contextmanager
def _handled(handlers: Mapping[signal.Signals, Any]) -> Iterator[None]:
    """Python gives signals to its main thread alone; in others, there is nothing to do.

    What somebody has set to be ignored stays so: `nohup` is meant to outlive its terminal.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {number: signal.getsignal(number) for number in handlers}
    mine = [number for number, handler in before.items() if handler not in (signal.SIG_IGN, None)]
    try:
        for number in mine:
            signal.signal(number, handlers[number])
        yield
    finally:
        for number in mine:
            signal.signal(number, before[number])
