"""Rules about what lies where on the card, and in which order."""

from __future__ import annotations

from typing import Any

import pytest

from mediacheck.loop import File
from mediacheck.rules import layout as room
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, NotChecked
from tests.rules import make
from tests.rules.judge import assert_sentence, defects, in_brief, only, rules_in

IN_VIDEO: dict[str, Any] = {"media_folder": "video", "subfolders": False}


# folder-missing


def test_a_missing_media_folder_is_one_finding_of_the_card() -> None:
    whole = make.whole(make.video_file(), profile=make.profile(layout=IN_VIDEO))
    assert in_brief(room.folder_missing.judge(whole)) == ("no such folder", "video", None, True, None)
    assert "the screen stays black" in only(room.folder_missing.judge(whole)).message


def test_each_missing_required_file_is_a_finding() -> None:
    profile = make.profile(layout={"required_files": ["start.cfg", "/sys/logo.bmp"]})
    whole = make.whole(make.video_file(), profile=profile)
    answer = room.folder_missing.judge(whole)
    assert isinstance(answer, tuple)
    assert [(seen.found, seen.wanted) for seen in answer] == [
        ("no such file", "start.cfg"),
        ("no such file", "/sys/logo.bmp"),
    ]
    for seen in answer:
        assert_sentence(seen.message)
        assert_sentence(seen.action)
    assert defects(whole) == {("folder-missing", None)}


@pytest.mark.parametrize(
    ("on_card", "in_profile"), [("video", "video"), ("VIDEO", "video"), ("video", "/Video/")]
)
def test_a_folder_is_found_whatever_its_capitals(on_card: str, in_profile: str) -> None:
    clip = make.video_file(f"{on_card}/clip.mp4")
    profile = make.profile(layout={"media_folder": in_profile})
    assert room.folder_missing.judge(make.whole(clip, profile=profile)) == PASSED


def test_an_empty_media_folder_is_there() -> None:
    profile = make.profile(layout={"media_folder": "video/day"})
    whole = make.whole(card=make.card(folders=("video", "video/day")), profile=profile)
    assert room.folder_missing.judge(whole) == PASSED


def test_required_files_and_folders_are_found_whatever_their_capitals() -> None:
    profile = make.profile(layout={"required_files": ["/Start.cfg", "sys/"]})
    files = (make.video_file(), make.other_file("START.CFG"), make.other_file("SYS/a.txt"))
    assert room.folder_missing.judge(make.whole(*files, profile=profile)) == PASSED


def test_the_root_is_never_missing() -> None:
    assert room.folder_missing.judge(make.whole(make.video_file())) == PASSED


def test_no_folder_is_missing_where_none_is_asked_for() -> None:
    whole = make.whole(make.video_file(), profile=make.bare_profile())
    assert room.folder_missing.judge(whole) == NOT_APPLICABLE


# file-misplaced


@pytest.mark.parametrize("file", [make.video_file("old/clip.mp4"), make.still_file("old/card.jpg")])
def test_media_where_the_player_does_not_look_is_never_shown(file: File) -> None:
    assert in_brief(room.file_misplaced.judge(make.one(file))) == (
        'the folder "old"',
        "the root of the card",
        None,
        True,
        None,
    )
    assert defects(make.whole(make.video_file(), file)) == {("file-misplaced", file.entry.path)}


@pytest.mark.parametrize(
    ("path", "layout", "found", "wanted"),
    [
        ("clip.mp4", {"media_folder": "video"}, "the root of the card", 'the folder "video"'),
        ("videos/clip.mp4", {"media_folder": "video"}, 'the folder "videos"', 'the folder "video"'),
        (
            "video/day/clip.mp4",
            {"media_folder": "video", "subfolders": False},
            'the folder "video/day"',
            'the folder "video"',
        ),
    ],
)
def test_misplaced_says_where_it_lies_and_where_it_belongs(
    path: str, layout: dict[str, Any], found: str, wanted: str
) -> None:
    one = make.one(make.video_file(path), make.profile(layout=layout))
    seen = only(room.file_misplaced.judge(one))
    assert (seen.found, seen.wanted) == (found, wanted)
    assert seen.action == f"Move this file to {wanted}."
    assert "never shown" in seen.message


@pytest.mark.parametrize(
    ("path", "layout"),
    [
        ("clip.mp4", {}),
        ("day/clip.mp4", {"subfolders": True}),
        ("video/clip.mp4", IN_VIDEO),
        ("video/day/clip.mp4", {"media_folder": "video", "subfolders": True}),
    ],
)
def test_media_where_the_player_looks_passes(path: str, layout: dict[str, Any]) -> None:
    one = make.one(make.video_file(path), make.profile(layout=layout))
    assert room.file_misplaced.judge(one) == PASSED


