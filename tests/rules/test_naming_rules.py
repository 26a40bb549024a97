"""Rules about what files are called: for the card, for the player, and for what is inside."""

from __future__ import annotations

from typing import Any

import pytest

from mediacheck.loop import File
from mediacheck.profile import Profile
from mediacheck.rules import naming as room
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, Answer, NotChecked
from tests.rules import make
from tests.rules.judge import assert_sentence, defects, in_brief, only, rules_in

ON_WINDOWS = "a name that FAT, exFAT and Windows take"
ANY_NAME: dict[str, Any] = {"name_pattern": None, "name_length_max": None, "ascii_only": False}


def _named(*paths: str, profile: Profile | None = None, **changes: Any) -> Answer:
    deep = profile or make.profile(layout={**ANY_NAME, "subfolders": True})
    return room.file_name.judge(
        make.whole(*(make.video_file(path, **changes) for path in paths), profile=deep)
    )


# file-name: the card


@pytest.mark.parametrize(
    ("path", "why"),
    [
        ("50% off: today.mp4", "it contains :"),
        ("what?.mp4", "it contains ?"),
        ('a"<b>|*.mp4', 'it contains " * < > |'),
        ("back\\slash.mp4", "it contains \\"),
        ("bell\x07.mp4", "it contains the control character 7"),
        ("clip.mp4.", "it ends in a full stop"),
        ("clip.mp4 ", "it ends in a space"),
        ("spring /clip.mp4", "it ends in a space"),
        ("CON.mp4", "Windows keeps the name CON for a device"),
        ("nul.tar.mp4", "Windows keeps the name nul for a device"),
        ("com1/clip.mp4", "Windows keeps the name com1 for a device"),
        ("LPT³.mp4", "Windows keeps the name LPT³ for a device"),
    ],
)
def test_a_name_that_cards_refuse_is_one_finding(path: str, why: str) -> None:
    answer = _named("a.mp4", path)
    assert in_brief(answer) == (path, ON_WINDOWS, None, True, path)
    assert only(answer).message == (
        f"The name of this file does not work: {why}, so it is lost or renamed in copying to the card."
    )


@pytest.mark.parametrize(
    "path",
    [
        "clip.mp4",
        ".hidden.mp4",
        "console.mp4",
        "com10.mp4",
        "com0.mp4",
        "a.con.mp4",
        "Frühling & Söhne (2).mp4",
        "50% off, today; [v2]=final+1.mp4",
        "春/夏.mp4",
    ],
)
def test_a_name_that_cards_take_passes(path: str) -> None:
    assert _named(path) == PASSED


def test_a_bad_name_is_no_other_defect() -> None:
    layout = {**ANY_NAME, "name_length_max": 32}
    files = (make.video_file("a.mp4"), make.video_file("what?.mp4"))
    assert defects(make.whole(*files, profile=make.profile(layout=layout))) == {("file-name", "what?.mp4")}


@pytest.mark.parametrize(
    ("paths", "twin", "original"),
    [
        (("Clip.mp4", "clip.MP4"), "clip.MP4", "Clip.mp4"),
        (("clip.MP4", "Clip.mp4"), "clip.MP4", "Clip.mp4"),
        (("Day/clip.mp4", "day/clip.mp4"), "day/clip.mp4", "Day/clip.mp4"),
        (("ÉTÉ.mp4", "été.mp4"), "été.mp4", "ÉTÉ.mp4"),
    ],
)
def test_names_that_differ_only_in_capitals_collide_once(
    paths: tuple[str, ...], twin: str, original: str
) -> None:
    answer = _named(*paths)
    assert in_brief(answer) == (twin, "a name that differs in more than capitals", None, True, twin)
    assert f'it is the same as "{original}" to a card' in only(answer).message


@pytest.mark.parametrize(
    "paths",
    [("day/clip.mp4", "night/clip.mp4"), ("straße.mp4", "strasse.mp4"), ("clip.mp4", "clip1.mp4")],
)
def test_names_that_a_card_tells_apart_do_not_collide(paths: tuple[str, ...]) -> None:
    assert _named(*paths) == PASSED


