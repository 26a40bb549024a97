"""The verdict in one line, for somebody who stands in front of a dark screen.

It must not promise more than the report holds: where parts of a report differ, the worst of them counts.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from mediacheck.names import VerdictWord
from mediacheck.report.model import PlayItem, Report
from mediacheck.report.words import counted, length_words

NOTHING = "NOTHING TO PLAY"
BAD = "WILL NOT PLAY RIGHT"
UNSURE = "NOT SURE"
GOOD = "WILL PLAY"
GOOD_SO_FAR = "WILL PLAY, as far as was checked"


@dataclass(frozen=True, slots=True)
class VerdictLine:
    """The verdict as it is told. `tone` is for colour alone; the words say the same."""

    headline: str
    rest: str
    tone: VerdictWord

    def __str__(self) -> str:
        return f"{self.headline}: {self.rest}"


@dataclass(frozen=True, slots=True)
class _Tally:
    """What the line is made from."""

    items: int
    failing_items: int
    failures_elsewhere: int
    unsure_items: int
    gaps_elsewhere: int
    gaps: int
    warnings: int
    notes: int


def verdict_line(report: Report) -> VerdictLine:
    """The line that stands first on every face."""
    tally = _tally(report)
    failing = report.verdict == "fail" or tally.failing_items > 0 or tally.failures_elsewhere > 0
    if is_unlisted(report):
        return _unlisted(tally, failing)
    if not tally.items:
        return VerdictLine(NOTHING, f"no item was found where the player looks.{_gaps(tally)}", "fail")
    if failing:
        return VerdictLine(BAD, _what_fails(tally) + _gaps(tally), "fail")
    if report.verdict == "incomplete" or tally.gaps:
        return VerdictLine(UNSURE, _what_is_unsure(tally), "incomplete")
    if not report.checks.passed and not report.checks.failed:
        return VerdictLine(UNSURE, "no check was made at all.", "incomplete")
    return _good(report, tally)


def is_unlisted(report: Report) -> bool:
    """Whether nothing is known of the card's files: then none are there, and not by a lack of files."""
    return not report.files and any(not gap.expected for gap in report.not_checked)


def _unlisted(tally: _Tally, failing: bool) -> VerdictLine:
    if failing:
        return VerdictLine(NOTHING, f"no file of this card could be listed.{_gaps(tally)}", "fail")
    return VerdictLine(UNSURE, f"no file of this card could be listed.{_gaps(tally)}", "incomplete")


def _good(report: Report, tally: _Tally) -> VerdictLine:
    headline = GOOD_SO_FAR if report.not_checked or report.checks.not_checked else GOOD
    rest = f"{counted(tally.items, 'item')}, {round_words(report.items)}; {_remarks(tally)}."
    return VerdictLine(headline, rest, "warn" if tally.warnings else "pass")


def _tally(report: Report) -> _Tally:
    failing = {item.path for item in report.items if item.skipped}
    items = {item.path for item in report.items}
    gaps = [gap for gap in report.not_checked if not gap.expected]
    severities = Counter(finding.severity for finding in report.findings)
    return _Tally(
        items=len(report.items),
        failing_items=sum(item.skipped for item in report.items),
        failures_elsewhere=sum(f.severity == "fail" and f.path not in failing for f in report.findings),
        unsure_items=len({gap.path for gap in gaps} & items),
        gaps_elsewhere=sum(gap.path not in items for gap in gaps),
        gaps=len(gaps),
        warnings=severities["warn"],
        notes=severities["note"],
    )


def playing_seconds(items: tuple[PlayItem, ...]) -> Fraction | None:
    """How long one round of the items that play right lasts; None where a length is not known."""
    lengths = [item.seconds for item in items if not item.skipped]
    known = [length for length in lengths if length is not None]
    return sum(known, Fraction(0)) if len(known) == len(lengths) else None


def round_words(items: tuple[PlayItem, ...]) -> str:
    """How long one round lasts: "1 min 32 s a round"."""
    seconds = playing_seconds(items)
    return "length of a round not known" if seconds is None else f"{length_words(seconds)} a round"


def _of_items(some: int, items: int) -> str:
    """ "3 of 5 items", "all 5 items", "both items", "the only item"."""
    if some < items:
        return f"{some:,} of {items:,} items"
    return {1: "the only item", 2: "both items"}.get(items, f"all {items:,} items")


def _what_fails(tally: _Tally) -> str:
    elsewhere = tally.failures_elsewhere
    if not tally.failing_items:
        if not elsewhere:
            return "this card is not as the player needs it."
        return f"{counted(elsewhere, 'problem')} with the card."
    items = f"{_of_items(tally.failing_items, tally.items)} will be skipped or shown wrong"
    more = f"; {counted(elsewhere, 'more problem')} with the card" if elsewhere else ""
    return f"{items}{more}."


def _what_is_unsure(tally: _Tally) -> str:
    elsewhere = counted(tally.gaps_elsewhere, "check")
    if tally.unsure_items:
        which = f"{_of_items(tally.unsure_items, tally.items)} could not be checked to the end"
        what = f"{which}, and {elsewhere} of the rest could not be made" if tally.gaps_elsewhere else which
    elif tally.gaps_elsewhere:
        what = f"{elsewhere} could not be made"
    else:
        what = "not everything could be checked"
    return f"{what}; {_remarks(tally, among='in what was checked')}."


def _remarks(tally: _Tally, among: str = "") -> str:
    """The findings that do not fail, counted, or that there are none."""
    parts = []
    if tally.warnings:
        parts.append(counted(tally.warnings, "warning"))
    if tally.notes:
        parts.append(counted(tally.notes, "note"))
    said = " and ".join(parts) or "nothing wrong was found"
    return f"{said} {among}".strip()


def _gaps(tally: _Tally) -> str:
    return f" {counted(tally.gaps, 'check')} could not be made." if tally.gaps else ""