@pytest.mark.parametrize(
    ("file", "sections"),
    [
        (make.video_file("old/clip.mp4"), {"layout": {"media_folder": None}}),
        (make.audio_file("old/music.mp3"), {}),
        (make.other_file("old/notes.txt"), {}),
        (make.junk_file("old/._clip.mp4"), {}),
        (make.still_file("old/card.jpg"), {"stills": {"formats": []}}),
        (make.video_file("old/clip.mp4"), {"video": {"codecs": {}}}),
        (make.video_file("old/clip.mp4"), {"video": {"containers": []}}),
        (make.still_file("SYS/logo.jpg"), {"layout": {"required_files": ["/sys/LOGO.jpg"]}}),
        (make.still_file("sys/logo.jpg"), {"layout": {"other_files": ["sys/*"]}}),
    ],
)
def test_what_would_not_be_shown_anyway_is_not_misplaced(file: File, sections: dict[str, Any]) -> None:
    assert room.file_misplaced.judge(make.one(file, make.profile(**sections))) == NOT_APPLICABLE


# file-unexpected


@pytest.mark.parametrize(
    ("file", "found"),
    [
        (make.other_file("order form.docx"), "a file that is neither video nor still"),
        (make.other_file("sub/program.exe"), "a file that is neither video nor still"),
        (make.audio_file(), "a sound file without a picture"),
    ],
)
def test_a_file_that_the_profile_does_not_list_is_unexpected(file: File, found: str) -> None:
    assert in_brief(room.file_unexpected.judge(make.one(file))) == (found, "*.txt", None, True, None)
    assert defects(make.whole(make.video_file(), file)) == {("file-unexpected", file.entry.path)}


def test_an_empty_list_allows_no_other_file() -> None:
    one = make.one(make.other_file(), make.profile(layout={"other_files": []}))
    assert only(room.file_unexpected.judge(one)).wanted == "videos and stills only"


@pytest.mark.parametrize(
    ("path", "layout"),
    [
        ("notes.txt", {"other_files": ["*.txt"]}),
        ("NOTES.TXT", {"other_files": ["*.txt"]}),
        ("notes.txt", {"other_files": ["*.TXT"]}),
        ("SUB/notes.doc", {"other_files": ["Sub/*.doc"]}),
        ("sub/notes.txt", {"other_files": ["*.txt"]}),
        ("sub/notes.doc", {"other_files": ["sub/*.doc"]}),
        ("settings.cfg", {"other_files": ["/settings.cfg"]}),
        ("settings.cfg", {"other_files": [], "required_files": ["Settings.cfg"]}),
        ("SETTINGS.CFG", {"other_files": [], "required_files": ["/settings.cfg"]}),
    ],
)
def test_a_file_that_the_profile_lists_passes(path: str, layout: dict[str, Any]) -> None:
    one = make.one(make.other_file(path), make.profile(layout=layout))
    assert room.file_unexpected.judge(one) == PASSED


def test_a_wildcard_with_a_folder_means_that_folder_only() -> None:
    one = make.one(make.other_file("notes.doc"), make.profile(layout={"other_files": ["sub/*.doc"]}))
    assert only(room.file_unexpected.judge(one)).wanted == "sub/*.doc"


@pytest.mark.parametrize("file", [make.video_file(), make.still_file(), make.junk_file()])
def test_media_and_junk_are_for_other_rules(file: File) -> None:
    assert room.file_unexpected.judge(make.one(file)) == NOT_APPLICABLE


def test_nothing_is_unexpected_where_the_profile_says_nothing() -> None:
    assert room.file_unexpected.judge(make.one(make.other_file(), make.bare_profile())) == NOT_APPLICABLE


# file-junk

SIDE_FILE = "macOS leaves this side file beside each file that it copies"
BIN = "Windows keeps deleted files here"


@pytest.mark.parametrize(
    ("path", "layout", "left_by", "severity"),
    [
        (".DS_Store", {}, "macOS leaves this file in each folder that was opened in a window", None),
        ("System Volume Information/x.dat", {}, "Windows keeps its own notes about a drive here", None),
        ("._clip.mp4", {}, SIDE_FILE, "fail"),
        ("._card.JPG", {}, SIDE_FILE, "fail"),
        ("._notes.txt", {}, SIDE_FILE, None),
        ("old/._clip.mp4", {}, SIDE_FILE, None),
        ("old/._clip.mp4", {"subfolders": True}, SIDE_FILE, "fail"),
        ("old/._clip.mp4", {"media_folder": None}, SIDE_FILE, "fail"),
        ("._clip.mp4", IN_VIDEO, SIDE_FILE, None),
        ("$RECYCLE.BIN/S-1/$R1.mp4", {}, BIN, None),
        ("$RECYCLE.BIN/S-1/$R1.mp4", {"subfolders": True}, BIN, "fail"),
    ],
)
def test_junk_fails_only_where_the_player_would_try_to_play_it(
    path: str, layout: dict[str, Any], left_by: str, severity: str | None
) -> None:
    one = make.one(make.junk_file(path), make.profile(layout=layout))
    expected = (left_by, "no left-over files", severity, True, None)
    assert in_brief(room.file_junk.judge(one)) == expected


