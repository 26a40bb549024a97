"""Rules about still pictures: each sees its own defect, and an unread picture is never passed."""

from __future__ import annotations

from typing import Any

import pytest

from mediacheck.media.facts import MediaFacts
from mediacheck.profile import Profile
from mediacheck.rules import still as room
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, AnyRule, NotChecked, One
from tests.rules import make
from tests.rules.judge import defects, in_brief, only, rules_in

RULES = rules_in(room)


def _one(profile: Profile | None = None, **changes: Any) -> One:
    return make.one(make.still_file(still=make.still_facts(**changes)), profile)


DEFECTS: list[tuple[AnyRule, dict[str, Any], str, str, bool]] = [
    (room.still_progressive, {"progressive": True}, "progressive JPEG", "baseline JPEG", True),
    (room.still_colour, {"colour": "CMYK"}, "CMYK", "RGB", True),
    (room.still_colour, {"colour": "YCCK"}, "YCCK", "RGB", True),
    (room.still_colour, {"bit_depth": 12}, "12 bits per colour", "8 bits per colour", True),
    (room.still_orientation, {"orientation": 3}, "EXIF orientation 3", "EXIF orientation 1", True),
    (room.still_orientation, {"orientation": 6}, "EXIF orientation 6", "EXIF orientation 1", True),
    (
        room.still_resolution,
        {"width": 1921},
        "1921x1080",
        "at most 1920 pixels across and at most 1080 pixels down",
        True,
    ),
    (
        room.still_resolution,
        {"height": 1081},
        "1920x1081",
        "at most 1920 pixels across and at most 1080 pixels down",
        True,
    ),
    (
        room.still_damaged,
        {"damaged": "the file ends before the picture does"},
        "the file ends before the picture does",
        "a whole picture",
        False,
    ),
]


@pytest.mark.parametrize(("rule", "changes", "found", "wanted", "fixable"), DEFECTS)
def test_each_defect_is_seen_by_its_own_rule_alone(
    rule: AnyRule, changes: dict[str, Any], found: str, wanted: str, fixable: bool
) -> None:
    one = _one(**changes)
    assert in_brief(rule.judge(one)) == (found, wanted, None, fixable, None)
    assert defects(make.whole(one.file)) == {(rule.name, "card.jpg")}


@pytest.mark.parametrize("rule", RULES)
def test_a_conforming_still_passes_every_rule(rule: AnyRule) -> None:
    assert rule.judge(_one()) == PASSED


@pytest.mark.parametrize("rule", RULES)
def test_an_unread_still_is_not_passed(rule: AnyRule) -> None:
    for file in (make.unreadable_file("card.jpg", "still"), make.file_of("card.jpg", "still", None)):
        assert rule.judge(make.one(file)) == NotChecked(
            "the file could not be read, so its picture was not checked", expected=False
        )


@pytest.mark.parametrize("rule", RULES)
def test_a_file_without_a_still_picture_has_nothing_to_judge(rule: AnyRule) -> None:
    assert rule.judge(make.one(make.file_of("card.jpg", "still", MediaFacts("still")))) == NOT_APPLICABLE


# still-format


@pytest.mark.parametrize(
    ("formats", "found", "wanted", "fixable"),
    [
        (["JPEG"], "PNG", "JPEG", True),
        (["JPEG", "BMP"], "PNG", "JPEG or BMP", True),
        (["JPEG"], "TIFF", "JPEG", True),
        ([], "JPEG", "no stills", False),
    ],
)
def test_a_format_that_the_player_does_not_show_is_one_finding(
    formats: list[str], found: str, wanted: str, fixable: bool
) -> None:
    profile = make.profile(stills={"formats": formats})
    file = make.still_file(f"card.{found.lower()}", still=make.still_facts(format=found))
    assert in_brief(room.still_format.judge(make.one(file, profile))) == (found, wanted, None, fixable, None)
    assert defects(make.whole(file, profile=profile)) == {("still-format", file.entry.path)}


