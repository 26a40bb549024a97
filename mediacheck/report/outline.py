"""What the terminal and the page both say, in order, worded and cut to a length that can be read.

It must not draw: colours, widths and tags belong to the faces. Every text in it is safe to show.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from mediacheck.names import WORST_FIRST, Severity
from mediacheck.report.model import Finding, PlayItem, Report, Unchecked
from mediacheck.report.verdict import VerdictLine, is_unlisted, round_words, verdict_line
from mediacheck.report.words import (
    DEPTH_WORDS,
    KIND_WORDS,
    SEVERITY_WORDS,
    clock,
    counted,
    facts_words,
    length_words,
    listed,
    moment_words,
    safe,
    volume_words,
)

ALL_IN_JSON = "the JSON report (option --json) lists them all"


@dataclass(frozen=True, slots=True)
class Limits:
    """How much a face shows before it says "and N more"."""

    rows: int
    groups: int
    paths: int
    gaps: int = 20
    rules: int = 6


@dataclass(frozen=True, slots=True)
class Row:
    """One item of the loop. `number` counts from 1 in play order, failing items too."""

    number: int
    path: str
    starts: str
    lasts: str
    fails: bool
    facts: str


@dataclass(frozen=True, slots=True)
class Group:
    """Findings that say the same of one or more files. `more` tells what is left out after it."""

    severity: Severity
    severity_words: str
    rule: str
    paths: tuple[str, ...]
    more_paths: int
    message: str
    action: str
    found: str
    wanted: str
    source: str
    more: str


@dataclass(frozen=True, slots=True)
class Gap:
    """Checks that were not made for one and the same reason."""

    reason: str
    expected: bool
    checks: str
    rules: str
    where: str


@dataclass(frozen=True, slots=True)
class Outline:
    """The whole report, ready to be drawn. A text that has nothing to say is empty."""

    verdict: VerdictLine
    about: tuple[tuple[str, str], ...]
    rows: tuple[Row, ...]
    more_rows: str
    play_summary: str
    order_note: str
    groups: tuple[Group, ...]
    findings_summary: str
    gaps: tuple[Gap, ...]
    more_gaps: str
    no_gaps: str
    checks: str
    profile_note: str


def outline_of(report: Report, limits: Limits) -> Outline:
    """Word the report. Takes time and space in proportion to it, and gives a bounded answer."""
    rows, left = _rows(report, limits.rows), report.items[limits.rows :]
    gaps, more_gaps = _gaps(report.not_checked, limits)
    return Outline(
        verdict=verdict_line(report),
        about=tuple((name, safe(text)) for name, text in _about(report) if text),
        rows=rows,
        more_rows=_more_rows(left),
        play_summary=_play_summary(report),
        order_note=_order_note(report),
        groups=_groups(report.findings, limits),
        findings_summary=_findings_summary(report.findings),
        gaps=gaps,
        more_gaps=more_gaps,
        no_gaps=_no_gaps(report),
        checks=_checks_line(report),
        profile_note=(
            f"Checked against the profile {safe(report.profile.id)}. "
            "Where the player's data sheet says otherwise, the data sheet decides."
        ),
    )


def _about(report: Report) -> tuple[tuple[str, str], ...]:
    face = f", face {report.face}" if report.face else ""
    title = f" ({report.profile.title})" if report.profile.title else ""
    return (
        ("Card", f"{report.source} ({KIND_WORDS[report.kind]})"),
        ("File system", volume_words(report.volume)),
        ("Note", "; ".join(report.notes)),
        ("Display", f"{report.display}{face}" if report.display else (report.face or "")),
        ("Profile", f"{report.profile.id}{title}"),
        ("Depth", DEPTH_WORDS[report.depth]),
        ("Checked", f"{moment_words(report.checked_at)}, mediacheck {report.version}"),
    )


def _rows(report: Report, most: int) -> tuple[Row, ...]:
    """Items that fail take no time here: nobody knows how long the player dwells on them."""
    files = {file.entry.path: file for file in report.files}
    rows: list[Row] = []
    start: Fraction | None = Fraction(0)
    for number, item in enumerate(report.items[:most], 1):
        starts = "-" if item.skipped else clock(start)
        facts = safe(facts_words(files.get(item.path)))
        rows.append(Row(number, safe(item.path), starts, length_words(item.seconds), item.skipped, facts))
        if not item.skipped:
            start = None if start is None or item.seconds is None else start + item.seconds
    return tuple(rows)


def _more_rows(left: Sequence[PlayItem]) -> str:
    if not left:
        return ""
    failing = sum(item.skipped for item in left)
    said = f" ({failing:,} of them will not play right)" if failing else ""
    return f"and {counted(len(left), 'more item')}{said}; {ALL_IN_JSON}."


def _play_summary(report: Report) -> str:
    items = report.items
    if is_unlisted(report):
        return "Not known: no file of this card could be listed."
    if not items:
        return "Nothing: no item was found where the player looks."
    failing = sum(item.skipped for item in items)
    if failing == len(items):
        return "Nothing that is right. The items stand in this order:"
    if not failing:
        return f"{counted(len(items), 'item')}, {round_words(items)}, in this order:"
    return (
        f"{len(items) - failing:,} of {counted(len(items), 'item')}, {round_words(items)}, in this order. "
        "The times leave out what will not play right:"
    )


def _order_note(report: Report) -> str:
    if not report.items:
        return ""
    if not report.disk_order:
        return "This player plays by name."
    if report.order_known:
        return "This player plays in the order in which the files stand on the card, and so does this list."
    return (
        "This player plays in the order in which the files were put onto the card. "
        f"That order could not be read from this {KIND_WORDS[report.kind]}, so this list goes by name: "
        "on the screen the order may be another."
    )


def _findings_summary(findings: tuple[Finding, ...]) -> str:
    if not findings:
        return "Nothing wrong was found in what was checked."
    counts = Counter(finding.severity for finding in findings)
    nouns = {"fail": ("failure", "failures"), "warn": ("warning", "warnings"), "note": ("note", "notes")}
    parts = [counted(counts[severity], *nouns[severity]) for severity in WORST_FIRST if counts[severity]]
    return f"{', '.join(parts)}; the worst first:"


_Key = tuple[Severity, str, str, str, str, str, str]


def _key(finding: Finding) -> _Key:
    """Findings with equal keys are one group: they say the same, only of another file."""
    return (
        finding.severity,
        finding.rule,
        finding.message,
        finding.action,
        finding.found,
        finding.wanted,
        finding.source,
    )


def _groups(findings: tuple[Finding, ...], limits: Limits) -> tuple[Group, ...]:
    """All groups, or of each rule its first ones: no kind of finding is left out for another's sake."""
    bundles: dict[_Key, list[str | None]] = {}
    for finding in sorted(findings, key=lambda each: WORST_FIRST.index(each.severity)):
        bundles.setdefault(_key(finding), []).append(finding.path)
    kinds = Counter(key[:2] for key in bundles)
    share = len(bundles) if len(bundles) <= limits.groups else max(1, limits.groups // len(kinds))
    shown: Counter[tuple[Severity, str]] = Counter()
    hidden: Counter[tuple[Severity, str]] = Counter()
    kept: list[_Key] = []
    for key, paths in bundles.items():
        if shown[key[:2]] < share:
            shown[key[:2]] += 1
            kept.append(key)
        else:
            hidden[key[:2]] += len(paths)
    last = {key[:2]: key for key in kept}
    return tuple(
        _group(key, bundles[key], limits.paths, hidden[key[:2]] if last[key[:2]] == key else 0)
        for key in kept
    )


def _place(path: str | None) -> str:
    return "The card as a whole" if path is None else safe(path)


def _group(key: _Key, paths: Sequence[str | None], most: int, hidden: int) -> Group:
    severity, rule, *texts = key
    message, action, found, wanted, source = map(safe, texts)
    shown = tuple(map(_place, paths[:most]))
    more = f"and {counted(hidden, 'more finding')} of {rule}; {ALL_IN_JSON}." if hidden else ""
    return Group(
        severity,
        SEVERITY_WORDS[severity],
        rule,
        shown,
        len(paths) - len(shown),
        message,
        action,
        found,
        wanted,
        source,
        more,
    )


def _gaps(unchecked: tuple[Unchecked, ...], limits: Limits) -> tuple[tuple[Gap, ...], str]:
    """What was not checked, by reason, the unexpected first; and what to say of the reasons left out."""
    bundles: dict[tuple[bool, str], list[Unchecked]] = {}
    for gap in sorted(unchecked, key=lambda each: each.expected):
        bundles.setdefault((gap.expected, gap.reason), []).append(gap)
    left = len(bundles) - limits.gaps
    more = f"and {counted(left, 'more reason')}; {ALL_IN_JSON}." if left > 0 else ""
    shown = list(bundles.items())[: limits.gaps]
    return tuple(_gap(reason, expected, gaps, limits) for (expected, reason), gaps in shown), more


def _gap(reason: str, expected: bool, gaps: Sequence[Unchecked], limits: Limits) -> Gap:
    paths = tuple(dict.fromkeys(_place(gap.path) for gap in gaps))
    rules = tuple(dict.fromkeys(gap.rule for gap in gaps))
    return Gap(
        safe(reason[:1].upper() + reason[1:]),
        expected,
        counted(len(gaps), "check"),
        listed(rules, limits.rules),
        listed(paths, limits.paths),
    )


def _no_gaps(report: Report) -> str:
    if report.not_checked or report.checks.not_checked:
        return ""
    return "Every check that applies was made."


def _checks_line(report: Report) -> str:
    checks = report.checks
    return (
        f"{counted(checks.passed, 'check')} passed, {checks.failed:,} did not pass, "
        f"{checks.not_checked:,} not made; {checks.not_applicable:,} do not apply here."
    )
