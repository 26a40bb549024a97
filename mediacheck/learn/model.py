"""What cards that play have taught: values of a profile, each with its evidence.

It must not look at cards and must not know how a profile is written.
"""

from __future__ import annotations

from dataclasses import dataclass

from mediacheck.survey import Surveyed

Plain = str | int | float | bool | tuple["Plain", ...]
"""A value as YAML has it; rates are numbers as people write them (29.97), levels are text ("4.1")."""
Key = tuple[str, ...]
"""Where a value stands in the profile: ("video", "codecs", "H.264", "level_max")."""


@dataclass(frozen=True, slots=True)
class Taught:
    """A card that is known to play, and what was found on it. `shown` is its name as the person gave it."""

    shown: str
    surveyed: Surveyed


@dataclass(frozen=True, slots=True)
class Value:
    """One value of the profile that is learned.

    `evidence` is a clause for the comment beside it: "seen on 3 of 3 cards: 12 files; rounded up from
    18.3 Mbit/s". No capital at its start, no full stop, one line.
    """

    key: Key
    value: Plain
    evidence: str
    is_limit: bool = True
    """False where too little was seen for a limit (a single file): it is then written as a comment only."""


@dataclass(frozen=True, slots=True)
class Learned:
    """All that was learned, in the order of a profile's keys."""

    values: tuple[Value, ...]
    cards: tuple[str, ...]
    notes: str
    """Where it comes from, in sentences: for the profile's own `notes`."""


@dataclass(frozen=True, slots=True)
class Refused:
    """Why one card cannot teach: sentences for a person, each about one thing that is wrong with it."""

    card: str
    reasons: tuple[str, ...]
