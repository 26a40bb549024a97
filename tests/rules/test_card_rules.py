"""Rules about the card itself: each sees its own defect, and says so when it could not look."""

from __future__ import annotations

from typing import Any, get_args

import pytest

from mediacheck.card.model import Damage
from mediacheck.names import FileSystem, PartitionTable
from mediacheck.rules import card as room
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, AnyRule, NotChecked, Whole
from tests.rules import make
from tests.rules.judge import assert_sentence, defects, in_brief, only, rules_in

RESTRICTED: dict[AnyRule, tuple[str, Any, str]] = {
    room.card_file_system: ("file_systems", ["FAT32"], "file_system"),
    room.card_partition_table: ("partition_tables", ["MBR"], "partition_table"),
    room.card_capacity: ("capacity_max_gb", 32, "capacity_bytes"),
    room.card_cluster_size: ("cluster_bytes_max", 32_768, "cluster_bytes"),
    room.card_full: ("free_percent_min", 5, "free_bytes"),
    room.card_label: ("label_pattern", "[A-Z_]+", "label"),
}
UNRESTRICTED: dict[AnyRule, str] = {room.card_dirty: "dirty", room.card_size_mismatch: "claimed_bytes"}


def _with_volume(profile: Any = None, **changes: Any) -> Whole:
    clip = make.video_file()
    return make.whole(clip, card=make.card(clip, volume=make.volume(**changes)), profile=profile)


def _in_folder(**sections: Any) -> Whole:
    clip = make.video_file()
    return make.whole(clip, card=make.plain_folder(clip), profile=make.bare_profile(**sections))


DEFECTS: list[tuple[AnyRule, dict[str, Any], str, str]] = [
    (room.card_file_system, {"file_system": "NTFS"}, "NTFS", "FAT32"),
    (room.card_file_system, {"file_system": "exFAT"}, "exFAT", "FAT32"),
    (room.card_partition_table, {"partition_table": "GPT"}, "GPT", "MBR"),
    (room.card_partition_table, {"partition_table": "none"}, "no partition table", "MBR"),
    (
        room.card_capacity,
        {"capacity_bytes": 63_900_000_000, "medium_bytes": None, "free_bytes": 60_000_000_000},
        "63,900,000,000 bytes",
        "at most 32 GB",
    ),
    (
        room.card_capacity,
        {"medium_bytes": 32_000_000_001},
        "32,000,000,001 bytes",
        "at most 32 GB",
    ),
    (room.card_cluster_size, {"cluster_bytes": 65_536}, "65,536 bytes", "at most 32,768 bytes"),
    (room.card_dirty, {"dirty": True}, "marked as not finished", "marked as finished"),
    (
        room.card_size_mismatch,
        {"claimed_bytes": 64_000_000_000},
        "claims 64,000,000,000 bytes",
        "at most 16,004,194,304 bytes",
    ),
    (
        room.card_size_mismatch,
        {"claimed_bytes": 16_004_194_305},
        "claims 16,004,194,305 bytes",
        "at most 16,004,194,304 bytes",
    ),
    (room.card_full, {"free_bytes": 799_999_999}, "4.9 % free", "at least 5 % free"),
    (room.card_full, {"free_bytes": 0}, "0 % free", "at least 5 % free"),
    (room.card_label, {"label": "rose left"}, "rose left", "a label that matches [A-Z0-9_]{1,11}"),
    (room.card_label, {"label": ""}, "no label", "a label that matches [A-Z0-9_]{1,11}"),
]


@pytest.mark.parametrize(("rule", "changes", "found", "wanted"), DEFECTS)
def test_each_defect_is_seen_by_its_own_rule_alone(
    rule: AnyRule, changes: dict[str, Any], found: str, wanted: str
) -> None:
    whole = _with_volume(**changes)
    assert in_brief(rule.judge(whole)) == (found, wanted, None, False, None)
    assert defects(whole) == {(rule.name, None)}


def test_a_sound_card_passes_every_rule() -> None:
    whole = _with_volume()
    assert {rule.name: rule.judge(whole) for rule in rules_in(room)} == {
        rule.name: PASSED for rule in rules_in(room)
    }


@pytest.mark.parametrize(
    ("rule", "changes"),
    [
        (room.card_capacity, {"medium_bytes": 32_000_000_000}),
        (room.card_cluster_size, {"cluster_bytes": 32_768}),
        (room.card_size_mismatch, {"claimed_bytes": 16_004_194_304}),
        (room.card_size_mismatch, {"claimed_bytes": 8_000_000_000}),
        (room.card_full, {"free_bytes": 800_000_000}),
        (room.card_label, {"label": "FERN_RIGHT1"}),
    ],
)
def test_what_just_fits_passes(rule: AnyRule, changes: dict[str, Any]) -> None:
    assert rule.judge(_with_volume(**changes)) == PASSED


@pytest.mark.parametrize("rule", RESTRICTED)
def test_a_profile_that_does_not_restrict_it_leaves_it_alone(rule: AnyRule) -> None:
    assert rule.judge(_with_volume(make.bare_profile())) == NOT_APPLICABLE
    assert rule.judge(_in_folder()) == NOT_APPLICABLE


