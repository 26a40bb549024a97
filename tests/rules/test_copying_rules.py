"""Rules about single files as they were copied: empty, too big, unreadable, twice."""

from __future__ import annotations

from typing import Any

import pytest

from mediacheck.loop import File
from mediacheck.rules import copying as room
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, AnyRule, NotChecked
from tests.rules import make
from tests.rules.judge import assert_sentence, defects, in_brief, only, rules_in

FAT32_MOST = 4_294_967_295
LINK = "this is a link that leads outside the card"

# file-empty

NO_FACTS = "The file is empty."
EMPTY_MEDIA = [
    make.unreadable_file("clip.mp4", "video", NO_FACTS, size_bytes=0),
    make.unreadable_file("card.jpg", "still", NO_FACTS, size_bytes=0),
]


@pytest.mark.parametrize("file", EMPTY_MEDIA)
def test_an_empty_file_is_one_finding_and_not_also_unreadable(file: File) -> None:
    expected = ("0 bytes", "a file with something in it", None, False, None)
    assert in_brief(room.file_empty.judge(make.one(file))) == expected
    assert defects(make.whole(make.video_file("a.mp4"), file)) == {("file-empty", file.entry.path)}


def test_two_empty_files_are_not_called_twins() -> None:
    files = [
        make.unreadable_file(name, "video", NO_FACTS, size_bytes=0, sha256="e3b0")
        for name in ("a.mp4", "b.mp4")
    ]
    assert defects(make.whole(*files)) == {("file-empty", "a.mp4"), ("file-empty", "b.mp4")}


def test_an_empty_file_that_the_player_needs_is_a_finding() -> None:
    profile = make.profile(layout={"required_files": ["start.cfg"], "other_files": []})
    one = make.one(make.other_file("start.cfg", size_bytes=0), profile)
    assert only(room.file_empty.judge(one)).found == "0 bytes"


@pytest.mark.parametrize("file", [make.video_file(size_bytes=1), make.still_file(), make.audio_file()])
def test_a_file_with_something_in_it_passes(file: File) -> None:
    assert room.file_empty.judge(make.one(file)) == PASSED


@pytest.mark.parametrize(
    "file",
    [
        make.other_file(size_bytes=0),
        make.junk_file(size_bytes=0),
        make.unreadable_file(size_bytes=0, unusable=LINK),
    ],
)
def test_emptiness_of_what_is_not_played_does_not_matter(file: File) -> None:
    assert room.file_empty.judge(make.one(file)) == NOT_APPLICABLE


# file-too-big


@pytest.mark.parametrize(
    ("file", "fixable"),
    [
        (make.video_file(size_bytes=FAT32_MOST + 1), True),
        (make.video_file(size_bytes=5_300_000_000), True),
        (make.other_file(size_bytes=5_300_000_000), False),
    ],
)
def test_a_file_that_the_card_cannot_hold_is_one_finding(file: File, fixable: bool) -> None:
    assert in_brief(room.file_too_big.judge(make.one(file))) == (
        f"{file.entry.size_bytes:,} bytes",
        "at most 4,294,967,295 bytes",
        None,
        fixable,
        None,
    )
    clip = make.video_file("a.mp4")
    assert defects(make.whole(clip, file)) == {("file-too-big", file.entry.path)}


def test_sizes_that_look_alike_are_told_apart_to_the_byte() -> None:
    near = only(room.file_too_big.judge(make.one(make.video_file(size_bytes=FAT32_MOST + 1)))).message
    assert "4,294,967,296 bytes" in near
    assert "4,294,967,295 bytes" in near
    far = only(room.file_too_big.judge(make.one(make.video_file(size_bytes=5_300_000_000)))).message
    assert "This file has 5.3 GB, and a card formatted as FAT32 holds files of up to 4.29 GB" in far


def test_only_a_video_can_be_made_smaller_by_encoding() -> None:
    big: dict[str, Any] = {"size_bytes": FAT32_MOST + 1}
    video, other = (make.one(file) for file in (make.video_file(**big), make.other_file(**big)))
    assert only(room.file_too_big.judge(video)).action.startswith("Encode this file again")
    assert only(room.file_too_big.judge(other)).action == "Leave this file off the card, or make it smaller."


def test_a_plain_folder_is_held_to_the_file_system_of_the_profile() -> None:
    big = make.video_file(size_bytes=FAT32_MOST + 1)
    assert defects(make.whole(big, card=make.plain_folder(big))) == {("file-too-big", "clip.mp4")}


@pytest.mark.parametrize(
    ("size_bytes", "file_systems"),
    [
        (FAT32_MOST, ["FAT32"]),
        (FAT32_MOST + 1, ["FAT32", "exFAT"]),
        (FAT32_MOST + 1, ["NTFS"]),
    ],
)
def test_a_file_that_one_of_the_file_systems_holds_passes(size_bytes: int, file_systems: list[str]) -> None:
    one = make.one(make.video_file(size_bytes=size_bytes), make.profile(card={"file_systems": file_systems}))
    assert room.file_too_big.judge(one) == PASSED


@pytest.mark.parametrize("file_systems", [None, ["ext"], ["FAT32", "ext"]])
def test_no_limit_is_made_up_where_none_is_known(file_systems: list[str] | None) -> None:
    one = make.one(make.video_file(size_bytes=2**40), make.profile(card={"file_systems": file_systems}))
    assert room.file_too_big.judge(one) == NOT_APPLICABLE