def test_a_wrong_format_is_not_also_judged_as_if_the_player_took_it() -> None:
    changes = {"format": "PNG", "colour": "CMYK", "bit_depth": 16, "width": 9000, "progressive": True}
    file = make.still_file("card.png", still=make.still_facts(**changes))
    assert defects(make.whole(file)) == {("still-format", "card.png")}


def test_the_message_says_that_the_player_skips_it() -> None:
    no_stills = make.profile(stills={"formats": []})
    assert only(room.still_format.judge(_one(no_stills))).message == (
        "This picture is stored as JPEG; the player shows no stills and will skip it."
    )
    assert only(room.still_format.judge(_one(format="PNG"))).message == (
        "This picture is stored as PNG; the player shows only JPEG and will skip it."
    )


# what is not restricted


@pytest.mark.parametrize("rule", [room.still_format, room.still_progressive, room.still_resolution])
def test_a_profile_that_says_nothing_of_stills_restricts_nothing(rule: AnyRule) -> None:
    one = _one(make.bare_profile(), format="PNG", progressive=True, width=30_000)
    assert rule.judge(one) == NOT_APPLICABLE


@pytest.mark.parametrize(
    ("formats", "format_name"), [(["JPEG", "PNG"], "PNG"), (["PNG"], "JPEG"), ([], "JPEG")]
)
def test_only_a_jpeg_that_is_shown_can_be_progressive(formats: list[str], format_name: str) -> None:
    one = _one(make.profile(stills={"formats": formats}), format=format_name, progressive=True)
    assert room.still_progressive.judge(one) == NOT_APPLICABLE


def test_a_16_bit_png_is_too_fine_for_a_player_that_shows_png() -> None:
    one = _one(make.profile(stills={"formats": ["PNG"]}), format="PNG", bit_depth=16)
    assert in_brief(room.still_colour.judge(one))[:2] == ("16 bits per colour", "8 bits per colour")


@pytest.mark.parametrize("colour", ["grey", "RGB", "RGBA", "palette"])
@pytest.mark.parametrize("bit_depth", [1, 2, 4, 8])
def test_colours_for_screens_pass(colour: str, bit_depth: int) -> None:
    assert room.still_colour.judge(_one(colour=colour, bit_depth=bit_depth)) == PASSED


@pytest.mark.parametrize(
    ("orientation", "shown"),
    [
        (2, "in mirror writing"),
        (3, "upside down"),
        (4, "upside down and in mirror writing"),
        (5, "lying on its side and in mirror writing"),
        (6, "lying on its side"),
        (7, "lying on its side and in mirror writing"),
        (8, "lying on its side"),
    ],
)
def test_the_message_says_how_the_picture_lies_on_the_screen(orientation: int, shown: str) -> None:
    message = only(room.still_orientation.judge(_one(orientation=orientation))).message
    assert message.endswith(f"the screen then shows the picture {shown}.")


@pytest.mark.parametrize("orientation", [0, 1, 9])
def test_no_mark_or_one_without_meaning_leaves_the_picture_as_it_is(orientation: int) -> None:
    assert room.still_orientation.judge(_one(orientation=orientation)) == PASSED


@pytest.mark.parametrize(
    ("limits", "wanted"),
    [
        ({"width_max": 1024, "height_max": None}, "at most 1024 pixels across"),
        ({"width_max": None, "height_max": 600}, "at most 600 pixels down"),
    ],
)
def test_one_side_alone_can_be_limited(limits: dict[str, Any], wanted: str) -> None:
    assert only(room.still_resolution.judge(_one(make.profile(stills=limits)))).wanted == wanted


def test_a_smaller_still_passes() -> None:
    assert room.still_resolution.judge(_one(width=640, height=480)) == PASSED


def test_severity_and_scope_are_those_of_the_design() -> None:
    assert {(rule.name, rule.severity, rule.scope, rule.depth) for rule in rules_in(room)} == {
        ("still-format", "fail", "still", "quick"),
        ("still-progressive", "fail", "still", "quick"),
        ("still-colour", "fail", "still", "quick"),
        ("still-orientation", "warn", "still", "quick"),
        ("still-resolution", "warn", "still", "quick"),
        ("still-damaged", "fail", "still", "quick"),
    }
