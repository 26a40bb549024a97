"""What became of one device that an image was to be written to, and how it is said.

It must not write.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from mediacheck.device.drive import Drive
from mediacheck.device.guard import drive_words
from mediacheck.device.raw_device import FULL, GONE
from mediacheck.rules.wording import exact

Result = Literal["written", "already right", "differs", "failed"]
FROM_MEMORY = (
    "; whether this came from the card or from this computer's memory could not be told: to be sure, take "
    "the card out, put it in again, and write the same image once more, which compares it"
)


@dataclass(frozen=True, slots=True)
class Outcome:
    """How it ended for one device."""

    drive: Drive
    result: Result
    from_medium: bool = False
    """Whether it is proven that what was compared last came from the card itself."""
    at_byte: int = 0
    """Where the first byte differs, or where it failed."""
    bad_blocks: int = 0
    blocks: int = 0
    why: str = ""

    @property
    def line(self) -> str:
        """One line for people."""
        return f"{drive_words(self.drive)}: {self._said}"

    @property
    def _said(self) -> str:
        if self.result == "differs":
            return (
                f"FAILED at byte {self.at_byte:,}: {self.bad_blocks:,} of {self.blocks:,} blocks of 4 MiB "
                "read back otherwise than they were written: the card is bad, or smaller than it claims; do "
                "not use it"
            )
        if self.result == "failed":
            return f"FAILED at byte {self.at_byte:,}: {self.why}"
        if self.result == "already right":
            return "already right: nothing was written" + ("" if self.from_medium else FROM_MEMORY)
        if self.from_medium:
            return "written and proven"
        return f"written, and the same when it was read back{FROM_MEMORY}"


class Stopped(KeyboardInterrupt):
    """The work was stopped by a person or from outside; what became of each device until then."""

    def __init__(self, outcomes: Sequence[Outcome]) -> None:
        super().__init__()
        self.outcomes = tuple(outcomes)


def exit_code(outcomes: Sequence[Outcome]) -> int:
    """0 all proven; 1 some read back otherwise; 2 some failed with an error; 3 some are right, not proven."""
    results = {outcome.result for outcome in outcomes}
    if "failed" in results:
        return 2
    if "differs" in results:
        return 1
    return 0 if all(outcome.from_medium for outcome in outcomes) else 3


def why_failed(error: OSError, size_bytes: int) -> str:
    """A device's error in words."""
    if error.errno in GONE:
        return "it is not there any more: it was taken out, or its reader failed"
    if error.errno in FULL:
        return f"it takes no more, although it claims to hold {exact(size_bytes)}"
    if error.errno in (errno.EROFS, errno.EPERM, errno.EACCES):
        return "it cannot be written to any more: it is write-protected"
    if error.errno == errno.EIO:
        return "the card or its reader failed, or it was taken out (input/output error)"
    return error.strerror or (os.strerror(error.errno) if error.errno else str(error))
