"""What the rules find on the bad card and not on the good one: nothing that a check would say is lost.

It must not judge by itself: both cards were judged before.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from mediacheck.compare.model import Difference, NotCompared, Subject
from mediacheck.compare.pairing import Pairing
from mediacheck.compare.weight import EASED, worse
from mediacheck.media.facts import Unreadable
from mediacheck.names import RuleName
from mediacheck.report.model import Finding, Report
from mediacheck.rules.wording import clause
from mediacheck.survey import Surveyed

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
        "file-name",
    )
)
"""Each such file or name is broken in its own way: that another one of the good card plays all the same
tells nothing."""
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
NOTHING_FOUND, NOT_LOOKED_AT = "nothing of the kind was found", "this was not looked at"
WHAT = "what the rules look for"
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
    good_listed: bool
    good_unseen: frozenset[tuple[RuleName, str | None]]
    """Rules that were not asked on the good card, with the path there or None for the card as a whole."""


def defects_of(good: Report, bad: Report, pairing: Pairing, *, good_listed: bool) -> Defects:
    """Findings of the bad card that have no like on the good one, as far as its files could be listed."""
    paths = {pair.bad.entry.path: pair.good.entry.path for pair in pairing.pairs}
    there = {_key(finding, finding.path) for finding in good.findings}
    alone = {
        _key(finding, finding.path): finding
        for finding in reversed(bad.findings)
        if _key(finding, paths.get(finding.path or "", finding.path)) not in there
    }
    rules = frozenset(finding.rule for finding in good.findings if finding.path is not None)
    unseen = frozenset((gap.rule, gap.path) for gap in good.not_checked)
    return Defects(dict(reversed(alone.items())), rules, paths, good_listed, unseen)


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
        if worse(each.severity, known.severity) != known.severity:
            gravest[_key_of(each)] = each
    weighed = tuple(_weighed(each, defects, profiled, gravest[_key_of(each)] is each) for each in differences)
    told = {_key_of(each) for each in differences}
    rest = {key: finding for key, finding in defects.alone.items() if key not in told}
    return (*weighed, *_as_differences(rest, defects, profiled))


def _weighed(difference: Difference, defects: Defects, profiled: bool, gravest: bool) -> Difference:
    """Of several differences about one thing, the gravest takes on what the rule says, where graver."""
    finding = defects.alone.get(_key_of(difference))
    weighed = replace(difference, matters=finding is not None if profiled else None)
    if finding is None or not gravest or worse(difference.severity, finding.severity) == difference.severity:
        return weighed
    if finding.rule in _eased(defects, profiled):
        return weighed
    return replace(
        weighed, severity=finding.severity, message=f"{clause(finding.message)}.", action=finding.action
    )


def _eased(defects: Defects, profiled: bool) -> frozenset[RuleName]:
    """Rules that also speak of files of the good card weigh less, unless the profile says otherwise."""
    return frozenset() if profiled else defects.good_rules - BROKEN


def _as_differences(rest: Mapping[Key, Finding], defects: Defects, profiled: bool) -> Iterator[Difference]:
    for finding in rest.values():
        known = finding.path is not None and finding.rule in _eased(defects, profiled)
        tail = "; the good card has such files too, and plays." if known else "."
        yield Difference(
            subject=_subject(finding.rule),
            severity=EASED[finding.severity] if known else finding.severity,
            rule=finding.rule,
            good_path=defects.good_paths.get(finding.path or ""),
            bad_path=finding.path,
            good=_on_good(finding, defects),
            bad=finding.found,
            message=f"{clause(finding.message)}{tail}",
            action=finding.action,
            matters=True if profiled else None,
            variety=1.0 if known else 0.0,
        )


def _on_good(finding: Finding, defects: Defects) -> str:
    """Only where the rule was asked it can be said that it found nothing."""
    path = defects.good_paths.get(finding.path or "")
    unseen = {(finding.rule, None), (finding.rule, path)} & defects.good_unseen
    unlisted = not defects.good_listed and not finding.rule.startswith("card-")
    return NOT_LOOKED_AT if unseen or unlisted else NOTHING_FOUND


def _subject(rule: RuleName) -> Subject:
    return FILE_SUBJECTS.get(rule) or SUBJECTS.get(rule.partition("-")[0], "item")


def unchecked(
    reports: tuple[Report, Report], surveys: tuple[Surveyed, Surveyed], pairing: Pairing
) -> tuple[NotCompared, ...]:
    """What should have been checked on either card and was not: there, no difference would have been seen.

    What follows from files that could not be listed or read is one gap, and not one for each rule.
    """
    to_good = {pair.bad.entry.path: pair.good.entry.path for pair in pairing.pairs}
    to_bad = {good_path: bad_path for bad_path, good_path in to_good.items()}
    found: list[NotCompared] = []
    for side, report, surveyed in zip(("good", "bad"), reports, surveys, strict=True):
        unread = {file.entry.path for file in surveyed.files if isinstance(file.facts, Unreadable)}
        for gap in report.not_checked:
            if gap.expected or (surveyed.card.unlisted and not gap.rule.startswith("card-")):
                continue
            what, reason = WHAT, f"on the {side} card: {clause(gap.reason)}"
            if gap.path in unread:
                what, reason = "what the file holds", f"it could not be read on the {side} card"
            other = (to_bad if side == "good" else to_good).get(gap.path or "")
            paths = (gap.path, other) if side == "good" else (other, gap.path)
            found.append(NotCompared(what, reason, False, *paths))
    return tuple(dict.fromkeys(found))
