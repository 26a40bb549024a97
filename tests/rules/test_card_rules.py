"""Rules about the card itself: each sees its own defect, and says so when it could not look."""

from __future__ import annotations

from typing import Any, get_args

import pytest

from mediacheck.card.model import Damage, Volume
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
AGAIN = "Back up the files, format the card as {}, and copy the files again."
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
    (
        room.card_size_mismatch,
        {"part_end_bytes": 16_004_194_303},
        "ends at 16,004,194,304 bytes",
        "at most 16,004,194,303 bytes",
    ),
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
        (room.card_size_mismatch, {"part_end_bytes": 16_004_194_304}),
        (room.card_full, {"free_bytes": 800_000_000}),
        (room.card_label, {"label": "FERN_RIGHT1"}),
    ],
)
def test_what_just_fits_passes(rule: AnyRule, changes: dict[str, Any]) -> None:
    assert rule.judge(_with_volume(**changes)) == PASSED


@pytest.mark.parametrize("rule", RESTRICTED)
def test_a_profile_that_does_not_restrict_it_leaves_it_alone(rule: AnyRule) -> None:
    by_profile_alone = rule is not room.card_label
    assert rule.judge(_with_volume(make.bare_profile())) == (NOT_APPLICABLE if by_profile_alone else PASSED)
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
    assert answer == NotChecked(
        "whether it is damaged could not be found out from what was given", expected=True
    )


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
    assert [seen.message for seen in answer] == [
        "Damage on the card: two files share cluster 17; the player may stop at this file or skip it.",
        "Damage on the card: The two FATs differ; the player may stop, or skip files.",
    ]
    assert defects(whole) == {("card-damaged", "clip.mp4"), ("card-damaged", None)}


def test_damage_of_a_folder_is_not_told_of_a_file() -> None:
    clip = make.video_file("Spring/clip.mp4")
    damage = (Damage("the folder Spring leads outside the card", "Spring"),)
    seen = only(room.card_damaged.judge(make.whole(clip, card=make.card(clip, damage=damage))))
    assert seen.message == (
        "Damage on the card: the folder Spring leads outside the card; the player may not find what is in "
        "this folder."
    )


@pytest.mark.parametrize("path", [None, "clip.mp4"])
def test_damage_that_only_writing_meets_is_a_warning(path: str | None) -> None:
    clip = make.video_file()
    damage = (Damage("the count of free clusters is wrong", path, only_writing=True),)
    seen = only(room.card_damaged.judge(make.whole(clip, card=make.card(clip, damage=damage))))
    assert (seen.severity, seen.path) == ("warn", path)
    assert seen.message == (
        "Damage on the card: the count of free clusters is wrong; a player that only reads is not stopped by "
        "it, but the next copying to the card may go wrong."
    )
    assert_sentence(seen.action)


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


@pytest.mark.parametrize(
    ("found", "wanted", "size_bytes", "action"),
    [
        (
            "exFAT",
            "FAT32",
            63_900_000_000,
            "Copy the files to a card of 32 GB or less (SDHC), which is sold as FAT32; one of this size "
            "(SDXC) is meant for exFAT.",
        ),
        (
            "FAT32",
            "FAT16",
            16_000_000_000,
            "Copy the files to a card of 2 GB or less (SDSC), which is sold as FAT12 or FAT16; one of "
            "this size (SDHC) is meant for FAT32.",
        ),
        ("FAT16", "FAT32", 2_000_000_000, AGAIN.format("FAT32")),
        ("NTFS", "FAT32", 31_900_000_000, AGAIN.format("FAT32")),
        ("NTFS", "exFAT", 63_900_000_000, AGAIN.format("exFAT")),
        ("FAT32", "NTFS", 16_000_000_000, AGAIN.format("NTFS")),
        ("exFAT", "FAT32", None, AGAIN.format("FAT32")),
    ],
)
def test_a_card_of_a_size_that_is_meant_for_another_format_is_better_replaced(
    found: str, wanted: str, size_bytes: int | None, action: str
) -> None:
    profile = make.bare_profile(card={"file_systems": [wanted]})
    sizes = {"medium_bytes": size_bytes, "capacity_bytes": size_bytes}
    seen = only(room.card_file_system.judge(_with_volume(profile, file_system=found, **sizes)))
    assert seen.action == action
    assert_sentence(seen.action)


