"""What differs in the cards themselves, from file system to label, and in what lies where on them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from mediacheck.card.model import Damage
from mediacheck.loop import File
from mediacheck.names import RuleName, Severity
from mediacheck.survey import Surveyed
from tests.compare.make import brief, clip, compared, measured, sha, still, surveyed
from tests.rules import make
from tests.rules.judge import assert_sentence

FILES = (clip("a.mp4"), clip("b.mp4"), still("c.jpg"))


def with_volume(**changes: Any) -> Surveyed:
    return surveyed(FILES, make.card(*FILES, volume=make.volume(**changes)))


def with_card(*files: File, **changes: Any) -> Surveyed:
    there = files or FILES
    return surveyed(there, make.card(*there, **changes))


GB = 10**9
VOLUMES: dict[str, tuple[dict[str, Any], RuleName, Severity, str, str]] = {
    "file system": ({"file_system": "exFAT"}, "card-file-system", "fail", "FAT32", "exFAT"),
    "partition table": (
        {"partition_table": "none"},
        "card-partition-table",
        "fail",
        "MBR",
        "no partition table",
    ),
    "class": ({"medium_bytes": 64 * GB}, "card-capacity", "warn", "SDHC", "SDXC"),
    "size in the class": ({"medium_bytes": 32 * GB}, "card-capacity", "note", "16.0 GB", "32.0 GB"),
    "cluster size": (
        {"cluster_bytes": 65_536},
        "card-cluster-size",
        "warn",
        "16,384 bytes",
        "65,536 bytes",
    ),
    "smaller clusters": (
        {"cluster_bytes": 4096},
        "card-cluster-size",
        "note",
        "16,384 bytes",
        "4,096 bytes",
    ),
    "label": ({"label": "ROSE_RIGHT"}, "card-label", "warn", '"ROSE_LEFT"', '"ROSE_RIGHT"'),
    "unfinished": (
        {"dirty": True},
        "card-dirty",
        "warn",
        "nothing of the kind was found",
        "marked as not finished",
    ),
    "cut short": (
        {"claimed_bytes": 17 * GB},
        "card-size-mismatch",
        "fail",
        "nothing of the kind was found",
        "claims 17,000,000,000 bytes",
    ),
}


@pytest.mark.parametrize("name", VOLUMES)
def test_a_card_that_differs_in_one_thing_has_one_difference(name: str) -> None:
    changes, rule, severity, good, bad = VOLUMES[name]
    found = compared(with_volume(), with_volume(**changes))
    assert [(each.rule, each.severity, each.good, each.bad) for each in found.differences] == [
        (rule, severity, good, bad)
    ]
    for sentence in (found.differences[0].message, found.differences[0].action):
        assert_sentence(sentence)


@pytest.mark.parametrize("name", VOLUMES)
def test_two_cards_alike_in_it_have_none(name: str) -> None:
    card = with_volume(**VOLUMES[name][0])
    assert compared(card, card).differences == ()


def test_a_card_that_is_cut_short_is_not_called_harmlessly_smaller_as_well() -> None:
    found = compared(with_volume(), with_volume(medium_bytes=8 * GB, claimed_bytes=16 * GB))
    assert [each.rule for each in found.differences] == ["card-size-mismatch"]


def test_the_file_system_comes_before_all_else() -> None:
    changes = {key: value for case in VOLUMES.values() for key, value in case[0].items()}
    found = compared(with_volume(), with_volume(**changes, free_bytes=0))
    assert [each.rule for each in found.differences][:2] == ["card-file-system", "card-partition-table"]


def test_damage_that_only_the_bad_card_has() -> None:
    old, new = Damage("a.mp4 runs into b.mp4", "a.mp4"), Damage("b.mp4 ends too soon", "b.mp4")
    found = compared(with_card(damage=(old,)), with_card(damage=(old, new)))
    assert brief(found.differences) == [("fail", "card-damaged", "b.mp4", "b.mp4")]
    assert compared(with_card(damage=(old, new)), with_card(damage=(old,))).differences == ()


def test_what_a_folder_does_not_tell_is_said_not_to_be_compared() -> None:
    folder = Surveyed(make.plain_folder(*FILES), make.placed(FILES), {})
    for good, bad, side in ((folder, with_card(), "the good card"), (with_card(), folder, "the bad card")):
        found = compared(good, bad)
        assert found.differences == ()
        assert [(gap.what, gap.expected) for gap in found.not_compared] == [
            (
                "the file system, the partition table, the class of the card, the cluster size, the label",
                True,
            ),
            ("the order in which the items lie on the cards", True),
            ("damage of the card", True),
            ("what the pictures of the videos show", True),
        ]
        assert [side in gap.reason for gap in found.not_compared] == [True, True, True, False]
        assert not [words for words in found.same if "put onto the card" in words or "file system" in words]


def test_a_bad_card_that_could_not_be_listed_misses_no_files_as_far_as_is_known() -> None:
    unlisted = Surveyed(
        make.card(unlisted="it is not formatted", volume=make.volume(file_system=None)), (), {}
    )
    found = compared(with_card(), unlisted)
    assert brief(found.differences) == [("fail", "card-file-system", None, None)]
    first = next(gap for gap in found.not_compared if not gap.expected)
    assert first.what == "folders, names, order and files"


def test_a_folder_that_held_the_items_and_is_missing() -> None:
    good = [clip("media/a.mp4"), clip("media/deep/b.mp4")]
    bad = [clip("a.mp4", "media/a.mp4"), clip("b.mp4", "media/deep/b.mp4")]
    found = compared(good, bad)
    assert brief(found.differences) == [
        ("fail", "folder-missing", "media", None),
        ("fail", "file-misplaced", "media/a.mp4", "a.mp4"),
        ("fail", "file-misplaced", "media/deep/b.mp4", "b.mp4"),
    ]


def test_a_folder_that_holds_nothing_weighs_less_and_an_extra_one_hardly() -> None:
    there = with_card(folders=("logs", "logs/old"))
    assert brief(compared(there, with_card()).differences) == [("warn", "folder-missing", "logs", None)]
    assert brief(compared(with_card(), there).differences) == [("note", None, None, "logs")]


def test_capitals_of_folders_and_what_computers_left_are_no_difference_of_folders() -> None:
    good, bad = with_card(folders=("Logs",)), with_card(folders=("logs", ".Trashes"))
    assert compared(good, bad).differences == ()


def test_what_a_computer_left_behind_on_the_bad_card_only() -> None:
    files = (*FILES, make.junk_file("._a.mp4"), make.junk_file(".DS_Store"))
    found = compared(surveyed(FILES), surveyed(files))
    assert brief(found.differences) == [
        ("fail", "file-junk", None, "._a.mp4"),
        ("warn", "file-junk", None, ".DS_Store"),
    ]
    assert compared(surveyed(files), surveyed(files)).differences == ()
    assert compared(surveyed(files), surveyed(FILES)).differences == ()


def test_the_order_on_the_card_of_the_items_that_both_have() -> None:
    found = compared([*FILES, clip("x.mp4")], [FILES[2], FILES[0], FILES[1]])
    (order,) = [each for each in found.differences if each.subject == "order"]
    assert (order.rule, order.severity, order.good, order.bad) == (
        "play-order",
        "warn",
        "a.mp4, b.mp4, c.jpg",
        "c.jpg, a.mp4, b.mp4",
    )
    assert '"c.jpg" comes at place 1' in order.message
    assert "The order of the names, of the 3 items that both cards have." in found.same


def test_an_item_more_between_them_does_not_change_the_order() -> None:
    found = compared(FILES, [FILES[0], clip("x.mp4"), FILES[1], FILES[2]])
    assert [each.subject for each in found.differences] == ["item"]


def test_names_that_sort_otherwise_play_otherwise_by_name() -> None:
    bad = [clip("9.mp4", "a.mp4"), FILES[1], FILES[2]]
    by_name = [clip("z.mp4", "a.mp4"), FILES[1], FILES[2]]
    assert [each.subject for each in compared(FILES, bad).differences] == ["name"]
    assert [each.subject for each in compared(FILES, by_name).differences] == ["order", "name"]


def test_with_a_profile_only_the_order_that_its_player_goes_by_counts() -> None:
    bad = [FILES[2], FILES[0], FILES[1]]
    for order, expected in (("disk", ["order"]), ("name", [])):
        found = compared(FILES, bad, make.bare_profile(player={"order": order}))
        assert [each.subject for each in found.differences] == expected


def test_files_that_are_missing_extra_or_changed() -> None:
    other = make.other_file("play.cfg", sha256=sha(1))
    good = (*FILES, other)
    bad = (clip("b.mp4"), clip("c.jpg"), still("d.jpg"), replace(other, sha256=sha(2)))
    found = compared(good, bad)
    assert ("warn", None, "a.mp4", None) in brief(found.differences)
    assert ("warn", None, None, "d.jpg") in brief(found.differences)
    assert ("warn", None, "play.cfg", "play.cfg") in brief(found.differences)
    assert brief(compared(good, FILES).differences) == [("warn", "folder-missing", "play.cfg", None)]
    assert brief(compared(FILES, good).differences) == [("warn", "file-unexpected", None, "play.cfg")]


def test_sound_files_are_not_taken_for_settings() -> None:
    good, bad = (make.audio_file("a.mp3", sha256=sha(name)) for name in ("x", "y"))
    other = make.audio_file("b.mp3", sha256=sha("z"))
    for one, two in (([*FILES, good], FILES), (FILES, [*FILES, good]), ([*FILES, good], [*FILES, bad])):
        (found,) = compared(one, two).differences
        assert (found.severity, found.rule, "settings" in found.message) == ("warn", None, False)
    assert compared([good, other], [good, other]).not_compared == ()


def test_what_the_screen_shows_under_the_same_name() -> None:
    """As far as it was decoded; stills and what was not decoded may be anything."""
    good = clip(measurements=measured(range(10)))
    shown = {
        "begins as on the good card": measured(range(5)),
        "another picture": measured(range(60, 70)),
        "may be another version": None,
    }
    for words, measurements in shown.items():
        found = compared([good], [clip("a.mp4", "other", measurements=measurements)], depth="full")
        (item,) = [each for each in found.differences if each.subject == "item"]
        assert (words in item.message, item.severity) == (True, "warn")


def test_a_bad_card_with_nothing_to_play() -> None:
    found = compared(FILES, [make.other_file("notes.txt")])
    assert brief(found.differences)[0] == ("fail", "loop-count", None, None)


def test_bytes_that_were_not_read_are_not_called_the_same() -> None:
    good = [make.video_file("a.mp4")]
    found = compared(good, good)
    assert found.differences == ()
    assert ("whether the bytes are the same", False, "a.mp4", "a.mp4") in [
        (gap.what, gap.expected, gap.good_path, gap.bad_path) for gap in found.not_compared
    ]
    assert found.matched[0].how == "same name"
