"""The order of causes: laws that hold whatever is known, and what profile and report do to it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.names import RULE_NAMES, WORST_FIRST
from mediacheck.profile import Player, Profile, Screen, Setting
from mediacheck.profile_files import bundled_names
from mediacheck.report.model import ProfileName, Report, Unchecked
from mediacheck.trouble.book import symptom_named, symptoms
from mediacheck.trouble.model import Symptom
from mediacheck.trouble.ranking import found_in, ranked
from tests.report.make import finding, gap
from tests.report.strategies import findings, maybe, rules, several, words
from tests.report.strategies import reports as any_reports
from tests.trouble.make import failing, known, order, profile, report, usual

profiles = st.builds(
    lambda name, degrees, order, settings: profile(
        name,
        screen=Screen(width=1920, height=1080, turned_degrees=degrees, input="HDMI 1"),
        player=Player(order=order, settings=tuple(settings)),
    ),
    st.sampled_from(bundled_names()),
    st.sampled_from([0, 90, 180, 270]),
    st.sampled_from(["disk", "name"]),
    st.lists(
        st.builds(Setting, name=st.sampled_from(["Repeat", "Start", "Sleep", "Input", "Picture size"]),
                  value=st.text(max_size=5)),
        max_size=3,
    ),
)  # fmt: skip


reports = st.builds(
    lambda name, version, said, unchecked, holds, face: report(
        name,
        findings=said,
        not_checked=unchecked,
        **({} if holds else {"files": (), "items": ()}),
        **({"version": version} if version else {}),
        **({"display": "bee-aisle", "face": face} if face else {}),
    ),
    st.sampled_from(bundled_names()),
    st.sampled_from(["", "", "", "0.0.1"]),
    several(findings, 4),
    several(st.builds(Unchecked, rules, maybe(words), words, st.booleans()), 4),
    st.sampled_from([True, True, True, False]),
    st.sampled_from(["", "aisle side"]),
)
"""Of checks with a bundled profile: the ones that can strike a cause."""

each_symptom = st.sampled_from(symptoms())
each_profile = st.none() | profiles
each_report = st.none() | reports


@given(each_symptom, each_profile, each_report)
def test_every_cause_is_there_once_whatever_is_known(
    symptom: Symptom, player: Profile | None, checked: Report | None
) -> None:
    ranking = ranked(symptom, player, checked)
    assert ranking.symptom is symptom
    assert sorted(order(ranking)) == sorted(cause.id for cause in symptom.causes)


@settings(max_examples=25)
@given(each_symptom, any_reports)
def test_no_report_of_an_unknown_profile_strikes_anything(symptom: Symptom, checked: Report) -> None:
    ranking = ranked(symptom, None, checked)
    assert sorted(order(ranking)) == sorted(cause.id for cause in symptom.causes)
    assert ranking.in_state("ruled out") == ()


@given(each_symptom, each_profile, each_report)
def test_found_causes_stand_first_and_struck_ones_last(
    symptom: Symptom, player: Profile | None, checked: Report | None
) -> None:
    states = [each.state for each in ranked(symptom, player, checked).causes]
    weights = [{"found": 0, "ruled out": 2}.get(state, 1) for state in states]
    assert weights == sorted(weights)


@given(each_symptom, each_profile, each_report)
def test_a_cause_is_found_just_where_one_of_its_rules_failed(
    symptom: Symptom, player: Profile | None, checked: Report | None
) -> None:
    failed = {finding.rule for finding in checked.findings} if checked else set()
    for each in ranked(symptom, player, checked).causes:
        assert (each.state == "found") == (not failed.isdisjoint(each.cause.rules))
        assert {finding.rule for finding in each.findings} == failed.intersection(each.cause.rules)
        assert bool(each.why) == (checked is not None)


@given(each_symptom, each_profile, each_report)
def test_only_rules_that_were_checked_strike_a_cause(
    symptom: Symptom, player: Profile | None, checked: Report | None
) -> None:
    unchecked = {gap.rule for gap in checked.not_checked} if checked else set(RULE_NAMES)
    for each in ranked(symptom, player, checked).in_state("ruled out"):
        assert each.cause.rules
        assert unchecked.isdisjoint(each.cause.rules)


@given(each_symptom, each_profile, reports)
def test_what_cannot_be_on_a_card_is_never_struck_by_a_check_of_a_card(
    symptom: Symptom, player: Profile | None, checked: Report
) -> None:
    states = {each.cause.id: each.state for each in ranked(symptom, player, checked).causes}
    off_the_card = [cause.id for cause in symptom.causes if not cause.rules]
    assert [states[name] for name in off_the_card] == ["unknown"] * len(off_the_card)


@given(each_symptom, each_report)
def test_findings_stand_the_worst_first(symptom: Symptom, checked: Report | None) -> None:
    ranking = ranked(symptom, None, checked)
    worst = []
    for each in ranking.in_state("found"):
        severities = [WORST_FIRST.index(finding.severity) for finding in each.findings]
        assert severities == sorted(severities)
        worst.append(severities[0])
    assert worst == sorted(worst)


@given(each_symptom)
def test_without_profile_and_report_the_order_is_that_of_the_data(symptom: Symptom) -> None:
    ranking = ranked(symptom)
    assert order(ranking) == [cause.id for cause in symptom.causes]
    assert {each.state for each in ranking.causes} == {"unknown"}


@given(each_profile)
def test_no_profile_puts_anything_before_the_hazard_of_flashing(player: Profile | None) -> None:
    assert order(ranked(symptom_named("flashes"), player))[0] == "flashing-clip"


@given(each_symptom, profiles)
def test_a_profile_alone_strikes_and_finds_nothing(symptom: Symptom, player: Profile) -> None:
    assert {each.state for each in ranked(symptom, player).causes} == {"unknown"}


def test_a_sound_card_strikes_what_its_check_covers() -> None:
    ranking = ranked(symptom_named("unsupported-file"), None, report())
    assert [each.cause.id for each in ranking.in_state("ruled out")] == usual("unsupported-file")
    assert {each.why for each in ranking.causes} == {
        "The check of the card looked for this and found nothing of it."
    }


def test_a_finding_brings_its_cause_to_the_front_with_its_own_words() -> None:
    ranking = ranked(symptom_named("unsupported-file"), None, failing("container-encrypted"))
    assert order(ranking)[0] == "locked-file"
    assert known(ranking, "locked-file").findings == (finding("container-encrypted"),)


def test_a_failure_comes_before_a_warning() -> None:
    warned = (finding("container-index", "warn"), finding("readers-disagree", "fail"))
    ranking = ranked(symptom_named("unsupported-file"), None, report(findings=warned))
    assert order(ranking)[:2] == ["two-answers", "streaming-file"]


def test_a_rule_that_was_not_checked_for_one_file_strikes_nothing_and_says_where() -> None:
    unread = gap("video-bit-rate-peak", "b.mp4", "the packets could not be listed", expected=False)
    ranking = ranked(symptom_named("stutter"), None, report(not_checked=(unread,)))
    told = known(ranking, "too-much-data")
    assert (told.state, told.why) == ("not checked", "the packets could not be listed (b.mp4).")
    assert known(ranking, "uneven-rate").state == "ruled out"


@pytest.mark.parametrize(
    ("name", "first"),
    [
        ("basic-1080p", "cards-swapped"),
        ("portrait-1080p", "not-turned"),
    ],
)
def test_a_turned_screen_changes_what_lies_on_its_side(name: str, first: str) -> None:
    ranking = ranked(symptom_named("sideways"), profile(name))
    assert order(ranking)[0] == first
    said = {"basic-1080p": "is not turned", "portrait-1080p": "turned by 90 degrees clockwise"}[name]
    assert said in known(ranking, "not-turned").points[0]


@pytest.mark.parametrize(
    ("name", "first", "last"),
    [
        ("basic-1080p", "order-of-copying", "order-of-names"),
        ("photo-frame-1024x600", "order-of-names", "order-of-copying"),
    ],
)
def test_the_order_of_play_decides_which_order_is_suspected(name: str, first: str, last: str) -> None:
    ranked_ids = order(ranked(symptom_named("wrong-order"), profile(name)))
    assert (ranked_ids[0], ranked_ids[-1]) == (first, last)


def test_a_setting_that_the_profile_names_moves_its_cause_to_the_front_with_value_and_reason() -> None:
    sleeps = Setting(name="Auto off", value="never", why="Otherwise the screen goes dark at noon.")
    player = profile(player=Player(settings=(sleeps,)))
    symptom = symptom_named("player-menu")
    assert order(ranked(symptom, profile()))[0] == "start-setting"
    assert order(ranked(symptom, player)) == usual("player-menu")
    dark = ranked(symptom_named("goes-dark"), player)
    assert known(dark, "screen-sleeps").settings == (sleeps,)
    assert known(dark, "repeat-off").settings == ()


def test_words_of_a_setting_are_whole_words() -> None:
    other = Setting(name="Unrepeatable autostarts", value="1")
    player = profile(player=Player(settings=(other,)))
    causes = [each for symptom in symptoms() for each in ranked(symptom, player).causes]
    assert [each.cause.id for each in causes if each.settings] == []


def test_the_input_of_the_profile_is_told() -> None:
    player = profile(screen=Screen(input="HDMI 2"))
    told = known(ranked(symptom_named("no-signal"), player), "screen-input")
    assert told.points == ("The player is plugged into HDMI 2.",)


def test_a_profile_that_the_check_did_not_go_by_sharpens_but_lends_no_proof() -> None:
    mine = profile(id="mine", screen=Screen(turned_degrees=90))
    checked = replace(report(), profile=ProfileName("theirs", "", "0" * 64))
    ranking = ranked(symptom_named("sideways"), mine, checked)
    assert order(ranking)[0] == "not-turned"
    assert known(ranking, "turning-mark").state == "not checked"


def test_symptoms_with_a_found_cause_are_known() -> None:
    assert found_in(None) == frozenset()
    assert found_in(report()) == frozenset()
    assert found_in(failing("picture-flash")) == {"flashes"}
    assert found_in(failing("audio-peak", "video-colour")) == {"bad-sound", "wrong-colours"}
