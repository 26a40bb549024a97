"""One item on paper: how its screens stand, what is written beside them, how a skipped one is marked."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from mediacheck.paper.look import PAPERS
from mediacheck.paper.png import PngCanvas
from mediacheck.report.model import ScreenShape
from mediacheck.sheet.item_view import (
    AREA_MIN_MM2,
    CAPTION_MM,
    GAP_MM,
    ROWS_MAX,
    TALLEST_MM,
    Item,
    Layout,
    draw_item,
    grid_of,
    item_mm,
    item_words,
    text_lines,
)
from mediacheck.sheet.screen_view import EDGE_MM
from tests.paper.pixels import Colour, alike, at, inked, mm, px
from tests.sheet.recipes import LANDSCAPE, LEAF, PORTRAIT, SUN, picture

A4 = PAPERS["A4"]
AREA_MM2, ROOM_MM = 975.0, 129.4
WHITE: Colour = (255, 255, 255)


def item(
    count: int = 4, *, skipped: bool = False, seconds: int = 12, size: tuple[int, int] = (320, 180)
) -> Item:
    pictures = tuple(picture(size, seconds * (2 * i + 1) / (2 * count)) for i in range(count))
    words = item_words("drip hose.mp4", False, Fraction(seconds), Fraction(0), skipped)
    return Item(1, words, text_lines(words), False, Fraction(seconds), skipped, pictures)


def page_of(one: Item, screen: ScreenShape = LANDSCAPE, top: int = 100) -> Image.Image:
    canvas = PngCanvas(A4)
    draw_item(canvas, mm(top), one, Layout(screen, A4, AREA_MM2))
    return canvas.image


def words(one: Item) -> list[str]:
    return [line.text for line in one.lines]


@settings(deadline=None)
@given(st.fractions(Fraction(1, 20), 20), st.integers(1, 12), st.floats(85, 155))
def test_screens_fit_the_room_and_keep_their_shape(shape: Fraction, count: int, room_mm: float) -> None:
    grid = grid_of(shape, count, room_mm, AREA_MM2)
    assert grid.columns * grid.step_mm - GAP_MM <= room_mm + 0.01
    assert grid.step_mm >= max(grid.width_mm + 2 * EDGE_MM, CAPTION_MM)
    assert grid.columns * grid.rows >= count > grid.columns * (grid.rows - 1)
    assert grid.rows <= ROWS_MAX or grid.columns == 1
    assert grid.height_mm <= TALLEST_MM + 0.01
    assert grid.width_mm * grid.height_mm <= AREA_MM2 * 1.01
    assert abs(grid.height_mm - grid.width_mm / float(shape)) < 0.01


@pytest.mark.parametrize(
    ("shape", "rows"), [(Fraction(16, 9), 1), (Fraction(9, 16), 1), (Fraction(32, 9), 2), (Fraction(4, 3), 1)]
)
def test_four_frames_stand_in_one_row_unless_that_makes_them_too_small(shape: Fraction, rows: int) -> None:
    grid = grid_of(shape, 4, ROOM_MM, AREA_MM2)
    assert (grid.rows, grid.width_mm * grid.height_mm >= AREA_MIN_MM2) == (rows, True)


@pytest.mark.parametrize("screen", [LANDSCAPE, PORTRAIT, ScreenShape(1920, 540, 0, 0)])
@pytest.mark.parametrize("count", [0, 1, 4, 12])
def test_an_item_stays_inside_its_height_and_the_margins(screen: ScreenShape, count: int) -> None:
    one = replace(item(max(1, count)), pictures=item(count).pictures if count else ())
    height = px(item_mm(one, Layout(screen, A4, AREA_MM2)))
    page = page_of(one, screen)
    assert inked(page) > 0
    assert inked(page, (0, 0, page.width, 96)) == 0
    assert inked(page, (0, 100 + height + 4, page.width, page.height)) == 0
    assert inked(page, (0, 0, px(A4.margin_mm) - 2, page.height)) == 0
    assert inked(page, (px(A4.right_mm) + 1, 0, page.width, page.height)) == 0


def marker_rows(page: Image.Image) -> list[list[int]]:
    """For each row of screens, the left ends of the yellow markers in it."""
    rows: list[list[int]] = []
    for y in range(page.height):
        found = [
            x
            for x in range(1, page.width)
            if alike(at(page, x, y), SUN, 4) and not alike(at(page, x - 1, y), SUN, 60)
        ]
        if found and (not rows or rows[-1] != found):
            rows.append(found)
    return rows


def test_every_picture_is_drawn_in_order_from_left_to_right() -> None:
    page = page_of(item(4)).crop((0, 104, 1240, 112))
    (row,) = marker_rows(page)
    steps = [right - left for left, right in pairwise(row)]
    assert len(row) == 4
    assert max(steps) - min(steps) <= 1


def test_a_turned_panel_hangs_upright_with_its_marker_at_the_right() -> None:
    one = item(1)
    grid_left = px(Layout(PORTRAIT, A4, AREA_MM2).screens_left_mm + EDGE_MM)
    page = page_of(one, PORTRAIT)
    grid = grid_of(Fraction(9, 16), 1, ROOM_MM, AREA_MM2)
    assert grid.height_mm > grid.width_mm
    assert alike(at(page, grid_left + px(grid.width_mm) - 8, 110), SUN)
    assert alike(at(page, grid_left + 8, 110), LEAF)


def test_a_skipped_item_is_crossed_out_and_says_so_in_words(drawn: list[str]) -> None:
    plain, crossed = page_of(item(1)), page_of(item(1, skipped=True))
    assert "skipped or shown wrong" in drawn
    grid = grid_of(Fraction(16, 9), 1, ROOM_MM, AREA_MM2)
    left = px(Layout(LANDSCAPE, A4, AREA_MM2).screens_left_mm + EDGE_MM)
    for share in (0.3, 0.5, 0.7):
        x, y = left + int(px(grid.width_mm) * share), 102 + int(px(grid.height_mm) * share)
        assert alike(at(plain, x, y), LEAF)
        assert at(crossed, x, y) == (0, 0, 0)


def test_an_item_without_pictures_shows_an_empty_screen_with_words(drawn: list[str]) -> None:
    page = page_of(replace(item(1), pictures=()))
    assert "no picture could be read" in " ".join(drawn)
    left = px(Layout(LANDSCAPE, A4, AREA_MM2).screens_left_mm)
    assert at(page, left, 110) == (0, 0, 0)
    assert at(page, left + 6, 110) == WHITE


def test_time_codes_rise_along_the_pictures(drawn: list[str]) -> None:
    page_of(item(4, seconds=60))
    page_of(item(4, seconds=4))
    assert [word for word in drawn if word[:2] == "0:"] == [
        *("0:08", "0:22", "0:38", "0:52"),
        *("0:00.5", "0:01.5", "0:02.5", "0:03.5"),
    ]


@pytest.mark.parametrize(
    ("path", "is_still", "seconds", "start_s", "skipped", "wanted"),
    [
        ("a.mp4", False, 12, 0, False, ["a.mp4", "lasts 0:12", "starts at 0:00"]),
        ("loop/x/a.mp4", False, 12, 75, False, ["a.mp4", "in loop/x", "lasts 0:12", "starts at 1:15"]),
        ("a.jpg", True, 8, 4, False, ["a.jpg", "still, shown for 0:08", "starts at 0:04"]),
        ("a.mp4", False, None, None, False, ["a.mp4", "length not known", "start not known"]),
        ("a.mp4", False, 12, 3, True, ["a.mp4", "lasts 0:12"]),
        ("a\n\x1b[2J.mp4", False, 12, 0, False, ["a��[2J.mp4", "lasts 0:12", "starts at 0:00"]),
    ],
)
def test_words_beside_the_screens(
    path: str, is_still: bool, seconds: int | None, start_s: int | None, skipped: bool, wanted: list[str]
) -> None:
    length_s = None if seconds is None else Fraction(seconds)
    start = None if start_s is None else Fraction(start_s)
    assert [line.text for line in text_lines(item_words(path, is_still, length_s, start, skipped))] == wanted


def test_very_many_pictures_are_thinned_out_evenly(drawn: list[str]) -> None:
    page_of(item(36, seconds=72))
    wanted_s = [3 + 6 * place for place in range(12)]
    assert [word for word in drawn if word[1:2] == ":"] == [f"{s // 60}:{s % 60:02}" for s in wanted_s]
