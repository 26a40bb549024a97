"""Tests that end work by signals, however the tests themselves were started.

It must not change what a test's own code does about signals.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator

import pytest


@pytest.fixture
def listens() -> Iterator[None]:
    """Ctrl-C and being asked to end are not ignored, as they are in a process that a shell put behind."""
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    yield
    for number, handler in before.items():
        signal.signal(number, handler)
