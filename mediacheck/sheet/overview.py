"""The first page of a display's sheet: all faces side by side as they stand, each with what it shows.

It must not judge: verdicts and findings come from the reports.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from mediacheck.measure.model import Picture
from mediacheck.names import VerdictWord
from mediacheck.paper.blocks import Block, Framed, Heading, Row, Space, Stack, note
from mediacheck.paper.blocks import Words as Said
from mediacheck.paper.canvas import Box, Canvas, Point
from mediacheck.paper.flow import Laid, lay_out
from mediacheck.paper.look import BLACK, GREY, HEADING_PT, NAME_PT, SMALL_PT, TEXT_PT, TINT, WHITE, Paper
from mediacheck.paper.text import line_mm, width_mm
from mediacheck.report.model import ScreenShape
from mediacheck.sheet.clock import clock
from mediacheck.sheet.contact import starts_s
from mediacheck.sheet.faces import ShownDisplay, ShownFace, likeness_words
from mediacheck.sheet.heading import ONLY_HERE_SIGN, ONLY_HERE_WORDS, draw_verdict, verdict_mm
from mediacheck.sheet.screen_view import EDGE_MM, draw_screen, draw_words, seen_shape

IN_A_ROW = {1: 1, 2: 2, 3: 3}
"""Faces side by side; four of more."""
SCREEN_MAX_MM = {1: 95.0, 2: 82.0, 3: 62.0, 4: 48.0}
"""How high the screen of a face is drawn at most, by how many stand in a row."""
BADGE_MM = 8.0
SMALL_SCREEN_MM, SMALL_GAP_MM = 17.0, 2.2
"""Screens of the strip below: at least so wide with the time below them, and the space between them."""
STRIP_TALLEST_MM = 24.0
STRIP_ROWS = {1: 2, 2: 2, 3: 2, 4: 1}
"""Rows of small screens, by how many faces stand in a row."""
NO_CARD = "no card was given for this face"
NO_PICTURE = "no picture could be read"
SIDE_BY_SIDE = "The faces as they stand, from left to right. Letters stand for the same face on every page."


def overview(display: ShownDisplay, paper: Paper) -> Laid:
    """What stands on the first page, or pages where there are many faces."""
    return lay_out(paper, _blocks(display))


def _blocks(display: ShownDisplay) -> Iterator[Block]:
    yield Heading(display.title or display.id, 1)
    about = " · ".join(
        part for part in (_named(display), display.version and f"version {display.version}") if part
    )
    yield Stack(tuple(block for block in (about and Said(about), note(SIDE_BY_SIDE)) if block))
    faces = display.faces
    columns = IN_A_ROW.get(len(faces), 4)
    # As even as can be: five stand as three and two.
    columns = ceil(len(faces) / ceil(len(faces) / columns))
    for first in range(0, len(faces), columns):
        cells: list[Block] = [_cell(face, faces, columns) for face in faces[first : first + columns]]
        yield Row((*cells, *[Space(0)] * (columns - len(cells))))
    if any(any(face.only_here.values()) for face in faces):
        yield note(f"{ONLY_HERE_SIGN} {ONLY_HERE_WORDS}")
    if display.notes:
        yield Said(display.notes, TEXT_PT)


def _named(display: ShownDisplay) -> str:
    return display.id if display.title and display.id != display.title else ""


def _cell(face: ShownFace, faces: Sequence[ShownFace], columns: int) -> Block:
    words = face.words
    name: list[Block] = [Said(words.name, HEADING_PT if columns < 4 else NAME_PT, "bold")]
    if words.place:
        name.append(Said(words.place, TEXT_PT))
    parts: list[Block] = [
        Row((Badge(face.letter), Stack(tuple(name), 0)), (BADGE_MM, None)),
        _screen(face, columns),
    ]
    if face.report is not None:
        parts.append(Verdict(face.report.verdict))
    parts += [Warned(f"{finding.message} {finding.action}") for finding in face.whose]
    if likeness := likeness_words(face, faces):
        parts.append(Warned(likeness))
    parts += [_fact(label, said) for label, said in facts_of(face) if said]
    if shown := captioned(face):
        parts.append(Strip(face.screen, shown, STRIP_ROWS[columns]))
    return Framed(Stack(tuple(parts), 1.8))


def _screen(face: ShownFace, columns: int) -> Block:
    picture = face.first_picture
    empty = NO_CARD if face.report is None else NO_PICTURE
    return Screen(face.screen, picture, SCREEN_MAX_MM[columns], empty)


def facts_of(face: ShownFace) -> tuple[tuple[str, str], ...]:
    """What the display file and the check say, each with its label; empty where they do not."""
    words = face.words
    titles = "; ".join(words.item_titles) if face.report is None else ""
    return (
        ("Card", words.card_label),
        (
            "Loop",
            " · ".join(
                part for part in (words.loop_title, words.version and f"version {words.version}") if part
            ),
        ),
        ("Length", face.length_words),
        ("Shows", titles),
        ("Input", words.input),
        ("Notes", words.notes),
    )


def _fact(label: str, said: str) -> Block:
    return Row((Said(label, SMALL_PT, ink=GREY), Said(said, TEXT_PT)), (10.0, None))


def captioned(face: ShownFace) -> tuple[tuple[Picture, str], ...]:
    """One picture of each item that plays, with the time in the round at which the item begins."""
    items = face.report.items if face.report else ()
    starts = dict(zip((item.path for item in items), starts_s(items), strict=False))
    return tuple(
        (picture, _caption(number, starts[path], picture.second in face.only_here.get(path, ())))
        for number, (path, picture) in enumerate(face.loop_pictures, 1)
    )


def _caption(number: int, start_s: Fraction | None, only_here: bool) -> str:
    time = f"#{number}" if start_s is None else clock(start_s)
    return f"{ONLY_HERE_SIGN} {time}" if only_here else time


@dataclass(frozen=True, slots=True)
class Badge:
    """The letter of a face, white on black: it stands out on paper of any colour."""

    letter: str

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return BADGE_MM

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""
        canvas.box(Box(box.left, box.top, BADGE_MM, BADGE_MM), fill=BLACK)
        at = Point(box.left + BADGE_MM / 2, box.top + (BADGE_MM - line_mm(HEADING_PT)) / 2)
        canvas.text(at, self.letter, HEADING_PT, "bold", ink=WHITE, anchor="middle")

    def split(self, width_mm: float, room_mm: float) -> None:
        """See `Block`."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What became of the check, in the same box as on the page of the card."""

    verdict: VerdictWord

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return verdict_mm(self.verdict, TEXT_PT, width_mm)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""
        draw_verdict(canvas, Point(box.left, box.top), self.verdict, TEXT_PT, box.width)

    def split(self, width_mm: float, room_mm: float) -> None:
        """See `Block`."""


