"""The manifest rules: each defect is found by its own rule, the clean twin and the neighbours are silent."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mediacheck.card.model import Card
from mediacheck.judge import Judgement, judge
from mediacheck.loop import File, loop_of
from mediacheck.manifest.expected import Expected, ExpectedFile
from mediacheck.report.model import Finding, Unchecked
from mediacheck.rules import manifest
from mediacheck.rules.catalogue import RULES
from tests.manifest.make import sha256
from tests.rules import make
from tests.rules.judge import assert_sentence

RIGHT, OTHER = sha256(b"roses"), sha256(b"tulips")
SIZE = 10_000_000
MANIFEST_RULES = (manifest.manifest_missing, manifest.manifest_changed, manifest.manifest_extra)


def clip(path: str = "a.mp4", sha: str | None = RIGHT, **changes: object) -> File:
    return make.video_file(path, sha256=sha, **changes)  # type: ignore[arg-type]  # of the file and its entry


def expected(*paths: str, size_bytes: int | None = SIZE) -> Expected:
    return Expected(tuple(ExpectedFile(path, RIGHT, size_bytes) for path in paths), ())


def judged(
    files: list[File], wanted: Expected | None, card: Card | None = None, *, every: bool = False
) -> Judgement:
    there = card or make.card(*files)
    limits = make.bare_profile()
    rules = RULES if every else MANIFEST_RULES
    return judge(rules, there, loop_of(make.placed(files), limits, True), limits, "quick", wanted)


def failed(result: Judgement) -> list[tuple[str, str | None, str, str]]:
    """Rule, file, what was found and wanted; the sentences are checked on the way."""
    for finding in result.findings:
        assert finding.severity == "fail"
        assert not finding.fixable
        assert_sentence(finding.message)
        assert_sentence(finding.action)
        assert "player" in finding.message
    return [(each.rule, each.path, each.found, each.wanted) for each in result.findings]


def of_rules(result: Judgement) -> list[Finding]:
    """Findings that fail, of every rule of the catalogue."""
    return [finding for finding in result.findings if finding.severity == "fail"]


def test_a_card_that_is_as_its_manifest_says_passes_every_rule() -> None:
    result = judged([clip("a.mp4"), clip("b.mp4")], expected("a.mp4", "b.mp4"))
    assert result.findings == ()
    assert (result.checks.passed, result.checks.not_applicable) == (5, 0)


def test_without_a_manifest_no_rule_applies() -> None:
    result = judged([clip()], None)
    assert (result.findings, result.not_checked, result.checks.not_applicable) == ((), (), 3)


def test_without_a_manifest_no_rule_applies_to_a_card_that_cannot_be_listed_either() -> None:
    card = make.card(unlisted="it is not formatted")
    result = judged([], None, card)
    assert (result.not_checked, result.checks.not_applicable) == ((), 1)


def test_a_card_that_cannot_be_listed_is_not_held_against_its_manifest() -> None:
    card = make.card(unlisted="it is not formatted")
    result = judged([], expected("a.mp4"), card)
    reason = "the card's files could not be listed: it is not formatted"
    assert result.findings == ()
    assert result.not_checked == (Unchecked("manifest-missing", None, reason, expected=False),)


def test_each_missing_file_is_found() -> None:
    result = judged([clip("a.mp4")], expected("a.mp4", "b.mp4", "Spring/c.mp4"))
    assert failed(result) == [
        ("manifest-missing", "b.mp4", "no such file", "b.mp4"),
        ("manifest-missing", "Spring/c.mp4", "no such file", "Spring/c.mp4"),
    ]
    assert result.findings[0].message == (
        '"b.mp4" belongs on the card by its manifest and is not there: the player cannot show it, or does '
        "without it."
    )


def test_the_card_of_another_face_is_told_once_and_nothing_of_it_is_to_be_deleted() -> None:
    result = judged([clip("c.mp4", size_bytes=5), clip("b.mp4", size_bytes=7)], expected("a.mp4", "b.mp4"))
    assert failed(result) == [
        ("manifest-missing", None, "a card with other files", "a.mp4"),
        ("manifest-extra", "c.mp4", "a file that is not listed", "the files of the manifest"),
        ("manifest-changed", "b.mp4", "7 bytes", "10,000,000 bytes"),
    ]
    assert result.findings[0].message.startswith(
        "None of what is to play by this manifest is on the card, and the player would show something else: "
    )
    assert {finding.action for finding in result.findings} == {manifest.LOOK_FOR}


def test_a_card_of_the_same_names_is_another_card_too() -> None:
    result = judged([clip("a.mp4", size_bytes=5), clip("b.mp4", size_bytes=7)], expected("a.mp4", "b.mp4"))
    assert failed(result)[0] == (
        "manifest-missing",
        None,
        "a card with other files",
        "the files of the manifest",
    )


def test_a_file_of_another_size_is_changed() -> None:
    result = judged([clip(size_bytes=SIZE - 1, sha=OTHER)], expected("a.mp4"))
    assert failed(result) == [("manifest-changed", "a.mp4", "9,999,999 bytes", "10,000,000 bytes")]
    assert "has 9,999,999 bytes, and the one that belongs" in result.findings[0].message


def test_a_file_of_another_size_is_changed_though_it_was_not_hashed() -> None:
    result = judged([clip(size_bytes=SIZE // 2, sha=None)], expected("a.mp4"))
    assert failed(result) == [("manifest-changed", "a.mp4", "5,000,000 bytes", "10,000,000 bytes")]


def test_a_file_of_other_contents_is_changed() -> None:
    assert failed(judged([clip(sha=OTHER)], expected("a.mp4"))) == [
        ("manifest-changed", "a.mp4", OTHER, RIGHT)
    ]


def test_a_plain_list_of_checksums_knows_no_sizes() -> None:
    assert judged([clip()], expected("a.mp4", size_bytes=None)).findings == ()
    result = judged([clip(size_bytes=5, sha=OTHER)], expected("a.mp4", size_bytes=None))
    assert failed(result) == [("manifest-changed", "a.mp4", OTHER, RIGHT)]


def test_a_file_that_was_not_hashed_is_not_checked() -> None:
    result = judged([clip(sha=None)], expected("a.mp4"))
    reason = "the file could not be read to its end, so it was not compared"
    assert result.findings == ()
    assert result.not_checked == (Unchecked("manifest-changed", "a.mp4", reason, expected=False),)
    assert result.verdict == "incomplete"


def test_a_left_over_that_is_listed_is_not_checked_as_expected() -> None:
    result = judged([make.junk_file(".DS_Store")], expected(".DS_Store"))
    reason = "what computers leave behind is not read, so it was not compared"
    assert result.not_checked == (Unchecked("manifest-changed", ".DS_Store", reason, expected=True),)


def test_what_is_no_file_any_more_is_not_called_changed() -> None:
    gone = clip(sha=None, size_bytes=0, unusable="a link to nothing")
    result = judged([gone], expected("a.mp4"))
    assert [gap.rule for gap in result.not_checked] == ["manifest-changed"]


def test_a_file_that_is_not_listed_is_extra() -> None:
    result = judged([clip("a.mp4"), clip("b.mp4"), make.other_file("c.txt")], expected("a.mp4"))
    listed = ("a file that is not listed", "the files of the manifest")
    assert failed(result) == [("manifest-extra", "b.mp4", *listed), ("manifest-extra", "c.txt", *listed)]


def test_what_computers_leave_is_for_another_rule() -> None:
    result = judged([clip(), make.junk_file("._a.mp4")], expected("a.mp4"), every=True)
    assert [(finding.rule, finding.path) for finding in of_rules(result)] == [("file-junk", "._a.mp4")]


def test_names_that_the_card_cannot_tell_apart_are_the_same() -> None:
    assert judged([clip("A.MP4")], expected("a.mp4")).findings == ()
    folder = make.plain_folder(clip("A.MP4"))
    assert [rule for rule, *_ in failed(judged([clip("A.MP4")], expected("a.mp4"), folder))] == [
        "manifest-missing",
        "manifest-extra",
    ]


@pytest.mark.parametrize(
    ("files", "wanted", "rule"),
    [
        ([clip()], expected("a.mp4", "b.mp4"), "manifest-missing"),
        ([clip(sha=OTHER)], expected("a.mp4"), "manifest-changed"),
        ([clip(size_bytes=5, sha=OTHER)], expected("a.mp4"), "manifest-changed"),
        ([clip(), clip("b.mp4", OTHER)], expected("a.mp4"), "manifest-extra"),
    ],
)
def test_a_defect_of_the_manifest_fails_no_other_rule(files: list[File], wanted: Expected, rule: str) -> None:
    result = judged(files, wanted, every=True)
    assert {finding.rule for finding in of_rules(result)} == {rule}


def test_a_profile_can_make_light_of_it() -> None:
    limits = make.bare_profile(rules={"manifest-extra": "note", "manifest-missing": "off"})
    files = make.placed([clip("b.mp4")])
    card = make.card(*files)
    result = judge(RULES, card, loop_of(files, limits, True), limits, "quick", expected("a.mp4"))
    found = [(each.rule, each.severity) for each in result.findings if each.rule.startswith("manifest-")]
    assert found == [("manifest-extra", "note")]


def test_order_of_files_does_not_matter() -> None:
    files = [clip("b.mp4"), clip("a.mp4", OTHER), clip("d.mp4")]
    wanted = expected("a.mp4", "b.mp4", "c.mp4")
    there = replace(make.card(*files), order_known=True)
    ways = (
        judged(files, wanted, there),
        judged(files[::-1], wanted, replace(there, entries=there.entries[::-1])),
    )
    assert len({frozenset(way.findings) for way in ways}) == 1
