"""Draws one item of the loop: its number, name and length, and its pictures on the screen.

It must not decide where on the page the item stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from math import ceil, isqrt
from typing import NamedTuple

from PIL import Image, ImageDraw

from mediacheck.measure.model import Picture
from mediacheck.report.model import ScreenShape
from mediacheck.sheet.clock import clock, length
from mediacheck.sheet.fonts import Weight
from mediacheck.sheet.paper import GREY, NAME_PX, SMALL_PX, TEXT_PX, Paper
from mediacheck.sheet.screen_view import seen_shape, view
from mediacheck.sheet.text import BLACK, Ink, draw, line_px, width_px, wrapped

SKIPPED_WORDS = "skipped or shown wrong"
NO_PICTURE_WORDS = "no picture could be read"
NUMBER_ROOM_PX, NUMBER_PX = 66, 34
TEXT_ROOM_PX = 244
GAP_PX = 14
EDGE_PX = 2
"""The line around a screen and its distance from it."""
AREA_MIN = 12_000
"""Of one screen on paper, in square pixels, before a second row is begun: enough to recognise it."""
COLUMN_GAP_PX = 24
TALLEST_PX = 340
ROWS_MAX, PICTURES_MAX = 3, 12
FINE_S = 2
"""Time codes show tenths where pictures stand closer together than this."""


class TextLine(NamedTuple):
    """One line beside the screens; `y_px` is its offset from the top of the item."""

    y_px: int
    text: str
    size_px: int
    weight: Weight = "regular"
    ink: Ink = BLACK


@dataclass(frozen=True, slots=True)
class Item:
    """What the sheet says of one item."""

    number: int
    lines: tuple[TextLine, ...]
    is_still: bool
    seconds: Fraction | None
    skipped: bool
    pictures: tuple[Picture, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """What the size of every item follows from. `area_max` bounds one screen, in square pixels."""

    screen: ScreenShape
    paper: Paper
    area_max: int

    @property
    def screens_left_px(self) -> int:
        """Where the screens of an item begin."""
        return self.paper.margin_px + NUMBER_ROOM_PX + TEXT_ROOM_PX + COLUMN_GAP_PX


@dataclass(frozen=True, slots=True)
class Grid:
    """How the screens of one item stand: so many in a row, each of this size."""

    columns: int
    rows: int
    width_px: int
    height_px: int


def grid_of(shape: Fraction, count: int, room_px: int, area_max: int) -> Grid:
    """The fewest rows in which every screen is large enough; `shape` is width divided by height."""
    for rows in range(1, min(count, ROWS_MAX) + 1):
        columns = ceil(count / rows)
        widest = (room_px - GAP_PX * (columns - 1)) // columns - 2 * EDGE_PX
        width = max(4, min(widest, isqrt(int(area_max * shape)), int(TALLEST_PX * shape)))
        grid = Grid(columns, ceil(count / columns), width, max(4, round(width / shape)))
        if width * grid.height_px >= AREA_MIN:
            break
    return grid


def item_height(item: Item, layout: Layout) -> int:
    """How much room the item takes on the page, without the space between items."""
    grid = _grid(item, layout)
    return max(grid.rows * _row_px(grid), _lines_px(item))


def draw_item(page: Image.Image, top: int, item: Item, layout: Layout) -> None:
    """Draw the item with its upper edge at `top`."""
    left = layout.paper.margin_px
    size = NUMBER_PX if width_px(str(item.number), NUMBER_PX, "bold") < NUMBER_ROOM_PX - 8 else NAME_PX
    draw(page, (left, top - 6), str(item.number), size, "bold")
    for y, text, size, weight, ink in item.lines:
        draw(page, (left + NUMBER_ROOM_PX, top + y), text, size, weight, ink=ink)
    if item.skipped:
        _draw_skipped_words(page, (left + NUMBER_ROOM_PX, top + _lines_px(item) - _skipped_px()))
    _draw_screens(page, top, item, layout)


def text_lines(
    path: str, is_still: bool, seconds: Fraction | None, start_s: Fraction | None, skipped: bool
) -> tuple[TextLine, ...]:
    """Name, folder, length and start of an item. `start_s` is when it begins in the round, if known."""
    folder, _, name = path.rpartition("/")
    lines = [TextLine(0, line, NAME_PX, "bold") for line in wrapped(name, NAME_PX, "bold", TEXT_ROOM_PX, 3)]
    inside = wrapped(f"in {folder}", SMALL_PX, "regular", TEXT_ROOM_PX, 2) if folder else ()
    lines += [TextLine(0, line, SMALL_PX, "regular", GREY) for line in inside]
    lines.append(TextLine(0, _length_words(is_still, seconds), TEXT_PX))
    if not skipped:
        lines.append(TextLine(0, _start_words(start_s), TEXT_PX))
    tops = accumulate((line_px(line.size_px) for line in lines), initial=-2)
    return tuple(line._replace(y_px=y) for line, y in zip(lines, tops, strict=False))


def _length_words(is_still: bool, seconds: Fraction | None) -> str:
    if seconds is None:
        return "length not known"
    return f"{'still, shown for' if is_still else 'lasts'} {length(seconds)}"


def _start_words(start_s: Fraction | None) -> str:
    return "start not known" if start_s is None else f"starts at {clock(start_s)}"


def _lines_px(item: Item) -> int:
    return sum(line_px(line.size_px) for line in item.lines) + (_skipped_px() + 6 if item.skipped else 0)


def _skipped_lines() -> tuple[str, ...]:
    return wrapped(SKIPPED_WORDS, TEXT_PX, "bold", TEXT_ROOM_PX - 20, 2)


def _skipped_px() -> int:
    return len(_skipped_lines()) * line_px(TEXT_PX) + 10


def _draw_skipped_words(page: Image.Image, at: tuple[int, int]) -> None:
    """White on black, which shows on grey printers too."""
    lines, (left, top) = _skipped_lines(), at
    width = max(width_px(line, TEXT_PX, "bold") for line in lines) + 20
    ImageDraw.Draw(page).rectangle((left, top, left + width, top + _skipped_px()), fill="black")
    for row, line in enumerate(lines):
        draw(page, (left + 10, top + 5 + row * line_px(TEXT_PX)), line, TEXT_PX, "bold", ink=(255, 255, 255))


def _shown(item: Item) -> tuple[Picture | None, ...]:
    """The pictures to draw, thinned out evenly where there are very many; one empty screen for none."""
    count = len(item.pictures)
    if count <= PICTURES_MAX:
        return item.pictures or (None,)
    return tuple(item.pictures[(2 * i + 1) * count // (2 * PICTURES_MAX)] for i in range(PICTURES_MAX))


def _grid(item: Item, layout: Layout) -> Grid:
    shown, room = _shown(item), layout.paper.right_px - layout.screens_left_px
    return grid_of(seen_shape(layout.screen, shown[0]), len(shown), room, layout.area_max)


def _row_px(grid: Grid) -> int:
    return grid.height_px + 2 * EDGE_PX + line_px(SMALL_PX) + 4


def _draw_screens(page: Image.Image, top: int, item: Item, layout: Layout) -> None:
    grid, shown = _grid(item, layout), _shown(item)
    size, step = (grid.width_px, grid.height_px), grid.width_px + GAP_PX + 2 * EDGE_PX
    for place, picture in enumerate(shown):
        row, column = divmod(place, grid.columns)
        left = layout.screens_left_px + EDGE_PX + column * step
        corner = (left, top + EDGE_PX + row * _row_px(grid))
        _draw_edge(page, corner, size)
        if picture is not None:
            page.paste(view(picture, layout.screen, size), corner)
            below = (left + size[0] // 2, corner[1] + size[1] + EDGE_PX + 3)
            draw(page, below, _caption(item, picture), SMALL_PX, anchor="middle")
        if item.skipped:
            _cross_out(page, corner, size)
        if picture is None:
            _draw_no_picture(page, corner, size)


def _caption(item: Item, picture: Picture) -> str:
    if item.is_still:
        return "still"
    shares = len(item.pictures)
    return clock(picture.second, tenths=item.seconds is not None and item.seconds < shares * FINE_S)


def _draw_edge(page: Image.Image, corner: tuple[int, int], size: tuple[int, int]) -> None:
    """The edge of the screen, a little way off, so that black bars and white paper are told apart."""
    left, top = corner[0] - EDGE_PX, corner[1] - EDGE_PX
    right, bottom = corner[0] + size[0] + EDGE_PX - 1, corner[1] + size[1] + EDGE_PX - 1
    ImageDraw.Draw(page).rectangle((left, top, right, bottom), outline="black")


def _draw_no_picture(page: Image.Image, corner: tuple[int, int], size: tuple[int, int]) -> None:
    """The words on white, since a cross may stand under them."""
    lines = wrapped(NO_PICTURE_WORDS, TEXT_PX, "regular", size[0] - 16, 4)
    middle, height = corner[0] + size[0] // 2, len(lines) * line_px(TEXT_PX)
    half = max(width_px(line, TEXT_PX) for line in lines) // 2 + 6
    top = corner[1] + (size[1] - height) // 2
    ImageDraw.Draw(page).rectangle((middle - half, top - 2, middle + half, top + height + 2), fill="white")
    for row, line in enumerate(lines):
        draw(page, (middle, top + row * line_px(TEXT_PX)), line, TEXT_PX, anchor="middle")


def _cross_out(page: Image.Image, corner: tuple[int, int], size: tuple[int, int]) -> None:
    """A cross from corner to corner, white under black so that it shows on any picture."""
    (left, top), (right, bottom) = corner, (corner[0] + size[0] - 1, corner[1] + size[1] - 1)
    pen = ImageDraw.Draw(page)
    for width, ink in ((7, "white"), (3, "black")):
        pen.line((left, top, right, bottom), fill=ink, width=width)
        pen.line((left, bottom, right, top), fill=ink, width=width)
