"""How likely a difference is to stop playback: what its rule weighs, and where it stands among others.

It must not find differences.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from mediacheck.compare.model import Difference
from mediacheck.names import WORST_FIRST, RuleName, Severity
from mediacheck.rules.catalogue import RULES, USUAL_SEVERITIES

PLACES: Mapping[str, int] = MappingProxyType({rule.name: place for place, rule in enumerate(RULES)})
EASED: Mapping[Severity, Severity] = MappingProxyType({"fail": "warn", "warn": "note", "note": "note"})
"""One step lighter: for what other files of the good card are like, which play."""


def usual(rule: RuleName | None, otherwise: Severity = "warn") -> Severity:
    """The rule's own severity, or what was given where no rule is about it."""
    return USUAL_SEVERITIES[rule] if rule else otherwise


def worse(one: Severity, other: Severity) -> Severity:
    """The graver of two."""
    return min(one, other, key=WORST_FIRST.index)


@dataclass(frozen=True, slots=True)
class Census:
    """How often each value is there among all files of both cards."""

    counts: Mapping[str, int]
    total: int
    most: tuple[tuple[str, int], ...]
    """The two values that most files have."""

    @classmethod
    def of(cls, values: Iterable[str]) -> Census:
        """Of one value for each file."""
        counts = Counter(values)
        return cls(counts, counts.total(), tuple(counts.most_common(2)))


def variety(census: Census, own: str) -> float:
    """How much the other files vary in a thing, and how many of them are like this one.

    0: all the others agree, and this one alone differs. The census counts all files, this one included.
    """
    others = census.total - 1
    if others <= 0:
        return 1.0
    most = max(count - (value == own) for value, count in census.most)
    return 1 - most / others + max(0, census.counts.get(own, 0) - 1) / others


def ranked(differences: Sequence[Difference], bad_paths: Sequence[str]) -> tuple[Difference, ...]:
    """The likeliest first: what matters to the profile, severity, order of the rules, rarity, play order."""
    places = {path: place for place, path in enumerate(bad_paths)}

    def key(each: Difference) -> tuple[object, ...]:
        return (
            each.matters is not True,
            WORST_FIRST.index(each.severity),
            PLACES.get(each.rule or "", len(PLACES)),
            each.variety,
            places.get(each.bad_path or "", -1),
            each.good_path or "",
            each.message,
        )

    return tuple(sorted(differences, key=key))