def test_a_table_that_cards_are_sold_with_is_had_most_easily_from_a_new_card() -> None:
    seen = only(room.card_partition_table.judge(_with_volume(partition_table="GPT")))
    assert seen.action == (
        "Copy the files to a new card as it was sold; or back them up, erase the whole card, set it up with "
        "MBR and one part, and copy the files again."
    )
    profile = make.bare_profile(card={"partition_tables": ["GPT"]})
    assert only(room.card_partition_table.judge(_with_volume(profile))).action == (
        "Back up the files, erase the whole card, set it up with GPT and one part, and copy the files again."
    )


@pytest.mark.parametrize(
    ("kind", "label", "why"),
    [
        ("FAT32", "ROSE/LEFT", "it contains /"),
        ("FAT16", " ROSE", "it begins with a space"),
        ("FAT32", "GÄRTEN", "it has letters that not every system reads alike (use A to Z, 0 to 9)"),
        ("exFAT", "ROSE*", "it contains *"),
    ],
)
def test_a_label_that_the_file_system_does_not_allow_is_one_warning(kind: str, label: str, why: str) -> None:
    whole = _with_volume(make.bare_profile(), file_system=kind, label=label)
    seen = only(room.card_label.judge(whole))
    assert (seen.found, seen.wanted) == (label, f"a label that {kind} takes")
    assert why in seen.message
    assert_sentence(seen.message)
    assert_sentence(seen.action)
    assert defects(whole) == {("card-label", None)}


@pytest.mark.parametrize(
    ("kind", "label"), [("FAT32", "rose left"), ("exFAT", "GÄRTEN"), ("ext", "ROSE*"), ("FAT32", "")]
)
def test_a_label_that_the_file_system_allows_passes(kind: str, label: str) -> None:
    whole = _with_volume(make.bare_profile(), file_system=kind, label=label)
    assert room.card_label.judge(whole) == PASSED
    assert defects(whole) == set()


def test_what_is_not_looked_into_says_so_once_and_why() -> None:
    why = "it is not formatted"
    card = make.card(volume=Volume(medium_bytes=8_000_000_000), damage=None, unlisted=why, raw_reason=why)
    whole = make.whole(card=card)
    for rule in (room.card_cluster_size, room.card_damaged, room.card_dirty, room.card_size_mismatch):
        assert rule.judge(whole) == NotChecked(f"the card was not looked into: {why}", expected=True)


def test_a_card_that_is_worn_out_is_not_also_called_empty() -> None:
    why = "some of its sectors cannot be read (Input/output error)"
    volume = Volume(medium_bytes=8_000_000_000)
    card = make.card(volume=volume, damage=(Damage(why),), unlisted=why, raw_reason=why)
    assert {name for name, _ in defects(make.whole(card=card), room)} == {"card-damaged"}


@pytest.mark.parametrize(
    ("kind", "message", "action"),
    [
        (
            "image",
            "The card claims to hold 64 GB, and this image of it holds 16 GB: what lies beyond that is lost, "
            "and the player stops there or skips it.",
            "Make the image again from the whole card; if it comes out no larger, use another card.",
        ),
        (
            "device",
            "The card claims to hold 64 GB, and it holds 16 GB: what lies beyond that is lost, and the "
            "player stops there or skips it.",
            "Use another card: this one holds less than it claims.",
        ),
    ],
)
def test_a_false_size_is_told_of_the_card_or_of_its_image(kind: Any, message: str, action: str) -> None:
    clip = make.video_file()
    volume = make.volume(claimed_bytes=64_000_000_000)
    whole = make.whole(clip, card=make.card(clip, kind=kind, volume=volume))
    seen = only(room.card_size_mismatch.judge(whole))
    assert (seen.message, seen.action) == (message, action)


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
