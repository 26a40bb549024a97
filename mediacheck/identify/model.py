"""What an identification says, whatever was looked at: the answer, the loops, and how sure.

It must not know how it was found out.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from mediacheck.identify.answers import Answer

Looked = Literal["photo", "clip", "card"]


@dataclass(frozen=True, slots=True)
class LoopFound:
    """A loop that may be shown. `from_s`, `until_s`: where in its round; None: nowhere in particular."""

    name: str
    display: str | None
    face: str | None
    version: str | None
    from_s: float | None
    until_s: float | None
    sure: float
    """Probability, 0 to 1."""
    differing: tuple[tuple[float, float], ...] = ()
    """Seconds of its round in which something else is shown."""


@dataclass(frozen=True, slots=True)
class Identified:
    """One answer. `files`: what was looked at."""

    looked_at: Looked
    files: tuple[str, ...]
    answer: Answer
    reason: str
    """One sentence."""
    loops: tuple[LoopFound, ...]
    """The likeliest first."""
    identified_at: datetime
    taken_at: datetime | None = None
    display: str | None = None
    face: str | None = None
    """Which face was asked for."""
    right_face: bool | None = None
    """Whether it is this face's loop in the version that belongs there; None: not asked, or not known."""
