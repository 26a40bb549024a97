"""Which pictures tell faces apart: those that no other face has are chosen and marked, and no others."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import cv2
import numpy as np
import pytest

from mediacheck.measure.model import Picture
from mediacheck.sheet.telling import Loop, told_apart
from tests.measure.test_choice import Rgb, picture, scene

LOGO = (slice(5, 25), slice(120, 155))


def loop(**items: list[Rgb]) -> Loop:
    """A picture a second of each item."""
    pictures = {
        path: tuple(picture(rgb, float(i)) for i, rgb in enumerate(rgbs)) for path, rgbs in items.items()
    }
    return Loop(pictures, {path: Fraction(len(rgbs)) for path, rgbs in items.items()})


def encoded(rgb: Rgb, quality: int = 40) -> Rgb:
    """As another encoder would leave it."""
    _, packed = cv2.imencode(".jpg", rgb, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR), np.uint8)


def branded(rgb: Rgb) -> Rgb:
    """The same with another logo in a corner."""
    changed = rgb.copy()
    changed[LOGO] = 255 - changed[LOGO]
    return changed


COMMON = {"a": [scene(1), scene(2), scene(3)], "b": [scene(4), scene(5)], "c": [scene(6), scene(7)]}


def test_the_item_that_only_one_face_has_is_marked_on_both() -> None:
    ours, theirs = told_apart(
        [loop(**COMMON, end=[scene(8), scene(9)]), loop(**COMMON, end=[scene(10), scene(11)])], 4
    )
    assert ours.only_here == {"end": frozenset({0.0, 1.0})}
    assert theirs.only_here == {"end": frozenset({0.0, 1.0})}
    assert ours.common == (1.0, 7 / 9)
    assert theirs.common == (7 / 9, 1.0)


def test_marked_pictures_are_chosen_first_and_stand_for_their_item() -> None:
    film = [scene(number) for number in range(1, 8)]
    other = [*film[:5], scene(20), film[6]]
    ours, theirs = told_apart([loop(film=film), loop(film=other)], 2)
    for told in (ours, theirs):
        assert told.only_here == {"film": frozenset({5.0})}
        assert 5.0 in [one.second for one in told.pictures["film"]]
        assert len(told.pictures["film"]) == 2
        assert told.lead["film"].second == 5.0


def test_loops_that_have_little_in_common_bear_no_marks() -> None:
    ours, theirs = told_apart([loop(a=[scene(1), scene(2)]), loop(a=[scene(3), scene(4)])], 4)
    assert (ours.only_here, theirs.only_here) == ({}, {})
    assert (ours.common, theirs.common) == ((1.0, 0.0), (0.0, 1.0))


def test_the_same_loop_encoded_again_is_the_same() -> None:
    again = {path: [encoded(rgb) for rgb in rgbs] for path, rgbs in COMMON.items()}
    ours, theirs = told_apart([loop(**COMMON), loop(**again)], 4)
    assert (ours.only_here, theirs.only_here) == ({}, {})
    assert (ours.common, theirs.common) == ((1.0, 1.0), (1.0, 1.0))


def test_another_logo_at_the_same_moment_is_a_difference() -> None:
    other = {**COMMON, "b": [branded(encoded(rgb)) for rgb in COMMON["b"]]}
    ours, theirs = told_apart([loop(**COMMON), loop(**other)], 4)
    assert ours.only_here == theirs.only_here == {"b": frozenset({0.0, 1.0})}


def test_a_logo_is_no_difference_where_the_moments_differ() -> None:
    """Pictures of one scene that were taken at different moments differ anyway: nothing is claimed."""
    other = loop(**{**COMMON, "b": [branded(rgb) for rgb in COMMON["b"]]})
    later = {
        path: tuple(replace(one, second=one.second + 0.3) for one in some)
        for path, some in other.pictures.items()
    }
    ours, theirs = told_apart([loop(**COMMON), Loop(later, other.seconds)], 4)
    assert (ours.only_here, theirs.only_here) == ({}, {})


def test_a_mark_says_that_none_of_the_other_faces_has_it() -> None:
    first = loop(**COMMON, end=[scene(8)])
    second = loop(**COMMON, end=[scene(9)])
    third = loop(other=[scene(20)], end=[scene(8)])
    told = told_apart([first, second, third], 4)
    assert [one.only_here for one in told] == [{}, {"end": frozenset({0.0})}, {}]


def test_black_pictures_count_for_nothing() -> None:
    black = np.zeros((90, 160, 3), np.uint8)
    (ours, theirs) = told_apart([loop(a=[black, scene(1)]), loop(a=[black, scene(2)])], 4)
    assert ours.common == (1.0, 0.0)
    assert theirs.only_here == {}


@pytest.mark.parametrize("empty", [{}, {"a": ()}])
def test_a_card_without_pictures_is_like_no_other(empty: dict[str, tuple[Picture, ...]]) -> None:
    ours, theirs = told_apart([Loop(empty, {}), loop(**COMMON)], 4)
    assert (ours.only_here, ours.common, theirs.common) == ({}, (1.0, 0.0), (0.0, 1.0))
    assert ours.lead == {}


def test_one_face_by_itself_has_nothing_to_be_told_from() -> None:
    (one,) = told_apart([loop(**COMMON)], 2)
    assert (one.only_here, one.common) == ({}, (1.0,))
    assert [len(pictures) for pictures in one.pictures.values()] == [2, 2, 2]


def test_another_item_that_looks_alike_does_not_hide_that_the_picture_is_there() -> None:
    """Items of one design differ in a few places; the same item, looked at a little later, is still found."""
    design = [branded(scene(1)), scene(2)]
    ours = loop(a=[scene(1)], b=design, c=[scene(3)], d=[scene(4)])
    theirs = loop(b=design, c=[scene(3)], d=[scene(4)])
    shifted = (replace(picture(scene(1), 0.0), second=0.4),)
    other = Loop({"a": shifted, **theirs.pictures}, {"a": Fraction(1), **theirs.seconds})
    found, back = told_apart([ours, other], 4)
    assert (found.only_here, back.only_here) == ({}, {})
    assert (found.common, back.common) == ((1.0, 1.0), (1.0, 1.0))