def test_a_clip_collides_with_any_file_on_the_card() -> None:
    profile = make.profile(layout=ANY_NAME)
    files = (make.other_file("CLIP.mp4"), make.video_file("clip.mp4"))
    assert only(room.file_name.judge(make.whole(*files, profile=profile))).path == "clip.mp4"


def test_a_card_that_is_no_windows_card_may_use_any_name() -> None:
    profile = make.profile(layout=ANY_NAME, card={"file_systems": ["ext"]})
    assert _named("what?.mp4", "Clip.mp4", "clip.mp4", profile=profile) == PASSED


def test_a_profile_without_file_systems_means_a_card_as_sold() -> None:
    assert in_brief(_named("what?.mp4", profile=make.bare_profile()))[1] == ON_WINDOWS


def test_a_name_that_is_no_text_says_only_that() -> None:
    answer = _named("clip\\xff.mp4", valid_name=False, profile=make.profile())
    assert in_brief(answer)[:2] == ("clip\\xff.mp4", "a name that is readable text")
    assert "it holds bytes that are not text in any language" in only(answer).message


# file-name: the player


@pytest.mark.parametrize(
    ("path", "letters"),
    [
        ("Frühling.mp4", "ü"),
        ("Fru\u0308hling.mp4", "ü"),
        ("été/clip.mp4", "é"),
        ("Rosen ÄÖ.mp4", "Ä Ö"),
        ("50 €.mp4", "U+20AC"),
        ("zero\u200bwidth.mp4", "U+200B"),
    ],
)
def test_letters_beyond_ascii_are_named(path: str, letters: str) -> None:
    answer = _named(path, profile=make.profile(layout={**ANY_NAME, "ascii_only": True, "subfolders": True}))
    assert in_brief(answer) == (path, "plain letters, digits and signs (ASCII)", None, True, path)
    assert f"it contains {letters}, so the player may skip this file" in only(answer).message


def test_the_whole_name_must_match_the_pattern() -> None:
    profile = make.profile(layout={**ANY_NAME, "name_pattern": r"\d\d_.+\.mp4"})
    answer = _named("01_rose.mp4", "x01_rose.mp4", profile=profile)
    assert in_brief(answer) == (
        "x01_rose.mp4",
        r"a name that matches \d\d_.+\.mp4",
        None,
        True,
        "x01_rose.mp4",
    )


def test_the_pattern_is_for_the_name_and_not_for_its_folder() -> None:
    profile = make.profile(layout={**ANY_NAME, "name_pattern": r"\d+\.mp4", "subfolders": True})
    assert _named("in spring/01.mp4", profile=profile) == PASSED


def test_several_faults_of_one_name_are_one_finding_with_the_gravest_effect() -> None:
    answer = _named("Frühling?.mp4", profile=make.profile())
    assert in_brief(answer)[1] == (
        f"{ON_WINDOWS} and plain letters, digits and signs (ASCII) and a name that matches [A-Za-z0-9._-]+"
    )
    assert only(answer).message == (
        "The name of this file does not work: it contains ?, and it contains ü, and it is not formed as this "
        "player asks for, so it is lost or renamed in copying to the card."
    )


def test_each_badly_named_file_is_a_finding_of_its_own() -> None:
    answer = _named("a?.mp4", "b.mp4", "c?.mp4")
    assert isinstance(answer, tuple)
    assert [seen.path for seen in answer] == ["a?.mp4", "c?.mp4"]


def test_a_required_file_must_have_a_name_that_the_card_takes() -> None:
    profile = make.profile(layout={**ANY_NAME, "required_files": ["start?.cfg"]})
    whole = make.whole(make.video_file(), make.other_file("start?.cfg"), profile=profile)
    assert only(room.file_name.judge(whole)).path == "start?.cfg"


@pytest.mark.parametrize("file", [make.junk_file("Icon\r"), make.other_file("what?.doc")])
def test_names_of_what_the_player_does_not_open_are_left_alone(file: File) -> None:
    assert room.file_name.judge(make.whole(file)) == NOT_APPLICABLE


