"""The cards are what the demo says of them: one without a flaw, one with a typical lot."""

from __future__ import annotations

from itertools import pairwise

from mediacheck.demo.cards import AISLE, APPLE_DOUBLE, FACES, WINDOW
from mediacheck.names import RULE_NAMES


def test_one_face_is_in_landscape_and_the_other_upright() -> None:
    assert [(face.name, face.profile) for face in FACES] == [
        ("aisle side", "basic-1080p"),
        ("window side", "portrait-1080p"),
    ]
    assert {item.clip.upright for item in AISLE.items} == {False}
    assert {item.clip.upright for item in WINDOW.items} == {True}


def test_the_window_card_has_no_flaw() -> None:
    assert WINDOW.flaws == frozenset()
    assert {item.clip.flaw for item in WINDOW.items} == {None}
    assert WINDOW.leftovers == ()


def test_the_aisle_card_has_typical_flaws_each_of_a_rule_that_exists() -> None:
    spoilt = {path for _, path in AISLE.flaws}
    assert len(spoilt) >= 8
    assert {rule for rule, _ in AISLE.flaws} <= set(RULE_NAMES)
    assert len([item for item in AISLE.items if not item.breaks]) == 2


def test_every_clip_with_a_flaw_says_which_rule_it_breaks() -> None:
    silent = [item.path for face in FACES for item in face.items if item.clip.flaw and not item.breaks]
    assert silent == []


def test_items_are_numbered_in_the_order_in_which_they_play() -> None:
    for face in FACES:
        numbers = [item.path.rpartition("/")[2][:2] for item in face.items]
        assert numbers == [f"{place:02}" for place in range(1, len(numbers) + 1)]
        assert all(one < other for one, other in pairwise(numbers))


def test_no_two_clips_of_the_display_show_the_same() -> None:
    scenes = [item.clip.scene for face in FACES for item in face.items]
    assert len(set(scenes)) == len(scenes)


def test_the_side_file_is_laid_out_as_apple_double() -> None:
    """RFC 1740 (from memory): magic, version, 16 bytes, count, then 12 bytes an entry."""
    count = int.from_bytes(APPLE_DOUBLE[24:26])
    entries = [APPLE_DOUBLE[26 + 12 * i : 38 + 12 * i] for i in range(count)]
    parts = [tuple(int.from_bytes(entry[at : at + 4]) for at in (0, 4, 8)) for entry in entries]
    assert APPLE_DOUBLE[:8] == bytes.fromhex("0005160700020000")
    assert parts == [(9, 26 + 12 * count, 32), (2, 26 + 12 * count + 32, 0)]
