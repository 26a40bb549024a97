"""The symptoms that come with the program: whole, in bounds, and held against rules, commands and page."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer.main

from mediacheck.cli.app import app
from mediacheck.names import RULE_NAMES
from mediacheck.rules.catalogue import RULES
from mediacheck.trouble.book import symptoms
from mediacheck.trouble.model import CAUSES_MAX, CAUSES_MIN, SENTENCE_MAX, TITLE_MAX, WHAT_MAX, Cause, Symptom
from mediacheck.trouble.page import trouble_page

ROOT = Path(__file__).parent.parent.parent
WANTED = {
    "no-power", "no-signal", "player-menu", "plays-once", "black-between", "wrong-loop", "stutter", "cut-off",
    "bars", "stretched", "sideways", "no-sound", "too-loud", "unsupported-file", "stops-later",
    "items-missing", "wrong-order", "flashes", "goes-dark", "blocks", "wrong-colours", "old-version",
}  # fmt: skip
"""What people in stores report; other programs and papers may name these."""


def causes() -> dict[str, Cause]:
    return {cause.id: cause for symptom in symptoms() for cause in symptom.causes}


def by_id(name: str) -> Symptom:
    return next(symptom for symptom in symptoms() if symptom.id == name)


def test_what_people_see_is_all_there_and_numbered_as_it_is_listed() -> None:
    assert WANTED - {symptom.id for symptom in symptoms()} == set()
    assert [symptom.number for symptom in symptoms()] == list(range(1, len(symptoms()) + 1))


def test_every_rule_of_the_catalogue_is_reached_from_a_symptom() -> None:
    reached = {rule for cause in causes().values() for rule in cause.rules}
    assert [rule.name for rule in RULES if rule.name not in reached] == []


def test_every_rule_that_a_cause_names_exists_and_is_named_once_by_it() -> None:
    for cause in causes().values():
        assert set(cause.rules) - set(RULE_NAMES) == set(), cause.id
        assert len(cause.rules) == len(set(cause.rules)), cause.id


def test_every_cause_says_what_to_do_and_how_to_tell_it_apart_in_other_words() -> None:
    for cause in causes().values():
        said = (cause.what, cause.tell_apart, cause.do)
        assert len(set(said)) == 3, cause.id
        assert min(map(len, said)) > 15, cause.id


def test_texts_and_numbers_of_causes_fit_a_page() -> None:
    for symptom in symptoms():
        assert CAUSES_MIN <= len(symptom.causes) <= CAUSES_MAX, symptom.id
        assert len(symptom.title) <= TITLE_MAX, symptom.id
        assert max(map(len, symptom.cautions), default=0) <= SENTENCE_MAX, symptom.id
    for cause in causes().values():
        assert len(cause.what) <= WHAT_MAX, cause.id
        assert max(len(cause.tell_apart), len(cause.do)) <= SENTENCE_MAX, cause.id


def test_titles_differ() -> None:
    titles = [symptom.title for symptom in symptoms()]
    assert len(titles) == len(set(titles))


def test_flashing_warns_before_anything_else_and_says_to_switch_off() -> None:
    symptom = by_id("flashes")
    assert symptom.cautions[0].startswith("Flashing pictures can set off seizures")
    assert "switch this screen off first" in symptom.cautions[0]
    assert symptom.causes[0].id == "flashing-clip"


def test_power_warns_of_fixed_wiring_and_of_chains() -> None:
    mains = next(caution for caution in by_id("no-power").cautions if "licensed electricians" in caution)
    assert "One plug goes from the display to the store's power drop, and nothing is chained." in mains


@pytest.mark.parametrize(
    ("words", "caution"),
    [
        (
            ("Exchange the screen", "exchange it", "Remount", "Turn the display"),
            "lifted and moved by two people",
        ),
        (("power drop", "power supply"), "licensed electricians"),
    ],
)
def test_whoever_lifts_or_handles_mains_power_is_told_of_the_danger(
    words: tuple[str, ...], caution: str
) -> None:
    dangerous = [
        (symptom, cause)
        for symptom in symptoms()
        for cause in symptom.causes
        if any(word in cause.do for word in words)
    ]
    assert dangerous
    for symptom, cause in dangerous:
        assert any(caution in told for told in symptom.cautions), (symptom.id, cause.id)


def _command_lines() -> Iterator[tuple[str, list[str]]]:
    for cause in causes().values():
        if cause.command:
            yield cause.id, shlex.split(cause.command)


def test_every_command_that_a_cause_names_takes_what_is_given_to_it() -> None:
    commands = getattr(typer.main.get_command(app), "commands")  # noqa: B009 (typer's type hides it)
    for cause, (program, command, *rest) in _command_lines():
        known = {name for option in commands[command].params for name in option.opts}
        given = {word for word in rest if word.startswith("-")}
        assert (program, given - known) == ("mediacheck", set()), cause
        taken = [word for word in rest if word.isupper()]
        assert taken, cause


def test_a_cause_with_rules_names_the_depth_at_which_they_are_asked() -> None:
    """A rule that needs every picture decoded is only asked at full depth, which is also the default."""
    full = {rule.name for rule in RULES if rule.depth == "full"}
    for cause in causes().values():
        if "quick" in cause.command:
            assert full.isdisjoint(cause.rules), cause.id


def test_the_page_is_the_data() -> None:
    assert (ROOT / "docs" / "trouble.md").read_text("utf-8") == trouble_page()


def test_every_link_of_the_page_leads_to_a_heading() -> None:
    page = trouble_page()
    for cause in causes():
        assert f"](#{cause})" in page
        assert f"\n### {cause}\n" in page
    rules_page = (ROOT / "docs" / "rules.md").read_text("utf-8")
    for rule in {rule for cause in causes().values() for rule in cause.rules}:
        assert f"\n### {rule}\n" in rules_page, rule
