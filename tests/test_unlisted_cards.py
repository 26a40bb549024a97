"""A card whose files could not be listed: what that costs is told, and nothing on it passes."""

from __future__ import annotations

import pytest

from mediacheck.card.model import Card, Volume
from mediacheck.judge import BY_DISPLAY, Judgement, judge
from mediacheck.loop import loop_of
from mediacheck.names import FileSystem
from mediacheck.profile import Profile
from mediacheck.rules.catalogue import RULES
from tests.rules import make

NTFS = "it is formatted as NTFS, and files are read here from FAT and exFAT only"
BLANK = "it is not formatted"


def judged(file_system: FileSystem | None, why: str, profile: Profile) -> Judgement:
    volume = Volume(file_system, "MBR", capacity_bytes=8_000_000_000, medium_bytes=8_000_000_000)
    card = Card("card.img", "image", (), volume=volume, unlisted=why, raw_reason=why)
    return judge(RULES, card, loop_of((), profile, True), profile, "full")


@pytest.mark.parametrize(
    ("file_system", "why", "found"), [("NTFS", NTFS, "NTFS"), (None, BLANK, "it is not formatted")]
)
def test_the_file_system_is_the_one_finding(file_system: FileSystem | None, why: str, found: str) -> None:
    result = judged(file_system, why, make.profile())
    assert [(one.rule, one.severity, one.found) for one in result.findings] == [
        ("card-file-system", "fail", found)
    ]
    assert result.verdict == "fail"


def test_without_a_restriction_ntfs_is_no_defect_and_the_verdict_is_incomplete() -> None:
    result = judged("NTFS", NTFS, make.bare_profile())
    assert (result.findings, result.verdict) == ((), "incomplete")


def test_no_rule_about_files_or_the_loop_passes_or_fails() -> None:
    result = judged(None, BLANK, make.profile())
    asked = {gap.rule for gap in result.not_checked if not gap.rule.startswith("card-")}
    whole = {rule.name for rule in RULES if rule.scope in ("card", "loop")}
    asked_only_with_more = {name for name in whole if name.startswith("manifest-")} | {*BY_DISPLAY}
    assert asked == {name for name in whole if not name.startswith("card-")} - asked_only_with_more
    reasons = {(gap.reason, gap.expected) for gap in result.not_checked if gap.rule in asked}
    assert reasons == {(f"the card's files could not be listed: {BLANK}", False)}


def test_a_card_without_any_file_system_fails_even_where_the_profile_restricts_none() -> None:
    result = judged(None, BLANK, make.bare_profile())
    assert [one.rule for one in result.findings] == ["card-file-system"]
    assert result.findings[0].message == (
        "There is nothing on the card that a player could read (it is not formatted), so the screen stays "
        "black."
    )
