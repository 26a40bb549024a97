"""What one fact of a file is for a comparison: how it is read, when it differs, and what that does.

It must not know any single fact.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from operator import ne
from typing import Any

from mediacheck.compare.model import Subject
from mediacheck.loop import File
from mediacheck.names import RuleName, Severity
from mediacheck.profile_text import value_text

ENCODE_AGAIN = "Encode this file again as the one on the good card is."
NOTABLE_RATE = 1.5
"""A bit rate differs notably from half as much again: encoders miss what they are told by less (common
practice, no source), and few players are built with as much to spare."""
Value = Any
"""What a reader takes out of a file; None where the file does not say, or has no such part."""


def _always(good: File, bad: File) -> bool:
    return True


def _never(good: Value, bad: Value) -> bool:
    return False


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact. The sentences are put together as `says`.format(bad) and `effect`."""

    name: str
    """In a list: "the level"."""
    subject: Subject
    rule: RuleName | None
    read: Callable[[File], Value]
    says: str
    """What is so on the bad card, with {} for the value: "its picture is packed as {}"."""
    effect: str
    """A clause: what it may do on the screen."""
    action: str
    """One sentence: what to do."""
    words: Callable[[Value], str] = str
    differs: Callable[[Value, Value], bool] = ne
    """Of the good card's value and the bad card's."""
    gentler: Callable[[Value, Value], bool] = _never
    """Whether the bad card's value asks less of a player than the good card's."""
    comparable: Callable[[File, File], bool] = _always
    """Whether the fact means anything for these two: levels of two codecs do not compare."""
    severity: Severity = "warn"
    """Where no rule is about it."""


def beyond(times: float, least: float = 0.0) -> Callable[[Value, Value], bool]:
    """Differs where one is at least so many times the other, and so much apart."""

    def differs(good: Value, bad: Value) -> bool:
        low, high = sorted((good, bad))
        return bool(high >= low * times and high - low >= least and high != low)

    return differs


def less(good: Value, bad: Value) -> bool:
    """Smaller numbers ask less."""
    return bool(bad < good)


def plain(*values: Value) -> Callable[[Value, Value], bool]:
    """These are what every player takes."""
    return lambda good, bad: bad in values


def ladder(*steps: str) -> Callable[[Value, Value], bool]:
    """A player that takes one step takes those before it."""
    return lambda good, bad: good in steps and bad in steps and steps.index(bad) < steps.index(good)


def bit_rate_words(rate: int) -> str:
    """Bits per second, rounded to what a person takes in."""
    return value_text("bit_rate_max", round(rate, -4) if rate >= 1_000_000 else max(1000, round(rate, -3)))