@pytest.mark.parametrize(("rule", "restriction"), RESTRICTED.items())
def test_a_plain_folder_is_said_not_to_show_the_card_itself(
    rule: AnyRule, restriction: tuple[str, Any, str]
) -> None:
    key, limit, _ = restriction
    answer = rule.judge(_in_folder(card={key: limit}))
    assert isinstance(answer, NotChecked)
    assert answer.expected
    assert answer.reason == "only a folder was given, so the card itself was not looked at"


@pytest.mark.parametrize("rule", [*UNRESTRICTED, room.card_damaged])
def test_a_plain_folder_leaves_the_medium_unchecked_whatever_the_profile(rule: AnyRule) -> None:
    answer = rule.judge(_in_folder())
    assert isinstance(answer, NotChecked)
    assert answer.expected
    assert answer.reason == "only a folder was given, so the card itself was not looked at"


@pytest.mark.parametrize(
    ("rule", "field"),
    [*((rule, field) for rule, (_, _, field) in RESTRICTED.items()), *UNRESTRICTED.items()],
)
def test_what_the_volume_does_not_tell_is_not_passed(rule: AnyRule, field: str) -> None:
    answer = rule.judge(_with_volume(**{field: None, "medium_bytes": None}))
    assert isinstance(answer, NotChecked)
    assert answer.expected
    assert answer.reason.endswith("could not be found out from what was given")


def test_a_medium_of_unknown_size_is_not_taken_for_large_enough() -> None:
    assert isinstance(room.card_size_mismatch.judge(_with_volume(medium_bytes=None)), NotChecked)


def test_a_card_of_no_size_has_no_free_percentage() -> None:
    assert isinstance(room.card_full.judge(_with_volume(capacity_bytes=0)), NotChecked)


def test_a_medium_that_was_not_looked_at_is_not_called_sound() -> None:
    clip = make.video_file()
    answer = room.card_damaged.judge(make.whole(clip, card=make.card(clip, damage=None)))
    assert answer == NotChecked("the soundness could not be found out from what was given", expected=True)


def test_each_damage_is_a_finding_on_the_file_that_it_hits() -> None:
    clip = make.video_file()
    damage = (Damage("two files share cluster 17", "clip.mp4"), Damage("The two FATs differ."))
    whole = make.whole(clip, card=make.card(clip, damage=damage))
    answer = room.card_damaged.judge(whole)
    assert isinstance(answer, tuple)
    assert [(seen.found, seen.wanted, seen.path) for seen in answer] == [
        ("two files share cluster 17", "no damage", "clip.mp4"),
        ("The two FATs differ", "no damage", None),
    ]
    for seen in answer:
        assert_sentence(seen.message)
        assert_sentence(seen.action)
    assert "this file" in answer[0].message
    assert defects(whole) == {("card-damaged", "clip.mp4"), ("card-damaged", None)}


def test_the_message_says_what_the_format_is_what_the_screen_does_and_what_to_do() -> None:
    seen = only(room.card_file_system.judge(_with_volume(file_system="NTFS")))
    assert seen.message == (
        "The card is formatted as NTFS, the way Windows formats hard disks; this player reads FAT32 only, so "
        "it finds no files and the screen stays black."
    )
    assert seen.action == "Back up the files, format the card as FAT32, and copy the files again."


@pytest.mark.parametrize("found", get_args(FileSystem))
def test_every_file_system_has_words(found: str) -> None:
    profile = make.profile(card={"file_systems": [other for other in get_args(FileSystem) if other != found]})
    seen = only(room.card_file_system.judge(_with_volume(profile, file_system=found)))
    assert seen.found == found
    assert_sentence(seen.message)


@pytest.mark.parametrize("found", get_args(PartitionTable))
def test_every_partition_table_has_words(found: str) -> None:
    others = [other for other in get_args(PartitionTable) if other != found]
    profile = make.profile(card={"partition_tables": others})
    seen = only(room.card_partition_table.judge(_with_volume(profile, partition_table=found)))
    assert_sentence(seen.message)
    assert_sentence(seen.action)


def test_a_fake_card_is_not_also_called_too_large() -> None:
    whole = _with_volume(capacity_bytes=64_000_000_000, claimed_bytes=64_000_000_000)
    assert defects(whole) == {("card-size-mismatch", None)}


def test_severity_and_scope_are_those_of_the_design() -> None:
    assert {(rule.name, rule.severity, rule.scope, rule.depth) for rule in rules_in(room)} == {
        ("card-file-system", "fail", "card", "quick"),
        ("card-partition-table", "fail", "card", "quick"),
        ("card-capacity", "warn", "card", "quick"),
        ("card-cluster-size", "warn", "card", "quick"),
        ("card-damaged", "fail", "card", "quick"),
        ("card-dirty", "warn", "card", "quick"),
        ("card-size-mismatch", "fail", "card", "quick"),
        ("card-full", "warn", "card", "quick"),
        ("card-label", "warn", "card", "quick"),
    }
