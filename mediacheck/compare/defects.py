"""What the rules find on the bad card and not on the good one: nothing that a check would say is lost.

It must not judge by itself: both cards were judged before.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from mediacheck.compare.model import Difference, NotCompared, Subject
from mediacheck.compare.pairing import Pairing
from mediacheck.compare.weight import EASED, GRAVITY, worse
from mediacheck.names import RuleName
from mediacheck.report.model import Finding, Report
from mediacheck.rules.wording import clause

Key = tuple[RuleName | None, str | None, str]
"""Rule, path on the bad card, and what else tells two findings of one rule about a whole card apart."""
MANY: tuple[RuleName, ...] = ("card-damaged", "folder-missing")
"""Rules that may find several things about one card."""
BROKEN: frozenset[RuleName] = frozenset(
    (
        "card-damaged",
        "file-junk",
        "file-empty",
        "file-unreadable",
        "container-truncated",
        "still-damaged",
        "picture-damaged",
    )
)
"""Each such file is broken in its own way: that another one of the good card plays all the same tells
nothing."""
SUBJECTS: Mapping[str, Subject] = {
    "card": "card",
    "folder": "layout",
    "play": "order",
    "container": "container",
    "readers": "container",
    "video": "picture",
    "picture": "picture",
    "audio": "sound",
    "still": "still",
    "loop": "loop",
}
"""By the first word of a rule's name."""
FILE_SUBJECTS: Mapping[str, Subject] = {
    "file-misplaced": "layout",
    "file-unexpected": "layout",
    "file-junk": "layout",
    "file-duplicate": "layout",
    "file-name": "name",
    "file-name-length": "name",
    "file-extension": "name",
}


@dataclass(frozen=True, slots=True)
class Defects:
    """What was found on the bad card alone, by what it is about, and how often each rule spoke."""

    alone: Mapping[Key, Finding]
    good_rules: frozenset[RuleName]
    """Rules that found something on the good card, which plays all the same."""
    good_paths: Mapping[str, str]
    """By path on the bad card: of what stands for it on the good one."""


def defects_of(good: Report, bad: Report, pairing: Pairing) -> Defects:
    """Findings of the bad card that have no like on the good one."""
    paths = {pair.bad.entry.path: pair.good.entry.path for pair in pairing.pairs}
    there = {_key(finding, finding.path) for finding in good.findings}
    alone = {
        _key(finding, finding.path): finding
        for finding in reversed(bad.findings)
        if _key(finding, paths.get(finding.path or "", finding.path)) not in there
    }
    rules = frozenset(finding.rule for finding in good.findings if finding.path is not None)
    return Defects(dict(reversed(alone.items())), rules, paths)


def _key(finding: Finding, path: str | None) -> Key:
    detail = finding.found if finding.rule == "card-damaged" else finding.wanted
    return finding.rule, path, detail.casefold() if finding.rule in MANY else ""


def _key_of(difference: Difference) -> Key:
    """A folder that is missing is on the good card only, and a finding about it names no path."""
    if difference.rule == "folder-missing":
        return difference.rule, None, (difference.good_path or "").casefold()
    return difference.rule, difference.bad_path, ""


def with_defects(
    differences: Sequence[Difference], defects: Defects, *, profiled: bool
) -> tuple[Difference, ...]:
    """The differences, weighed by the findings that they stand for, and the findings that none stands for."""
    gravest: dict[Key, Difference] = {}
    for each in differences:
        known = gravest.setdefault(_key_of(each), each)
        if GRAVITY[each.severity] < GRAVITY[known.severity]:
            gravest[_key_of(each)] = each
    weighed = tuple(_weighed(each, defects, profiled, gravest[_key_of(each)] is each) for each in differences)
    told = {_key_of(each) for each in differences}
    rest = {key: finding for key, finding in defects.alone.items() if key not in told}
    return (*weighed, *_as_differences(rest, defects, profiled))


def _weighed(difference: Difference, defects: Defects, profiled: bool, gravest: bool) -> Difference:
    """Of several differences about one thing, the gravest takes on what the rule says."""
    finding = defects.alone.get(_key_of(difference))
    matters = finding is not None if profiled else None
    if finding is None or not gravest or (not profiled and difference.severity == "note"):
        return replace(difference, matters=matters)
    return replace(difference, matters=matters, severity=worse(difference.severity, finding.severity))


def _as_differences(rest: Mapping[Key, Finding], defects: Defects, profiled: bool) -> Iterator[Difference]:
    """A rule that also speaks of files of the good card weighs less, unless the profile says otherwise."""
    eased = frozenset[RuleName]() if profiled else defects.good_rules - BROKEN
    for finding in rest.values():
        known = finding.path is not None and finding.rule in eased
        tail = "; the good card has such files too, and plays." if known else "."
        yield Difference(
            subject=_subject(finding.rule),
            severity=EASED[finding.severity] if known else finding.severity,
            rule=finding.rule,
            good_path=defects.good_paths.get(finding.path or ""),
            bad_path=finding.path,
            good="nothing of the kind was found",
            bad=finding.found,
            message=f"{clause(finding.message)}{tail}",
            action=finding.action,
            matters=True if profiled else None,
            variety=1.0 if known else 0.0,
        )


def _subject(rule: RuleName) -> Subject:
    return FILE_SUBJECTS.get(rule) or SUBJECTS.get(rule.partition("-")[0], "item")


def unchecked(good: Report, bad: Report, pairing: Pairing) -> tuple[NotCompared, ...]:
    """What should have been checked on either card and was not: there, no difference would have been seen."""
    to_good = {pair.bad.entry.path: pair.good.entry.path for pair in pairing.pairs}
    to_bad = {good_path: bad_path for bad_path, good_path in to_good.items()}
    what = "what the rules look for"
    found = [
        NotCompared(what, f"on the good card: {gap.reason}", False, gap.path, to_bad.get(gap.path or ""))
        for gap in good.not_checked
        if not gap.expected
    ] + [
        NotCompared(what, f"on the bad card: {gap.reason}", False, to_good.get(gap.path or ""), gap.path)
        for gap in bad.not_checked
        if not gap.expected
    ]
    return tuple(dict.fromkeys(found))
