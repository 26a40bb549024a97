"""The law of outcomes: one for each enabled rule and each thing that it applies to, none lost."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.judge import Judgement, judge
from mediacheck.loop import loop_of
from mediacheck.names import Depth, Severity
from mediacheck.profile import Profile
from mediacheck.report.model import Counts
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, Answer, AnyRule, NotChecked, One, Rule, Seen
from tests.rules import make

DEFECT = Seen("a", "b", "It is so.", "Do so.")


def rule_that(
    answers: Callable[[One], Answer], *, severity: Severity = "fail", depth: Depth = "quick"
) -> AnyRule:
    """A rule under the name of a real one."""
    return Rule("file-empty", severity, depth, "file", "meaning", "source", answers)


def judged(
    rule: AnyRule, *, count: int = 3, profile: Profile | None = None, depth: Depth = "full"
) -> Judgement:
    """Judge `count` good clips by one rule."""
    chosen = profile or make.profile()
    files = [make.video_file(path=f"{number}.mp4") for number in range(count)]
    card = make.card(entries=tuple(file.entry for file in files))
    return judge([rule], card, loop_of(files, chosen, True), chosen, depth)


def test_a_rule_that_crashes_is_not_checked_and_never_passed() -> None:
    def crash(one: One) -> Answer:
        raise ZeroDivisionError("by hand")

    result = judged(rule_that(crash))
    assert result.checks == Counts(0, 0, 0, 3)
    assert result.verdict == "incomplete"
    assert result.not_checked[0].reason.endswith("(ZeroDivisionError: by hand)")
    assert result.not_checked[0].expected is False


def test_a_full_rule_at_quick_depth_is_not_checked_and_says_so() -> None:
    result = judged(rule_that(lambda one: PASSED, depth="full"), depth="quick")
    assert (result.checks, result.verdict) == (Counts(0, 0, 0, 3), "pass")
    assert {item.expected for item in result.not_checked} == {True}


@pytest.mark.parametrize(
    ("setting", "severity", "verdict"),
    [(None, "fail", "fail"), ("note", "note", "pass"), ("warn", "warn", "warn"), ("fail", "fail", "fail")],
)
def test_the_profile_sets_the_severity(setting: str | None, severity: str, verdict: str) -> None:
    profile = make.profile(rules={"file-empty": setting} if setting else {})
    result = judged(rule_that(lambda one: (DEFECT,)), profile=profile)
    assert [finding.severity for finding in result.findings] == [severity] * 3
    assert result.verdict == verdict


def test_a_rule_that_is_off_has_no_outcome() -> None:
    result = judged(rule_that(lambda one: (DEFECT,)), profile=make.profile(rules={"file-empty": "off"}))
    assert (result.checks, result.findings, result.verdict) == (Counts(0, 0, 0, 0), (), "pass")


ANSWERS = st.sampled_from(
    [PASSED, (DEFECT,), (DEFECT, DEFECT), NOT_APPLICABLE, NotChecked("why", True), NotChecked("why", False)]
)


@given(st.lists(ANSWERS, max_size=12))
def test_outcomes_balance(answers: list[Answer]) -> None:
    left = iter(answers)
    result = judged(rule_that(lambda one: next(left)), count=len(answers))
    checks = result.checks
    assert checks.passed + checks.failed + checks.not_applicable + checks.not_checked == len(answers)
    assert checks.passed == answers.count(PASSED)
    assert len(result.not_checked) == checks.not_checked
    assert len(result.findings) == sum(len(answer) for answer in answers if isinstance(answer, tuple))


def test_the_worst_findings_come_first_and_then_those_of_the_first_item() -> None:
    def by_name(one: One) -> Answer:
        grave: Severity = "fail" if one.file.entry.path == "2.mp4" else "warn"
        return (Seen("a", "b", "It is so.", "Do so.", severity=grave),)

    result = judged(rule_that(by_name))
    assert [(f.severity, f.path) for f in result.findings] == [
        ("fail", "2.mp4"),
        ("warn", "0.mp4"),
        ("warn", "1.mp4"),
    ]
