"""What is said of photos: which loop, which moment, or why not."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from mediacheck.identify.answers import answer_photos
from mediacheck.identify.gallery import Entry, Gallery
from tests.identify.made import CLIPS, OFFERS, SEEDS, SOIL, WATER, Pixels, frame, gallery, item, photo


def named(*photos: Pixels, among: Gallery | None = None) -> tuple[str, str]:
    known = among or gallery()
    found = answer_photos(photos, known)
    return found.answer, known.loops[found.loops[0].loop].name if found.loops else ""


@pytest.mark.parametrize("name", [WATER, SOIL, OFFERS])
@pytest.mark.parametrize("tilt", [0.0, 0.2])
def test_the_loop_on_the_screen_is_named(name: str, tilt: float) -> None:
    assert named(photo(frame(name), tilt=tilt)) == ("match", name)


def test_a_panel_that_hangs_upright_is_known_too() -> None:
    assert named(photo(frame(SEEDS), width=500)) == ("match", SEEDS)


def test_several_photos_add_up() -> None:
    assert named(photo(frame(WATER, 2)), photo(frame(WATER, -2), tilt=0.2)) == ("match", WATER)


def test_the_moment_is_told() -> None:
    found = answer_photos([photo(frame(WATER))], gallery())
    start, end = found.loops[0].seconds
    assert start - 1 <= 2.75 <= end + 1


def test_a_loop_that_is_not_known_is_none_of_them() -> None:
    among = Gallery([Entry(name, (item(name),)) for name in CLIPS if name != WATER])
    assert named(photo(frame(WATER)), among=among)[0] in ("none", "retake")


def test_two_loops_that_show_the_same_are_told_together() -> None:
    among = Gallery([Entry("a", (item(WATER),)), Entry("b", (item(WATER), item(SOIL)))])
    found = answer_photos([photo(frame(WATER))], among)
    assert found.answer == "one of"
    assert {among.loops[loop.loop].name for loop in found.loops} == {"a", "b"}


def test_what_was_exchanged_in_a_picture_makes_it_no_match() -> None:
    """As in another version made from the same template."""
    other = frame(WATER).copy()
    height, width = other.shape[:2]
    cv2.rectangle(other, (0, 0), (width, height // 2), (200, 40, 90), -1)
    cv2.putText(other, "ROSES 9.90", (20, height // 3), cv2.FONT_HERSHEY_DUPLEX, 2.5, (255, 255, 255), 5)
    assert named(photo(other))[0] != "match"


@pytest.mark.parametrize(
    ("picture", "words"),
    [
        (np.full((900, 1200, 3), 3, np.uint8), "too dark"),
        (cv2.GaussianBlur(photo(frame(WATER)), (0, 0), 25), "hold the phone still"),
    ],
)
def test_a_photo_to_be_taken_again_says_why(picture: Pixels, words: str) -> None:
    found = answer_photos([np.asarray(picture, np.uint8)], gallery())
    assert (found.answer, words in found.reason) == ("retake", True)


def test_a_room_without_a_screen_shows_none() -> None:
    room = photo(np.full((360, 640, 3), 90, np.uint8))
    assert named(room)[0] in ("none", "retake")


def test_an_empty_library_answers_too() -> None:
    assert answer_photos([photo(frame(WATER))], Gallery([])).answer == "none"
