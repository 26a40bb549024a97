"""One picture on the screen as a viewer sees it: turned, with bars, with the overscan border."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from mediacheck.report.model import ScreenShape
from mediacheck.sheet.screen_view import has_bars, marked, overscan_box, seen_shape, view
from tests.paper.pixels import Colour, alike, at
from tests.sheet.recipes import BLACK, LEAF, SUN, WHITE, picture

UNKNOWN = ScreenShape(None, None, 0, 0)


def corners(image: Image.Image) -> dict[str, Colour]:
    """The colours near the four corners."""
    right, bottom = image.width - 9, image.height - 9
    places = {"top left": (8, 8), "top right": (right, 8), "bottom left": (8, bottom)}
    return {name: at(image, *place) for name, place in (places | {"bottom right": (right, bottom)}).items()}


def black_columns(image: Image.Image) -> list[int]:
    return [x for x in range(image.width) if all(at(image, x, y) == BLACK for y in range(image.height))]


@pytest.mark.parametrize(
    ("turned", "marker", "size"),
    [
        (0, "top left", (320, 180)),
        (90, "top right", (180, 320)),
        (180, "bottom right", (320, 180)),
        (270, "bottom left", (180, 320)),
    ],
)
def test_the_picture_turns_with_the_panel(turned: int, marker: str, size: tuple[int, int]) -> None:
    hung = view(picture(), ScreenShape(1920, 1080, 0, turned), size)
    assert hung.size == size
    for corner, colour in corners(hung).items():
        assert alike(colour, SUN if corner == marker else LEAF), corner


@pytest.mark.parametrize(
    ("stored", "screen", "bar"),
    [
        ((320, 240), (1920, 1080), 40),  # 4:3 on 16:9: (16/9 - 4/3) / 2 of the height of 180
        ((320, 180), (1920, 1080), 0),
        ((180, 320), (1920, 1080), (320 - 101) // 2),
    ],
)
def test_bars_at_the_sides_are_as_wide_as_they_must_be(
    stored: tuple[int, int], screen: tuple[int, int], bar: int
) -> None:
    hung = view(picture(stored, ground=WHITE), ScreenShape(*screen, 0, 0), (320, 180))
    columns = black_columns(hung)
    left = len([x for x in columns if x < 160])
    assert abs(left - bar) <= 1
    assert abs(len(columns) - 2 * bar) <= 1


def test_bars_above_and_below() -> None:
    hung = view(picture((320, 90), ground=WHITE), ScreenShape(1920, 1080, 0, 0), (320, 180))
    assert [at(hung, 200, y) for y in (0, 43, 46, 133, 136, 179)] == [
        BLACK,
        BLACK,
        WHITE,
        WHITE,
        BLACK,
        BLACK,
    ]


def test_bars_of_a_turned_panel_stand_where_the_viewer_sees_them() -> None:
    """A picture too narrow for the panel leaves bars at its sides, which hang above and below."""
    hung = view(picture((320, 240), ground=WHITE), ScreenShape(1920, 1080, 0, 90), (180, 320))
    assert [at(hung, 90, y) for y in (0, 38, 41, 278, 281, 319)] == [BLACK, BLACK, WHITE, WHITE, BLACK, BLACK]


@settings(deadline=None)
@given(st.integers(40, 400), st.sampled_from([(1920, 1080), (1024, 600), (1366, 768), (1920, 540)]))
def test_a_picture_of_the_shape_of_the_screen_leaves_no_bar_at_any_size(
    width: int, screen: tuple[int, int]
) -> None:
    size = (width, max(1, round(width * screen[1] / screen[0])))
    stored = (640, 640 * screen[1] // screen[0])
    hung = view(picture(stored, ground=WHITE), ScreenShape(*screen, 0, 0), size)
    last = (size[0] - 1, size[1] - 1)
    assert [at(hung, *place) for place in ((last[0], 0), (0, last[1]), last)] == [WHITE] * 3


@pytest.mark.parametrize(("turned", "size"), [(0, (200, 100)), (90, (100, 200))])
def test_the_overscan_border_stands_inside_each_edge(turned: int, size: tuple[int, int]) -> None:
    """5 % of 200 pixels and of 100: dashes at 10 from the long side's ends and at 5 from the short's."""
    grey: Colour = (128, 128, 128)
    stored = picture((200, 100), ground=grey)
    screen = ScreenShape(200, 100, 5, turned)
    hung = marked(view(stored, screen, size), screen)
    left, top, right, bottom = overscan_box(size, 5)
    inset = (10, 5) if turned == 0 else (5, 10)
    assert (left, top, right, bottom) == (*inset, size[0] - 1 - inset[0], size[1] - 1 - inset[1])
    middle = (size[0] // 2, size[1] // 2)
    rows = {y for y in range(size[1]) if at(hung, middle[0], y) in (BLACK, WHITE)}
    columns = {x for x in range(size[0]) if at(hung, x, middle[1]) in (BLACK, WHITE)}
    assert (rows, columns) == ({top, bottom}, {left, right})


def test_the_overscan_border_shows_on_black_and_on_white() -> None:
    for ground in (BLACK, WHITE):
        screen = ScreenShape(200, 100, 5, 0)
        hung = marked(view(picture((200, 100), ground=ground), screen, (200, 100)), screen)
        line = [at(hung, x, 94) for x in range(10, 190)]
        assert line.count(BLACK) == line.count(WHITE) == 90


def test_without_overscan_nothing_is_drawn_on_the_picture() -> None:
    screen = ScreenShape(200, 100, 0, 0)
    hung = marked(view(picture((200, 100), ground=WHITE), screen, (200, 100)), screen)
    assert {at(hung, x, y) for x in range(60, 200) for y in range(100)} == {WHITE}


@pytest.mark.parametrize(
    ("screen", "shape"),
    [
        (ScreenShape(1920, 1080, 3, 0), Fraction(16, 9)),
        (ScreenShape(1920, 1080, 0, 90), Fraction(9, 16)),
        (ScreenShape(1920, 1080, 0, 180), Fraction(16, 9)),
        (ScreenShape(1920, 540, 0, 270), Fraction(9, 32)),
        (UNKNOWN, Fraction(4, 3)),
        (ScreenShape(None, None, 0, 90), Fraction(3, 4)),
    ],
)
def test_the_shape_is_that_of_the_hanging_screen_or_else_of_the_picture(
    screen: ScreenShape, shape: Fraction
) -> None:
    assert seen_shape(screen, picture((320, 240))) == shape


def test_an_unknown_screen_has_no_bars() -> None:
    hung = view(picture((100, 70), ground=WHITE), UNKNOWN, (100, 70))
    assert (at(hung, 99, 0), at(hung, 0, 69)) == (WHITE, WHITE)
    assert not has_bars(picture((100, 70)), UNKNOWN)


@pytest.mark.parametrize(
    ("stored", "bars"), [((320, 180), False), ((640, 359), False), ((320, 240), True), ((320, 90), True)]
)
def test_bars_are_reported_where_there_are_some(stored: tuple[int, int], bars: bool) -> None:
    assert has_bars(picture(stored), ScreenShape(1920, 1080, 0, 0)) is bars