# file-name-length


def _long(length: int) -> str:
    return "x" * (length - 4) + ".mp4"


def test_a_name_that_is_too_long_is_one_finding() -> None:
    whole = make.whole(make.video_file(), make.video_file(_long(33)))
    assert in_brief(room.file_name_length.judge(make.one(make.video_file(_long(33))))) == (
        "33 characters",
        "at most 32 characters",
        None,
        True,
        None,
    )
    assert defects(whole) == {("file-name-length", _long(33))}


@pytest.mark.parametrize(
    "path", [_long(32), "a long folder name that does not count/" + _long(32), "é" * 28 + ".mp4"]
)
def test_a_name_that_just_fits_passes(path: str) -> None:
    assert room.file_name_length.judge(make.one(make.video_file(path))) == PASSED


def test_the_length_of_a_name_that_is_no_text_is_not_counted() -> None:
    answer = room.file_name_length.judge(make.one(make.video_file("clip\\xff.mp4", valid_name=False)))
    assert answer == NotChecked(
        "the name is not readable text, so its length was not counted", expected=False
    )


@pytest.mark.parametrize(
    ("file", "profile"),
    [
        (make.video_file(_long(200)), make.bare_profile()),
        (make.other_file(_long(200)), make.profile()),
        (make.junk_file(_long(200)), make.profile()),
    ],
)
def test_length_does_not_matter_where_nothing_limits_it(file: File, profile: Profile) -> None:
    assert room.file_name_length.judge(make.one(file, profile)) == NOT_APPLICABLE


def test_a_required_file_must_not_have_too_long_a_name() -> None:
    profile = make.profile(layout={"required_files": ["a_very_long_name_for_a_small_player.cfg"]})
    file = make.other_file("a_very_long_name_for_a_small_player.cfg")
    assert only(room.file_name_length.judge(make.one(file, profile))).found == "39 characters"


# file-extension


def _clip(path: str, inside: str, **changes: Any) -> File:
    return make.video_file(path, container=make.container_facts(name=inside), **changes)


def _picture(path: str, inside: str) -> File:
    return make.still_file(path, still=make.still_facts(format=inside))


ANY_FORMAT: dict[str, Any] = {"video": {"containers": None}, "stills": {"formats": None}, "layout": ANY_NAME}


@pytest.mark.parametrize(
    ("file", "found", "wanted", "action"),
    [
        (
            _clip("clip.mp4", "MOV"),
            ".mp4 with MOV inside",
            ".mov",
            "Convert this file to MP4, as its name says.",
        ),
        (
            _clip("clip.avi", "MP4"),
            ".avi with MP4 inside",
            ".mp4",
            'Change the end of the name to ".mp4".',
        ),
        (
            _clip("clip.mpg", "MPEG-TS"),
            ".mpg with MPEG-TS inside",
            ".ts",
            'Change the end of the name to ".ts".',
        ),
        (
            _picture("card.jpg", "PNG"),
            ".jpg with PNG inside",
            ".png",
            "Convert this file to JPEG, as its name says.",
        ),
        (
            _picture("card.mp4", "JPEG"),
            ".mp4 with JPEG inside",
            ".jpg",
            'Change the end of the name to ".jpg".',
        ),
        (
            _clip("clip", "MP4"),
            "no extension with MP4 inside",
            ".mp4",
            'Change the end of the name to ".mp4".',
        ),
        (_clip("clip.new", "MP4"), ".new with MP4 inside", ".mp4", 'Change the end of the name to ".mp4".'),
        (
            _clip("clip.mp4", "NUT"),
            ".mp4 with NUT inside",
            "an extension that fits",
            "Convert this file to MP4, as its name says.",
        ),
        (
            _clip("clip.nut", "NUT"),
            ".nut with NUT inside",
            "an extension that fits",
            "Convert this file to a format that the player takes.",
        ),
    ],
)
def test_a_name_that_says_something_else_is_a_finding(
    file: File, found: str, wanted: str, action: str
) -> None:
    answer = room.file_extension.judge(make.one(file))
    assert in_brief(answer) == (found, wanted, None, True, None)
    assert only(answer).action == action


