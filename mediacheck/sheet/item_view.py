"""Draws one item of the loop: its number, name and length, and its pictures on the screen.

It must not decide where on the page the item stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from math import ceil, sqrt
from typing import NamedTuple

from mediacheck.measure.model import Picture
from mediacheck.paper.canvas import Box, Canvas, Point
from mediacheck.paper.look import BLACK, GREY, NAME_PT, SMALL_PT, TEXT_PT, WHITE, Ink, Paper, Weight
from mediacheck.paper.text import line_mm, width_mm, wrapped
from mediacheck.report.model import ScreenShape
from mediacheck.sheet.clock import clock, length
from mediacheck.sheet.heading import ONLY_HERE_SIGN
from mediacheck.sheet.screen_view import EDGE_MM, draw_screen, draw_words, seen_shape

SKIPPED_WORDS = "skipped or shown wrong"
NO_PICTURE_WORDS = "no picture could be read"
NUMBER_ROOM_MM, NUMBER_PT = 11.2, 16.3
TEXT_ROOM_MM = 41.3
GAP_MM = 2.4
AREA_MIN_MM2 = 344.0
"""Of one screen on paper before a second row is begun: enough to recognise it."""
COLUMN_GAP_MM = 4.1
TALLEST_MM = 57.6
CAPTION_MM = 14.0
"""Room for a time with its mark below each screen, however narrow that is."""
ROWS_MAX, PICTURES_MAX = 3, 12
FINE_S = 2
"""Time codes show tenths where pictures stand closer together than this."""


class TextLine(NamedTuple):
    """One line beside the screens; `y_mm` is its offset from the top of the item."""

    y_mm: float
    text: str
    size_pt: float
    weight: Weight = "regular"
    ink: Ink = BLACK


class ItemWords(NamedTuple):
    """What is said of an item."""

    name: str
    inside: str
    """Which folder it is in; empty for the root of the card."""
    times: tuple[str, ...]
    """How long it lasts and when it starts."""


@dataclass(frozen=True, slots=True)
class Item:
    """What the sheet says of one item."""

    number: int
    words: ItemWords
    lines: tuple[TextLine, ...]
    """The words as they stand beside the screens."""
    is_still: bool
    seconds: Fraction | None
    skipped: bool
    pictures: tuple[Picture, ...]
    only_here: frozenset[float] = frozenset()
    """Seconds of the pictures that no other face shows."""


@dataclass(frozen=True, slots=True)
class Layout:
    """What the size of every item follows from. `area_max_mm2` bounds one screen."""

    screen: ScreenShape
    paper: Paper
    area_max_mm2: float

    @property
    def screens_left_mm(self) -> float:
        """Where the screens of an item begin."""
        return self.paper.margin_mm + NUMBER_ROOM_MM + TEXT_ROOM_MM + COLUMN_GAP_MM


@dataclass(frozen=True, slots=True)
class Grid:
    """How the screens of one item stand: so many in a row, each of this size."""

    columns: int
    rows: int
    width_mm: float
    height_mm: float

    @property
    def step_mm(self) -> float:
        """From one screen to the next in a row."""
        return max(self.width_mm + 2 * EDGE_MM, CAPTION_MM) + GAP_MM


def grid_of(shape: Fraction, count: int, room_mm: float, area_max_mm2: float) -> Grid:
    """The fewest rows in which every screen is large enough; `shape` is width divided by height."""
    for rows in range(1, min(count, ROWS_MAX) + 1):
        columns = ceil(count / rows)
        widest = (room_mm - GAP_MM * (columns - 1)) / columns - 2 * EDGE_MM
        width = max(0.7, min(widest, sqrt(area_max_mm2 * shape), TALLEST_MM * float(shape)))
        grid = Grid(columns, ceil(count / columns), width, max(0.7, width / float(shape)))
        if width * grid.height_mm >= AREA_MIN_MM2 and widest >= CAPTION_MM:
            break
    return grid


def item_mm(item: Item, layout: Layout) -> float:
    """How much room the item takes on the page, without the space between items."""
    grid = _grid(item, layout)
    return max(grid.rows * _row_mm(grid), _lines_mm(item))


def draw_item(canvas: Canvas, top: float, item: Item, layout: Layout) -> None:
    """Draw the item with its upper edge at `top`."""
    left, number = layout.paper.margin_mm, str(item.number)
    is_short = width_mm(number, NUMBER_PT, "bold") < NUMBER_ROOM_MM - 1.4
    canvas.text(Point(left, top - 1), number, NUMBER_PT if is_short else NAME_PT, "bold")
    for y, text, size_pt, weight, ink in item.lines:
        canvas.text(Point(left + NUMBER_ROOM_MM, top + y), text, size_pt, weight, ink=ink)
    if item.skipped:
        _draw_skipped_words(canvas, Point(left + NUMBER_ROOM_MM, top + _lines_mm(item) - _skipped_mm()))
    _draw_screens(canvas, top, item, layout)


def item_words(
    path: str, is_still: bool, seconds: Fraction | None, start_s: Fraction | None, skipped: bool
) -> ItemWords:
    """Name, folder, length and start of an item. `start_s` is when it begins in the round, if known."""
    folder, _, name = path.rpartition("/")
    times = (_length_words(is_still, seconds), *([] if skipped else [_start_words(start_s)]))
    return ItemWords(name, f"in {folder}" if folder else "", times)


def text_lines(words: ItemWords) -> tuple[TextLine, ...]:
    """The words in lines as narrow as the room for them."""
    name, inside, times = words
    lines = [TextLine(0, line, NAME_PT, "bold") for line in wrapped(name, NAME_PT, "bold", TEXT_ROOM_MM, 3)]
    small = wrapped(inside, SMALL_PT, "regular", TEXT_ROOM_MM, 2) if inside else ()
    lines += [TextLine(0, line, SMALL_PT, "regular", GREY) for line in small]
    lines += [TextLine(0, line, TEXT_PT) for line in times]
    tops = accumulate((line_mm(line.size_pt) for line in lines), initial=-0.3)
    return tuple(line._replace(y_mm=y) for line, y in zip(lines, tops, strict=False))


def caption(item: Item, picture: Picture) -> str:
    """When the picture is on the screen, and whether no other face has it."""
    shares = len(item.pictures)
    fine = item.seconds is not None and item.seconds < shares * FINE_S
    words = "still" if item.is_still else clock(picture.second, tenths=fine)
    return f"{ONLY_HERE_SIGN} {words}" if picture.second in item.only_here else words


def _length_words(is_still: bool, seconds: Fraction | None) -> str:
    """How long the item is on the screen."""
    if seconds is None:
        return "length not known"
    return f"{'still, shown for' if is_still else 'lasts'} {length(seconds)}"


def _start_words(start_s: Fraction | None) -> str:
    return "start not known" if start_s is None else f"starts at {clock(start_s)}"


def _lines_mm(item: Item) -> float:
    return sum(line_mm(line.size_pt) for line in item.lines) + (_skipped_mm() + 1 if item.skipped else 0)


def _skipped_lines() -> tuple[str, ...]:
    return wrapped(SKIPPED_WORDS, TEXT_PT, "bold", TEXT_ROOM_MM - 3.4, 2)


def _skipped_mm() -> float:
    return len(_skipped_lines()) * line_mm(TEXT_PT) + 1.7


def _draw_skipped_words(canvas: Canvas, at: Point) -> None:
    """White on black, which shows on grey printers too."""
    lines = _skipped_lines()
    width = max(width_mm(line, TEXT_PT, "bold") for line in lines) + 3.4
    canvas.box(Box(*at, width, _skipped_mm()), fill=BLACK)
    for row, line in enumerate(lines):
        place = Point(at.x + 1.7, at.y + 0.85 + row * line_mm(TEXT_PT))
        canvas.text(place, line, TEXT_PT, "bold", ink=WHITE)


def _shown(item: Item) -> tuple[Picture | None, ...]:
    """The pictures to draw, thinned out evenly where there are very many; one empty screen for none."""
    count = len(item.pictures)
    if count <= PICTURES_MAX:
        return item.pictures or (None,)
    return tuple(item.pictures[(2 * i + 1) * count // (2 * PICTURES_MAX)] for i in range(PICTURES_MAX))


def _grid(item: Item, layout: Layout) -> Grid:
    shown, room = _shown(item), layout.paper.right_mm - layout.screens_left_mm
    return grid_of(seen_shape(layout.screen, shown[0]), len(shown), room, layout.area_max_mm2)


def _row_mm(grid: Grid) -> float:
    return grid.height_mm + 2 * EDGE_MM + line_mm(SMALL_PT) + 0.7


def _draw_screens(canvas: Canvas, top: float, item: Item, layout: Layout) -> None:
    grid, shown = _grid(item, layout), _shown(item)
    inside = (grid.step_mm - GAP_MM - grid.width_mm) / 2
    for place, picture in enumerate(shown):
        row, column = divmod(place, grid.columns)
        left = layout.screens_left_mm + column * grid.step_mm + inside
        box = Box(left, top + EDGE_MM + row * _row_mm(grid), grid.width_mm, grid.height_mm)
        draw_screen(canvas, box, layout.screen, picture, crossed=item.skipped)
        if picture is None:
            draw_words(canvas, box, NO_PICTURE_WORDS)
            continue
        below = Point(box.left + box.width / 2, box.bottom + EDGE_MM + 0.5)
        weight: Weight = "bold" if picture.second in item.only_here else "regular"
        canvas.text(below, caption(item, picture), SMALL_PT, weight, anchor="middle")
