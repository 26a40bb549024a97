"""Every enabled rule asked about everything that it applies to: one outcome each, none lost.

It must not read files or know what any rule looks for.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from mediacheck.card.model import Card
from mediacheck.loop import Loop
from mediacheck.manifest.expected import Expected, paired
from mediacheck.names import WORST_FIRST, Depth, RuleName, VerdictWord
from mediacheck.report.model import Counts, Finding, Unchecked
from mediacheck.rules.model import Answer, AnyRule, NotApplicable, NotChecked, One, Seen, Whole

if TYPE_CHECKING:
    from mediacheck.display_files import DisplayFace
    from mediacheck.profile import Profile

OutcomeWord = Literal["passed", "failed", "not_applicable", "not_checked"]
BY_DISPLAY: tuple[RuleName, ...] = ("loop-wrong-face", "loop-outdated")
"""Asked only where it is said which face the card is for."""
NEEDS_FULL = NotChecked("this needs every picture decoded (--depth full)", expected=True)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one rule answered about one thing; `path` is None for the card and the loop."""

    rule: AnyRule
    path: str | None
    answer: Answer

    @property
    def word(self) -> OutcomeWord:
        """Which of the four counts it belongs to."""
        if isinstance(self.answer, NotApplicable):
            return "not_applicable"
        if isinstance(self.answer, NotChecked):
            return "not_checked"
        return "failed" if self.answer else "passed"


@dataclass(frozen=True, slots=True)
class Judgement:
    """All outcomes, as the report carries them."""

    findings: tuple[Finding, ...]
    checks: Counts
    not_checked: tuple[Unchecked, ...]

    @property
    def verdict(self) -> VerdictWord:
        """The word of the verdict: what was wrong goes before what could not be checked."""
        severities = {finding.severity for finding in self.findings}
        if "fail" in severities:
            return "fail"
        if any(not item.expected for item in self.not_checked):
            return "incomplete"
        return "warn" if "warn" in severities else "pass"


def judge(
    rules: Sequence[AnyRule],
    card: Card,
    loop: Loop,
    profile: Profile,
    depth: Depth,
    expected: Expected | None = None,
    display: DisplayFace | None = None,
) -> Judgement:
    """Ask every rule that the profile leaves on.

    `expected` is what a manifest lists, and `display` the face that the card is for, if there is one.
    """
    enabled = [rule for rule in rules if profile.rules.get(rule.name) != "off"]
    whole = Whole(card, loop, profile, paired(expected, card) if expected else None, display)
    outcomes = [outcome for rule in enabled for outcome in _ask(rule, whole, depth)]
    counts = Counter(outcome.word for outcome in outcomes)
    return Judgement(
        _sorted([finding for outcome in outcomes for finding in _findings(outcome, profile)], loop),
        Counts(counts["passed"], counts["failed"], counts["not_applicable"], counts["not_checked"]),
        tuple(_unchecked(outcomes)),
    )


def _ask(rule: AnyRule, whole: Whole, depth: Depth) -> Iterator[Outcome]:
    for path, subject in _subjects(rule, whole):
        yield Outcome(rule, path, _unasked(rule, whole, depth) or _answer(rule, subject))


def _unasked(rule: AnyRule, whole: Whole, depth: Depth) -> NotChecked | None:
    """Why a rule cannot be asked at all; None where it can."""
    idle = (rule.name.startswith("manifest-") and whole.manifest is None) or (
        rule.name in BY_DISPLAY and whole.display is None
    )
    if whole.card.unlisted and not rule.name.startswith("card-") and not idle:
        return NotChecked(f"the card's files could not be listed: {whole.card.unlisted}", expected=False)
    return NEEDS_FULL if rule.depth == "full" and depth == "quick" else None


def _subjects(rule: AnyRule, whole: Whole) -> Iterator[tuple[str | None, Whole | One]]:
    if rule.scope in ("card", "loop"):
        yield None, whole
        return
    for file in whole.loop.files:
        if rule.scope in ("file", file.kind):
            yield file.entry.path, One(file, whole.profile, whole.manifest)


def _answer(rule: AnyRule, subject: Whole | One) -> Answer:
    """A rule that fails by a mistake of our own must never count as passed."""
    try:
        return rule.judge(subject)
    except Exception as error:
        reason = f"the check itself failed by a mistake of ours ({type(error).__name__}: {error})"
        return NotChecked(reason, expected=False)


def _findings(outcome: Outcome, profile: Profile) -> Iterator[Finding]:
    if isinstance(outcome.answer, NotApplicable | NotChecked):
        return
    for seen in outcome.answer:
        yield _finding(outcome.rule, seen, outcome.path, profile)


def _finding(rule: AnyRule, seen: Seen, path: str | None, profile: Profile) -> Finding:
    wanted = profile.rules.get(rule.name)
    severity = seen.severity or rule.severity
    return Finding(
        rule=rule.name,
        severity=severity if wanted is None or wanted == "off" else wanted,
        path=seen.path or path,
        found=seen.found,
        wanted=seen.wanted,
        message=seen.message,
        action=seen.action,
        fixable=seen.fixable,
        source=rule.source,
    )


def _sorted(findings: list[Finding], loop: Loop) -> tuple[Finding, ...]:
    """The worst first; of equal ones those about the whole card first, then in play order."""
    places = {file.entry.path: number for number, file in enumerate((*loop.items, *loop.files))}
    return tuple(
        sorted(findings, key=lambda f: (WORST_FIRST.index(f.severity), places.get(f.path or "", -1)))
    )


def _unchecked(outcomes: Sequence[Outcome]) -> Iterator[Unchecked]:
    for outcome in outcomes:
        if isinstance(outcome.answer, NotChecked):
            yield Unchecked(outcome.rule.name, outcome.path, outcome.answer.reason, outcome.answer.expected)
