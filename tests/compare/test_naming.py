"""Names that differ: in capitals, in letters beyond plain English, in length, in ending, in folder."""

from __future__ import annotations

import pytest

from mediacheck.names import RuleName, Severity
from tests.compare.make import clip, compared
from tests.rules.judge import assert_sentence

NAMES: dict[str, tuple[str, str, list[tuple[Severity, RuleName | None]]]] = {
    "capitals": ("clip.mp4", "Clip.mp4", [("note", "file-name")]),
    "capitals of the ending": ("clip.mp4", "clip.MP4", [("warn", "file-name")]),
    "another": ("clip.mp4", "film.mp4", [("note", "file-name")]),
    "beyond English": ("clip.mp4", "clüp.mp4", [("fail", "file-name"), ("note", "file-name")]),
    "a space": ("clip.mp4", "c p.mp4", [("warn", "file-name"), ("note", "file-name")]),
    "longer than short names": (
        "clip.mp4",
        "clip-for-aisle.mp4",
        [("warn", "file-name-length"), ("note", "file-name")],
    ),
    "longer": (
        "clip-for-aisle.mp4",
        "clip-for-aisle-2.mp4",
        [("warn", "file-name-length"), ("note", "file-name")],
    ),
    "shorter": ("clip-for-aisle.mp4", "clip.mp4", [("note", "file-name")]),
    "another ending": ("clip.mp4", "clip.m4v", [("fail", "file-extension")]),
    "elsewhere": ("clip.mp4", "in/clip.mp4", [("fail", "file-misplaced"), ("note", None)]),
}


@pytest.mark.parametrize("name", NAMES)
def test_the_same_content_under_another_name(name: str) -> None:
    good, bad, expected = NAMES[name]
    found = compared([clip(good, "x")], [clip(bad, "x")])
    told = [(each.severity, each.rule) for each in found.differences]
    assert told == expected
    for each in found.differences:
        assert_sentence(each.message)
        assert_sentence(each.action)


def test_names_like_others_on_the_good_card_are_known_to_play() -> None:
    good = [clip("clip.mp4", "x"), clip("früh am morgen.m4v"), clip("in/a.mp4")]
    bad = [clip("in/glück im.m4v", "x"), *good[1:]]
    told = [(each.severity, each.rule) for each in compared(good, bad).differences]
    assert told == [("warn", "file-extension"), ("warn", "play-order"), ("note", "file-misplaced")]


def test_an_item_that_the_good_card_has_not_is_held_against_all_its_names() -> None:
    found = compared([clip("clip.mp4")], [clip("clip.mp4"), clip("in/ü.mp4")])
    assert [(each.severity, each.rule, each.bad_path) for each in found.differences] == [
        ("fail", "file-misplaced", "in/ü.mp4"),
        ("fail", "file-name", "in/ü.mp4"),
        ("warn", None, "in/ü.mp4"),
        ("note", None, "in"),
    ]