@pytest.mark.parametrize("path", [".DS_Store", "._clip.mp4", ".Trashes/501/Clip (2).mp4"])
def test_junk_is_nothing_but_junk(path: str) -> None:
    assert defects(make.whole(make.video_file(), make.junk_file(path))) == {("file-junk", path)}


def test_the_message_on_junk_says_what_the_player_does_with_it() -> None:
    assert only(room.file_junk.judge(make.one(make.junk_file("._clip.mp4")))).message == (
        "A computer left this file behind (macOS leaves this side file beside each file that it copies): it "
        "is named like a video or still, so the player tries to play it and shows black or stops."
    )
    deeper = make.profile(layout={"subfolders": True})
    deleted = make.junk_file(".Trashes/501/clip.mp4")
    assert "may show it in the loop" in only(room.file_junk.judge(make.one(deleted, deeper))).message
    assert "has no use for it" in only(room.file_junk.judge(make.one(make.junk_file()))).message


def test_a_still_side_file_does_no_harm_on_a_player_without_stills() -> None:
    one = make.one(make.junk_file("._card.jpg"), make.profile(stills={"formats": []}))
    assert only(room.file_junk.judge(one)).severity is None


def test_a_required_file_is_not_junk_whatever_its_name() -> None:
    profile = make.profile(layout={"required_files": ["autorun.inf"]})
    assert room.file_junk.judge(make.one(make.junk_file("autorun.inf"), profile)) == PASSED


@pytest.mark.parametrize("file", [make.video_file(), make.still_file(), make.other_file(), make.audio_file()])
def test_what_is_no_junk_is_left_alone(file: File) -> None:
    assert room.file_junk.judge(make.one(file)) == NOT_APPLICABLE


# play-order


def test_another_order_on_the_card_than_by_name_is_one_finding() -> None:
    whole = make.whole(make.video_file("1.mp4"), make.video_file("3.mp4"), make.video_file("2.mp4"))
    assert in_brief(room.play_order.judge(whole)) == (
        "1.mp4, 3.mp4, 2.mp4",
        "1.mp4, 2.mp4, 3.mp4",
        None,
        False,
        None,
    )
    assert '"3.mp4" at place 2, where "2.mp4" comes by name' in only(room.play_order.judge(whole)).message
    assert defects(whole) == {("play-order", None)}


def test_a_long_list_is_cut_with_the_number_of_the_rest() -> None:
    files = [make.video_file(f"{number}.mp4") for number in range(9, 0, -1)]
    assert only(room.play_order.judge(make.whole(*files))).found == (
        "9.mp4, 8.mp4, 7.mp4, 6.mp4, 5.mp4 and 4 more"
    )


@pytest.mark.parametrize("names", [[], ["b.mp4"], ["a.mp4", "b.mp4"], ["A.mp4", "b.mp4", "C.mp4"]])
def test_files_that_were_copied_in_the_order_of_their_names_pass(names: list[str]) -> None:
    assert room.play_order.judge(make.whole(*map(make.video_file, names))) == PASSED


def test_only_items_count_for_the_order() -> None:
    files = (
        make.other_file("z.txt"),
        make.video_file("a.mp4"),
        make.junk_file("._a.mp4"),
        make.still_file("b.jpg"),
    )
    assert room.play_order.judge(make.whole(*files)) == PASSED


def test_a_folder_does_not_tell_the_order() -> None:
    files = (make.video_file("b.mp4"), make.video_file("a.mp4"))
    answer = room.play_order.judge(make.whole(*files, card=make.plain_folder(*files)))
    assert isinstance(answer, NotChecked)
    assert answer.expected
    assert answer.reason.startswith("a folder does not tell the order in which the files lie on the card")


def test_one_item_has_only_one_order_even_in_a_folder() -> None:
    clip = make.video_file()
    assert room.play_order.judge(make.whole(clip, card=make.plain_folder(clip))) == PASSED


def test_a_player_that_goes_by_name_does_not_care_for_the_order_on_the_card() -> None:
    files = (make.video_file("b.mp4"), make.video_file("a.mp4"))
    profile = make.profile(player={"order": "name"})
    assert room.play_order.judge(make.whole(*files, profile=profile)) == NOT_APPLICABLE


def test_severity_and_scope_are_those_of_the_design() -> None:
    assert {(rule.name, rule.severity, rule.scope, rule.depth) for rule in rules_in(room)} == {
        ("folder-missing", "fail", "loop", "quick"),
        ("file-misplaced", "fail", "file", "quick"),
        ("file-unexpected", "warn", "file", "quick"),
        ("file-junk", "warn", "file", "quick"),
        ("play-order", "warn", "loop", "quick"),
    }
