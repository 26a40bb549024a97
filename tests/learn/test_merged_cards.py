"""The law of widening: a profile learned from one card and widened by another takes both."""

from __future__ import annotations

from hypothesis import assume, given, settings

from mediacheck.check import judged
from mediacheck.learn.derive import learned
from mediacheck.learn.document import document
from mediacheck.learn.merge import merged
from mediacheck.learn.model import Taught
from mediacheck.learn.refusal import refusals
from mediacheck.profile_files import LoadedProfile
from tests.learn.cards import cards, taught
from tests.learn.test_document import profile_of
from tests.rules import make


@settings(max_examples=40, deadline=None)
@given(cards(name="a"), cards(name="b"))
def test_both_cards_pass_the_widened_profile(first: Taught, second: Taught) -> None:
    assume(not refusals((first, second), "quick"))
    before = document(learned((first,), "quick"), "x", "")
    now = merged(before, learned((second,), "quick"))
    loaded = LoadedProfile(profile_of(now.text), "", "")
    for card in (first, second):
        report = judged(card.surveyed, loaded, "quick")
        assert report.verdict == "pass", (report.findings, report.not_checked)
    assert now.kept == ()
    assert merged(now.text, learned((second,), "quick")).text == now.text


def test_what_a_card_does_not_keep_is_told_also_where_no_limit_was_learned_before() -> None:
    upright, turned = (
        taught(name, make.still_file("a.jpg", still=make.still_facts(orientation=number)), volume=None)
        for name, number in (("a", 1), ("b", 6))
    )
    before = document(learned((upright,), "quick"), "x", "")
    assert "# learned " not in before.partition("id:")[2]
    now = merged(before, learned((turned,), "quick"))
    assert profile_of(now.text).rules == {"still-orientation": "note"}
    assert now.kept == ()