# file-unreadable


@pytest.mark.parametrize(
    ("file", "reason"),
    [
        (
            make.unreadable_file(reason="The program that reads it crashed."),
            "The program that reads it crashed",
        ),
        (make.unreadable_file("card.jpg", "still", "It is no picture."), "It is no picture"),
        (make.unreadable_file(unusable=LINK, size_bytes=0), LINK),
        (make.video_file(unusable=LINK), LINK),
    ],
)
def test_a_file_that_nobody_can_read_is_one_finding(file: File, reason: str) -> None:
    expected = (reason, "a file that can be read", None, False, None)
    assert in_brief(room.file_unreadable.judge(make.one(file))) == expected
    assert "the player will skip this file" in only(room.file_unreadable.judge(make.one(file))).message
    assert ("file-unreadable", file.entry.path) in defects(make.whole(file))


def test_an_unreadable_file_is_no_other_defect_of_these_rules() -> None:
    whole = make.whole(make.video_file("a.mp4"), make.unreadable_file("b.mp4"))
    assert defects(whole) == {("file-unreadable", "b.mp4")}


@pytest.mark.parametrize(("layout", "severity"), [({}, "warn"), ({"required_files": ["notes.txt"]}, None)])
def test_a_dead_link_that_is_not_played_is_lighter_unless_it_is_needed(
    layout: dict[str, Any], severity: str | None
) -> None:
    seen = only(
        room.file_unreadable.judge(make.one(make.other_file(unusable=LINK), make.profile(layout=layout)))
    )
    assert seen.severity == severity
    assert (
        seen.message == "This is a link that leads outside the card, so this file cannot be copied to a card."
    )
    assert_sentence(seen.action)


def test_a_file_that_was_never_looked_into_is_not_called_readable() -> None:
    answer = room.file_unreadable.judge(make.one(make.file_of("clip.mp4", "video", None)))
    assert answer == NotChecked("this file was not looked into", expected=False)


@pytest.mark.parametrize("file", [make.video_file(), make.still_file(), make.audio_file()])
def test_a_file_that_was_read_passes(file: File) -> None:
    assert room.file_unreadable.judge(make.one(file)) == PASSED


@pytest.mark.parametrize(
    "file", [make.other_file(), make.junk_file(), make.junk_file(unusable=LINK), *EMPTY_MEDIA]
)
def test_what_needs_no_reading_is_left_alone(file: File) -> None:
    assert room.file_unreadable.judge(make.one(file)) == NOT_APPLICABLE


# file-duplicate


def test_each_repetition_is_a_finding_on_the_later_file() -> None:
    whole = make.whole(
        make.video_file("a.mp4", sha256="11"),
        make.video_file("b.mp4", sha256="22"),
        make.video_file("c.mp4", sha256="11"),
        make.video_file("d.mp4", sha256="11"),
    )
    answer = room.file_duplicate.judge(whole)
    assert isinstance(answer, tuple)
    assert [(seen.found, seen.wanted, seen.severity, seen.path) for seen in answer] == [
        ("the same as a.mp4", "each file once", None, "c.mp4"),
        ("the same as a.mp4", "each file once", None, "d.mp4"),
    ]
    assert_sentence(answer[0].message)
    assert_sentence(answer[0].action)
    assert defects(whole) == {("file-duplicate", "c.mp4"), ("file-duplicate", "d.mp4")}


def _pair(first: str | None, second: str | None, **changes: Any) -> tuple[File, File]:
    return make.video_file("a.mp4", sha256=first), make.video_file("b.mp4", sha256=second, **changes)


@pytest.mark.parametrize(
    "files",
    [
        (),
        (make.video_file(),),
        _pair("11", "22"),
        _pair(None, None, size_bytes=9),
        _pair("11", "11", size_bytes=9),
        (make.video_file("a.mp4", sha256="11"), make.video_file("old/a.mp4", sha256="11")),
        (make.video_file("a.mp4", sha256="11"), make.other_file("a.txt", sha256="11")),
    ],
)
def test_items_that_differ_pass(files: tuple[File, ...]) -> None:
    assert room.file_duplicate.judge(make.whole(*files)) == PASSED


@pytest.mark.parametrize("files", [_pair(None, None), _pair("11", None)])
def test_items_of_equal_size_without_a_hash_were_not_compared(files: tuple[File, ...]) -> None:
    assert room.file_duplicate.judge(make.whole(*files)) == NotChecked(
        "files of equal size could not be read to their end, so they were not compared", expected=False
    )


@pytest.mark.parametrize(
    "rule", [room.file_empty, room.file_too_big, room.file_unreadable, room.file_duplicate]
)
def test_a_clean_card_has_none_of_these(rule: AnyRule) -> None:
    whole = make.whole(make.video_file(), make.still_file(size_bytes=1_000_000))
    if rule.scope == "loop":
        assert rule.judge(whole) == PASSED
        return
    assert [rule.judge(make.one(file)) for file in whole.loop.files] == [PASSED, PASSED]


def test_severity_and_scope_are_those_of_the_design() -> None:
    assert {(rule.name, rule.severity, rule.scope, rule.depth) for rule in rules_in(room)} == {
        ("file-empty", "fail", "file", "quick"),
        ("file-too-big", "fail", "file", "quick"),
        ("file-unreadable", "fail", "file", "quick"),
        ("file-duplicate", "note", "loop", "quick"),
    }
