"""What is told how far a long read or write has come; a terminal draws it, a test notes it.

It must not know what the bytes are or who draws.
"""

from __future__ import annotations

from typing import Protocol


class ByteWatcher(Protocol):
    """Told how many bytes are done. One stretch of work after the other; any thread may tell."""

    def begin(self, total_bytes: int, what: str) -> None:
        """Work of so many bytes begins; `what` says it in a word or two: "writing", "reading back"."""

    def advanced(self, count_bytes: int) -> None:
        """So many more bytes are done. Told every few megabytes, so that the work can be seen to go on."""

    def end(self) -> None:
        """This work is over, whether or not all of it was done."""


class NoByteWatcher:
    """For callers that do not show progress."""

    def begin(self, total_bytes: int, what: str) -> None:
        """Nothing to show."""

    def advanced(self, count_bytes: int) -> None:
        """Nothing to show."""

    def end(self) -> None:
        """Nothing to show."""