@dataclass(frozen=True, slots=True)
class Warned:
    """Words that must not be overlooked: on a ground, with a strong line before them."""

    words: str

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return self._said.height_mm(width_mm - 4) + 2

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""
        whole = Box(box.left, box.top, box.width, self.height_mm(box.width))
        canvas.box(whole, fill=TINT, ink=None)
        canvas.box(Box(box.left, box.top, 1, whole.height), fill=BLACK, ink=None)
        self._said.draw(canvas, Box(box.left + 2.5, box.top + 1, box.width - 4, 0))

    def split(self, width_mm: float, room_mm: float) -> None:
        """See `Block`."""

    @property
    def _said(self) -> Said:
        return Said(self.words, TEXT_PT, "bold")


@dataclass(frozen=True, slots=True)
class Screen:
    """One screen, as high and wide as there is room, in the middle of it."""

    screen: ScreenShape
    picture: Picture | None
    height_max_mm: float
    empty: str

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return self._size_mm(width_mm)[1] + 2 * EDGE_MM

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""
        width, height = self._size_mm(box.width)
        placed = Box(box.left + (box.width - width) / 2, box.top + EDGE_MM, width, height)
        draw_screen(canvas, placed, self.screen, self.picture)
        if self.picture is None:
            canvas.box(placed, fill=TINT, ink=None)
            draw_words(canvas, placed, self.empty)

    def split(self, width_mm: float, room_mm: float) -> None:
        """See `Block`."""

    def _size_mm(self, width_mm: float) -> tuple[float, float]:
        shape = float(seen_shape(self.screen, self.picture))
        width = min(width_mm - 2 * EDGE_MM, self.height_max_mm * shape)
        return width, width / shape


