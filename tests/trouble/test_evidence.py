"""What a report proves: a rule rules something out only where it was asked and had something to see."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mediacheck.loop import File
from mediacheck.names import RuleName
from mediacheck.profile import Profile
from mediacheck.report.model import ProfileName, Report
from mediacheck.rules.catalogue import RULES
from mediacheck.rules.model import NotApplicable, One, Whole
from mediacheck.trouble.evidence import Evidence, evidence_of
from tests.report.make import STILL, entry, finding, gap
from tests.rules.make import bare_profile, one, still_file, video_file, whole
from tests.rules.make import profile as full_profile
from tests.trouble.make import failing, profile, report

BASIC = profile()
RULED_OUT = Evidence("ruled out", "The check of the card looked for this and found nothing of it.")


def why(rule: RuleName, checked: Report, player: Profile | None = BASIC) -> str:
    """Why one rule proves nothing; empty where it does."""
    evidence = evidence_of((rule,), checked, player)
    return "" if evidence.state == "ruled out" else evidence.why


def test_without_a_report_nothing_is_known() -> None:
    assert evidence_of(("video-codec",), None, BASIC) == Evidence("unknown", "")


def test_without_rules_a_check_of_a_card_tells_nothing() -> None:
    assert evidence_of((), report(), BASIC) == Evidence("unknown", "A check of the card cannot tell this.")


def test_rules_that_passed_rule_out() -> None:
    assert evidence_of(("video-codec", "container-format"), report(), BASIC) == RULED_OUT


def test_one_finding_counts_whatever_the_other_rules_say() -> None:
    checked = replace(failing("video-codec"), not_checked=(gap("container-format", None, "why"),))
    evidence = evidence_of(("container-format", "video-codec"), checked, BASIC)
    assert evidence == Evidence("found", "The check of the card found this.", (finding("video-codec"),))


@pytest.mark.parametrize("expected", [True, False])
def test_what_the_report_says_was_not_checked_rules_nothing_out(expected: bool) -> None:
    unchecked = tuple(gap("video-codec", f"{name}.mp4", "It is locked.", expected) for name in "abc")
    assert why("video-codec", report(not_checked=unchecked)) == "It is locked (a.mp4, b.mp4 and 1 more)."


def test_several_reasons_are_counted() -> None:
    unchecked = (
        gap("video-codec", None, "one"),
        gap("video-codec", None, "two"),
        gap("video-gop", None, "no"),
    )
    assert why("video-codec", report(not_checked=unchecked)) == "one, and for 1 more reason."


def test_a_rule_that_is_off_rules_nothing_out() -> None:
    off = profile(rules={"picture-damaged": "off"})
    assert why("picture-damaged", report(), off) == "the profile has picture-damaged switched off."
    assert why("picture-damaged", report(), profile(rules={"picture-damaged": "note"})) == ""


def test_a_report_of_another_version_rules_nothing_out() -> None:
    said = why("file-empty", replace(report(), version="0.0.1"))
    assert said.startswith("the report was made by version 0.0.1, and this is ")


def test_without_the_profile_of_the_check_nothing_is_ruled_out() -> None:
    theirs = replace(report(), profile=ProfileName("theirs", "", "0" * 64))
    wanted = "the profile of that check is not at hand (theirs; give it with --profile)."
    assert why("file-empty", theirs, None) == wanted


def test_a_card_without_files_proves_nothing_of_files() -> None:
    empty = report(files=(), items=())
    assert why("video-codec", empty) == "no file of the card was looked at."
    assert why("card-damaged", empty) == ""


def test_a_card_that_plays_nothing_proves_nothing_of_its_loop() -> None:
    idle = report(items=())
    assert why("loop-seam", idle) == "the card holds no item that would be played."
    assert why("video-codec", idle) == ""


@pytest.mark.parametrize("rule", ["manifest-missing", "manifest-changed", "manifest-extra"])
def test_a_report_does_not_tell_whether_a_manifest_was_compared(rule: RuleName) -> None:
    assert why(rule, report()) == "the report does not say that the card was compared with its manifest."


@pytest.mark.parametrize("rule", ["loop-wrong-face", "loop-outdated"])
def test_rules_of_a_face_need_the_face(rule: RuleName) -> None:
    assert why(rule, report()) == (
        "the check was not told which face the card is for (--display and --face)."
    )
    assert why(rule, report(display="bee-aisle", face="aisle side")) == ""


def test_on_the_card_of_another_face_the_version_is_not_known() -> None:
    swapped = failing("loop-wrong-face", display="bee-aisle", face="aisle side")
    assert why("loop-outdated", swapped) == "the card carries the loop of another face."


def test_a_limit_for_stills_is_not_missed_where_there_are_none() -> None:
    still = File(entry("c.jpg", 2), "still", STILL)
    assert why("still-resolution", report()) == ""
    assert why("still-resolution", report(files=(*report().files, still))) == (
        "the profile has no limit to check this by (still-resolution)."
    )


VIDEO, STILL_FILE = video_file(), still_file()


def _applies(rule_name: str, player: Profile) -> bool:
    """Whether a rule has anything to say about a conforming video and still on a sound card."""
    rule = next(rule for rule in RULES if rule.name == rule_name)
    subjects: list[Whole | One] = [whole(VIDEO, STILL_FILE, profile=player)]
    if rule.scope not in ("card", "loop"):
        subjects = [one(VIDEO, player), one(STILL_FILE, player)]
        subjects = (
            subjects[:1] if rule.scope == "video" else subjects[1:] if rule.scope == "still" else subjects
        )
    return any(not isinstance(rule.judge(subject), NotApplicable) for subject in subjects)


def test_a_rule_that_has_nothing_to_compare_with_rules_nothing_out() -> None:
    """Held against the rules themselves: where only the profile's silence keeps a rule from being asked."""
    bare, full = bare_profile(), full_profile(audio={"loudness_lufs": -23}, loop={"black_seconds_max": 2})
    seen = report(files=(*report().files, File(entry("c.jpg", 2), "still", STILL)))
    idle = [rule.name for rule in RULES if _applies(rule.name, full) and not _applies(rule.name, bare)]
    assert {"video-codec", "card-file-system", "file-misplaced", "audio-loudness"} <= set(idle)
    assert [name for name in idle if not why(name, seen, bare)] == []


def test_rules_that_need_no_limit_are_proof_under_any_profile() -> None:
    rules: tuple[RuleName, ...] = ("file-empty", "container-truncated", "card-damaged", "picture-flash")
    assert [why(rule, report(), bare_profile()) for rule in rules] == [""] * 4