def test_a_wrong_extension_is_no_other_defect_of_these_rules() -> None:
    files = (_clip("a.avi", "MP4"), _picture("b.png", "JPEG"))
    assert defects(make.whole(*files)) == {("file-extension", "a.avi"), ("file-extension", "b.png")}


def test_the_message_says_what_the_player_does() -> None:
    wrong = only(room.file_extension.judge(make.one(_clip("clip.mp4", "MOV")))).message
    assert wrong == (
        "The name of this file says MP4 (.mp4), and inside it is MOV: the player goes by the name, and skips "
        "the file or shows black."
    )
    bare = only(room.file_extension.judge(make.one(_clip("clip", "MP4")))).message
    assert bare == (
        "The name of this file has no extension, and inside it is MP4: the player does not see that it can "
        "be played, and skips it."
    )
    assert_sentence(wrong)
    assert_sentence(bare)


@pytest.mark.parametrize(
    "file",
    [
        _clip("clip.mp4", "MP4"),
        _clip("CLIP.MP4", "MP4"),
        _clip("clip.m4v", "MP4"),
        _clip("clip.mov", "MOV"),
        _clip("clip.mkv", "MKV"),
        _clip("clip.mkv", "WebM"),
        _clip("clip.webm", "WebM"),
        _clip("clip.avi", "AVI"),
        _clip("clip.ts", "MPEG-TS"),
        _clip("clip.m2ts", "MPEG-TS"),
        _clip("clip.MTS", "MPEG-TS"),
        _clip("clip.mpg", "MPEG-PS"),
        _clip("clip.vob", "MPEG-PS"),
        _clip("clip.wmv", "WMV"),
        _clip("clip.asf", "WMV"),
        _clip("clip.mp4.", "MP4"),
        _clip("clip.flv", "FLV"),
        _clip("clip.h264", "H.264 without a container"),
        _picture("card.jpg", "JPEG"),
        _picture("card.JPEG", "JPEG"),
        _picture("card.png", "PNG"),
        _picture("card.bmp", "BMP"),
        _picture("card.gif", "GIF"),
        _picture("card.webp", "WebP"),
    ],
)
def test_a_name_that_keeps_its_promise_passes(file: File) -> None:
    assert room.file_extension.judge(make.one(file, make.profile(**ANY_FORMAT))) == PASSED


@pytest.mark.parametrize(
    ("path", "inside", "wanted"),
    [("clip.webm", "MKV", ".mkv"), ("clip.mp4", "WebM", ".webm"), ("clip.mkv", "MP4", ".mp4")],
)
def test_only_webm_under_the_name_of_matroska_passes(path: str, inside: str, wanted: str) -> None:
    assert only(room.file_extension.judge(make.one(_clip(path, inside)))).wanted == wanted


@pytest.mark.parametrize(
    "file",
    [make.other_file(), make.junk_file("._clip.mp4"), make.audio_file(), make.unreadable_file(size_bytes=0)],
)
def test_what_holds_no_picture_promises_none(file: File) -> None:
    assert room.file_extension.judge(make.one(file)) == NOT_APPLICABLE


@pytest.mark.parametrize(
    "file", [make.unreadable_file(), make.unreadable_file(size_bytes=0, unusable="a link")]
)
def test_what_could_not_be_read_was_not_compared_with_its_name(file: File) -> None:
    assert room.file_extension.judge(make.one(file)) == NotChecked(
        "the file could not be read, so its name was not compared with what is inside", expected=False
    )


def test_severity_and_scope_are_those_of_the_design() -> None:
    assert {(rule.name, rule.severity, rule.scope, rule.depth) for rule in rules_in(room)} == {
        ("file-name", "fail", "loop", "quick"),
        ("file-name-length", "fail", "file", "quick"),
        ("file-extension", "fail", "file", "quick"),
    }
