"""Sets of things held against each other: lists, least and greatest values.

It must not know any key: None is "everything" for a list, and "no bound" for a span.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

from mediacheck.profile_difference.model import Share

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Span:
    """All numbers from `least` to `most`, both included."""

    least: Fraction | None = None
    most: Fraction | None = None

    def within(self, other: Span) -> Span:
        """What both hold."""
        least = [bound for bound in (self.least, other.least) if bound is not None]
        most = [bound for bound in (self.most, other.most) if bound is not None]
        return Span(max(least, default=None), min(most, default=None))


def span(least: float | None, most: float | None) -> Span:
    """A span from values of a profile, exactly as they are written there."""
    return Span(exact(least), exact(most))


def exact(value: float | None) -> Fraction | None:
    """A value of a profile as it is written there: 0.1 is a tenth."""
    return None if value is None else Fraction(str(value))


def outside(a: Collection[T] | None, b: Collection[T] | None) -> Share | None:
    """How many of `a` are not in `b`."""
    if b is None:
        return None
    if a is None:
        return "some"
    beyond = sum(value not in b for value in a)
    return (None if not beyond else "every" if beyond == len(a) else "some") if a else None


def above(a: Span, b: Span) -> Share | None:
    """How many of `a` are greater than all of `b`."""
    if b.most is None or (a.most is not None and a.most <= b.most):
        return None
    return "every" if a.least is not None and a.least > b.most else "some"


def below(a: Span, b: Span) -> Share | None:
    """How many of `a` are less than all of `b`."""
    if b.least is None or (a.least is not None and a.least >= b.least):
        return None
    return "every" if a.most is not None and a.most < b.least else "some"


def beyond(a: Span, b: Span) -> Share | None:
    """How many of `a` are not in `b`."""
    return together((below(a, b), above(a, b)))


def together(shares: Iterable[Share | None]) -> Share | None:
    """Of two bounds of one thing: it is enough that every thing breaks one of them."""
    found = tuple(shares)
    return "every" if "every" in found else "some" if "some" in found else None


def over_kinds(shares: Iterable[Share | None]) -> Share | None:
    """Of several kinds of thing: every thing is one of every kind."""
    found = tuple(shares)
    if found and all(share == "every" for share in found):
        return "every"
    return "some" if any(found) else None