@dataclass(frozen=True, slots=True)
class Strip:
    """Small screens in the order of the loop, each with the time at which it comes."""

    screen: ScreenShape
    shown: tuple[tuple[Picture, str], ...]
    rows_max: int

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        rows = ceil(len(self._drawn(width_mm)) / self._columns(width_mm))
        return rows * self._row_mm(width_mm) + (line_mm(SMALL_PT) if self._left_out(width_mm) else 0)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""
        columns, (width, height) = self._columns(box.width), self._size_mm(box.width)
        step = (box.width + SMALL_GAP_MM) / columns
        for place, (picture, caption) in enumerate(self._drawn(box.width)):
            row, column = divmod(place, columns)
            middle = box.left + column * step + (step - SMALL_GAP_MM) / 2
            top = box.top + EDGE_MM + row * self._row_mm(box.width)
            draw_screen(canvas, Box(middle - width / 2, top, width, height), self.screen, picture)
            at = Point(middle, top + height + EDGE_MM + 0.3)
            canvas.text(
                at, caption, SMALL_PT, "bold" if ONLY_HERE_SIGN in caption else "regular", anchor="middle"
            )
        if words := self._left_out(box.width):
            y = box.top + self.height_mm(box.width) - line_mm(SMALL_PT)
            canvas.text(Point(box.left, y), words, SMALL_PT, ink=GREY)

    def split(self, width_mm: float, room_mm: float) -> None:
        """See `Block`."""

    def _columns(self, width_mm: float) -> int:
        """As many as fit; screens that stand upright need only as much room as the time below them."""
        shape = float(seen_shape(self.screen, self.shown[0][0]))
        cell = max(min(SMALL_SCREEN_MM, STRIP_TALLEST_MM * shape), _time_mm())
        return max(1, int((width_mm + SMALL_GAP_MM) / (cell + SMALL_GAP_MM)))

    def _drawn(self, width_mm: float) -> tuple[tuple[Picture, str], ...]:
        """Where there is no room for all, those that only this face has stay."""
        room = self.rows_max * self._columns(width_mm)
        places = sorted(range(len(self.shown)), key=lambda place: ONLY_HERE_SIGN not in self.shown[place][1])
        return tuple(self.shown[place] for place in sorted(places[:room]))

    def _left_out(self, width_mm: float) -> str:
        left = len(self.shown) - len(self._drawn(width_mm))
        return f"and {left} more item{'' if left == 1 else 's'}" if left else ""

    def _size_mm(self, width_mm: float) -> tuple[float, float]:
        shape = float(seen_shape(self.screen, self.shown[0][0]))
        cell = (width_mm + SMALL_GAP_MM) / self._columns(width_mm) - SMALL_GAP_MM
        width = min(cell - 2 * EDGE_MM, STRIP_TALLEST_MM * shape)
        return width, width / shape

    def _row_mm(self, width_mm: float) -> float:
        return self._size_mm(width_mm)[1] + 2 * EDGE_MM + line_mm(SMALL_PT) + 1.0


def _time_mm() -> float:
    """Room for a time with its mark."""
    return width_mm(f"{ONLY_HERE_SIGN} 00:00:00", SMALL_PT, "bold")
