"""Pieces that pages are put together from: headings, sentences, lists to tick, tables, pictures with words.

They must not know what they say, or on which page they stand: `flow` puts them there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

from PIL import Image

from mediacheck.paper.canvas import Box, Canvas, Edge, Point
from mediacheck.paper.look import (
    BLACK,
    GREY,
    HAIRLINE,
    HEADING_PT,
    LINE_MM,
    NAME_PT,
    RULE_MM,
    SMALL_PT,
    TEXT_PT,
    TITLE_PT,
    Ink,
    Weight,
)
from mediacheck.paper.text import line_mm, paragraph

CELL_GAP_MM = 3.0
TICK_MM, TICK_ROOM_MM = 3.6, 6.5
"""A box to tick with a pen, and the room for it beside its words."""
WRITING_MM = 8.0
"""A line to write on by hand (common practice, no source)."""
ROUGHLY = 1e-6
"""Millimetres that sums of lengths may be off by."""


class Block(Protocol):
    """Something as wide as it is told to be, which knows how high it is then."""

    def height_mm(self, width_mm: float) -> float:
        """How much room it takes."""

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw it at the top of the box, whose width counts."""

    def split(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """A part that fits into so much height, and the rest; None where it stays whole."""


@dataclass(frozen=True, slots=True)
class Words:
    """Sentences, broken into lines."""

    words: str
    size_pt: float = NAME_PT
    weight: Weight = "regular"
    ink: Ink = BLACK

    def lines(self, width_mm: float) -> tuple[str, ...]:
        """As they stand on paper."""
        return paragraph(self.words, self.size_pt, self.weight, width_mm)

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return len(self.lines(width_mm)) * line_mm(self.size_pt)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""
        for row, line in enumerate(self.lines(box.width)):
            at = Point(box.left, box.top + row * line_mm(self.size_pt))
            canvas.text(at, line, self.size_pt, self.weight, ink=self.ink)

    def split(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """See `Block`. No line is left alone on a page."""
        lines = self.lines(width_mm)
        fit = min(int((room_mm + ROUGHLY) / line_mm(self.size_pt)), len(lines) - 2)
        if fit < 2:
            return None
        first, rest = "\n".join(lines[:fit]), "\n".join(lines[fit:])
        return tuple(Words(part, self.size_pt, self.weight, self.ink) for part in (first, rest))  # type: ignore[return-value]


@dataclass(frozen=True, slots=True)
class Heading:
    """What the blocks after it are about; level 1 is the title of the page. It stays with the next block."""

    words: str
    level: int = 2

    @property
    def _lines(self) -> Words:
        sizes = {1: TITLE_PT, 2: HEADING_PT}
        return Words(self.words, sizes.get(self.level, NAME_PT), "bold")

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return self._lines.height_mm(width_mm) + (1.5 if self.level == 2 else 0)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`. A line under those of level 2."""
        self._lines.draw(canvas, box)
        if self.level == 2:
            y = box.top + self._lines.height_mm(box.width) + 0.6
            canvas.line(Point(box.left, y), Point(box.right, y), width_mm=RULE_MM)

    def split(self, width_mm: float, room_mm: float) -> None:
        """See `Block`."""


@dataclass(frozen=True, slots=True)
class Space:
    """Room with nothing in it."""

    mm: float

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return self.mm

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""

    def split(self, width_mm: float, room_mm: float) -> None:
        """See `Block`."""


@dataclass(frozen=True, slots=True)
class TickBox:
    """An empty box for a tick, beside a first line of letters of this size."""

    beside_pt: float = NAME_PT

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return max(TICK_MM, line_mm(self.beside_pt))

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""
        down = max(0.0, (line_mm(self.beside_pt) - TICK_MM) / 2)
        canvas.box(Box(box.left, box.top + down, TICK_MM, TICK_MM), width_mm=RULE_MM)

    def split(self, width_mm: float, room_mm: float) -> None:
        """See `Block`."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with words under it; as wide as there is room, but not higher than it may be."""

    image: Image.Image
    caption: str = ""
    height_max_mm: float = 80.0

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return self._size_mm(width_mm)[1] + self._caption_mm(width_mm)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""
        width, height = self._size_mm(box.width)
        placed = Box(box.left, box.top, width, height)
        canvas.picture(placed.inset(LINE_MM), self.image)
        canvas.box(placed)
        if self.caption:
            self._caption.draw(canvas, Box(box.left, box.top + height + 0.8, box.width, 0))

    def split(self, width_mm: float, room_mm: float) -> None:
        """See `Block`."""

    @property
    def _caption(self) -> Words:
        return Words(self.caption, TEXT_PT)

    def _caption_mm(self, width_mm: float) -> float:
        return self._caption.height_mm(width_mm) + 0.8 if self.caption else 0.0

    def _size_mm(self, width_mm: float) -> tuple[float, float]:
        shape = self.image.width / self.image.height
        width = min(width_mm, self.height_max_mm * shape)
        return width, width / shape


@dataclass(frozen=True, slots=True)
class WritingLine:
    """A label and a line to write on after it."""

    label: str

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return max(WRITING_MM, Words(self.label).height_mm(width_mm * 0.4) + 1)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""
        words, bottom = Words(self.label), box.top + self.height_mm(box.width) - 1
        label_mm = box.width * 0.4
        words.draw(canvas, Box(box.left, bottom - words.height_mm(label_mm), label_mm, 0))
        canvas.line(Point(box.left + label_mm + 1, bottom), Point(box.right, bottom))

    def split(self, width_mm: float, room_mm: float) -> None:
        """See `Block`."""


@dataclass(frozen=True, slots=True)
class Row:
    """Blocks side by side. A width of None is an equal share of what the others leave."""

    cells: tuple[Block, ...]
    widths_mm: tuple[float | None, ...] = ()
    ruled: bool = False
    """A thin line below."""

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return max(cell.height_mm(width) for cell, _, width in self._placed(width_mm)) + self._rule_mm

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""
        height = self.height_mm(box.width)
        for cell, left, width in self._placed(box.width):
            cell.draw(canvas, Box(box.left + left, box.top, width, height - self._rule_mm))
        if self.ruled:
            y = box.top + height - self._rule_mm / 2
            canvas.line(Point(box.left, y), Point(box.right, y), ink=HAIRLINE)

    def split(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """See `Block`. Cells that fit stand in the first part."""
        parts = list[tuple[Block, Block]]()
        for cell, _, width in self._placed(width_mm):
            if cell.height_mm(width) <= room_mm - self._rule_mm + ROUGHLY:
                parts.append((cell, Space(0)))
            elif part := cell.split(width, room_mm - self._rule_mm):
                parts.append(part)
            else:
                return None
        first, rest = (Row(tuple(cells), self.widths_mm, self.ruled) for cells in zip(*parts, strict=True))
        return first, rest

    @property
    def _rule_mm(self) -> float:
        return 1.6 if self.ruled else 0.0

    def _placed(self, width_mm: float) -> Iterator[tuple[Block, float, float]]:
        """Each cell, where it begins, and how wide it is."""
        widths = self.widths_mm or (None,) * len(self.cells)
        left = width_mm - sum(width or 0 for width in widths) - CELL_GAP_MM * (len(widths) - 1)
        share, at = left / max(1, widths.count(None)), 0.0
        for cell, width in zip(self.cells, widths, strict=True):
            yield cell, at, share if width is None else width
            at += (share if width is None else width) + CELL_GAP_MM


@dataclass(frozen=True, slots=True)
class Stack:
    """Blocks one below the other, with so much room between them."""

    blocks: tuple[Block, ...]
    between_mm: float = 1.0

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        heights = [block.height_mm(width_mm) for block in self.blocks]
        return sum(heights) + self.between_mm * max(0, len(heights) - 1)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`."""
        top = box.top
        for block in self.blocks:
            height = block.height_mm(box.width)
            block.draw(canvas, Box(box.left, top, box.width, height))
            top += height + self.between_mm

    def split(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """See `Block`."""
        left = room_mm
        for place, block in enumerate(self.blocks):
            height = block.height_mm(width_mm)
            if height > left + ROUGHLY:
                part = block.split(width_mm, left)
                first = (*self.blocks[:place], *(part[:1] if part else ()))
                rest = (*(part[1:] if part else (block,)), *self.blocks[place + 1 :])
                return (Stack(first, self.between_mm), Stack(rest, self.between_mm)) if first else None
            left -= height + self.between_mm
        return None


@dataclass(frozen=True, slots=True)
class Framed:
    """A block with a line around it, and room between them."""

    inner: Block
    edge: Edge = "plain"
    fill: Ink | None = None
    width_mm: float = RULE_MM
    room_mm: float = 2.5

    def height_mm(self, width_mm: float) -> float:
        """See `Block`."""
        return self.inner.height_mm(width_mm - 2 * self.room_mm) + 2 * self.room_mm

    def draw(self, canvas: Canvas, box: Box) -> None:
        """See `Block`. In a row, all frames are as high as the row."""
        whole = Box(box.left, box.top, box.width, max(box.height, self.height_mm(box.width)))
        canvas.box(whole, fill=self.fill, width_mm=self.width_mm, edge=self.edge)
        self.inner.draw(canvas, whole.inset(self.room_mm))

    def split(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """See `Block`."""
        parts = self.inner.split(width_mm - 2 * self.room_mm, room_mm - 2 * self.room_mm)
        if parts is None:
            return None
        first, rest = (Framed(part, self.edge, self.fill, self.width_mm, self.room_mm) for part in parts)
        return first, rest


def tick(words: str, why: str = "", size_pt: float = NAME_PT) -> Row:
    """Something to do and to tick, with its reason in smaller letters."""
    said: Block = Words(words, size_pt)
    if why:
        said = Stack((said, Words(why, min(size_pt, TEXT_PT), ink=GREY)), 0.3)
    return Row((TickBox(size_pt), said), (TICK_ROOM_MM - CELL_GAP_MM, None))


def table(
    rows: tuple[tuple[str, ...], ...], widths_mm: tuple[float | None, ...], *, first: Weight = "regular"
) -> Iterator[Block]:
    """One block for each row, with a thin line below. `first` is the weight of the first column."""
    for row in rows:
        cells = tuple(Words(words, weight="regular" if i else first) for i, words in enumerate(row))
        yield Row(cells, widths_mm, ruled=True)


def note(words: str) -> Words:
    """Something of less weight."""
    return Words(words, SMALL_PT, ink=GREY)
