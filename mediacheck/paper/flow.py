"""Puts blocks on pages, one below the other, and says on each page which it is.

It must not know what the blocks say.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import partial

from mediacheck.paper.blocks import ROUGHLY, Block, Heading, Words
from mediacheck.paper.canvas import Box, Canvas, Document, Page, Point
from mediacheck.paper.look import GREY, HAIRLINE, SMALL_PT, Paper
from mediacheck.paper.text import line_mm, shortened, width_mm

BETWEEN_MM = 2.2
BEFORE_HEADING_MM = 5.0
FOOTER_MM = line_mm(SMALL_PT) + 4.0


@dataclass(frozen=True, slots=True)
class PageBreak:
    """What follows begins a page."""


class TooHigh(ValueError):
    """A block that no page holds and that cannot be split: a mistake of the page's maker."""


Placed = tuple[Block, Box]


Laid = tuple[tuple[Placed, ...], ...]
"""What stands where, page by page."""


def document(title: str, paper: Paper, blocks: Iterable[Block | PageBreak], creator: str) -> Document:
    """Pages with these blocks; each has the title and its number in its footer. Raises TooHigh."""
    laid = lay_out(paper, blocks)
    return Document(title, paper, pages_of(laid, title, paper), creator)


def lay_out(paper: Paper, blocks: Iterable[Block | PageBreak]) -> Laid:
    """Give each block its place; at least one page. Raises TooHigh."""
    return tuple(_pages(paper, blocks)) or ((),)


def pages_of(
    laid: Laid, title: str, paper: Paper, *, first: int = 1, total: int | None = None
) -> tuple[Page, ...]:
    """The pages, where others may stand before and after them."""
    total = total or len(laid)
    counts = [f"page {first + place} of {total}" for place in range(len(laid))]
    return tuple(
        partial(_draw, placed=placed, paper=paper, footer=(title, count))
        for placed, count in zip(laid, counts, strict=True)
    )


def draw_footer(canvas: Canvas, paper: Paper, title: str, count: str) -> None:
    """A thin line, and below it the title and which page this is."""
    y = paper.bottom_mm - line_mm(SMALL_PT)
    canvas.line(Point(paper.margin_mm, y - 1.2), Point(paper.right_mm, y - 1.2), ink=HAIRLINE)
    room = paper.room_mm - width_mm(count, SMALL_PT) - 6
    canvas.text(Point(paper.margin_mm, y), shortened(title, SMALL_PT, "regular", room), SMALL_PT, ink=GREY)
    canvas.text(Point(paper.right_mm, y), count, SMALL_PT, ink=GREY, anchor="right")


def _pages(paper: Paper, blocks: Iterable[Block | PageBreak]) -> Iterator[tuple[Placed, ...]]:
    """Headings wait until the block after them is placed."""
    page = _Page(paper)
    waiting = list[Block]()
    for block in blocks:
        if isinstance(block, PageBreak):
            if page.placed:
                yield tuple(page.placed)
            page = _Page(paper)
        elif isinstance(block, Heading):
            waiting.append(block)
        else:
            rest: Block | None = block
            while rest is not None:
                rest = page.take(waiting, rest)
                if rest is not None:
                    yield tuple(page.placed)
                    page = _Page(paper)
            waiting = []
    for heading in waiting:
        page.put(heading)
    if page.placed:
        yield tuple(page.placed)


class _Page:
    """A page that fills up."""

    def __init__(self, paper: Paper) -> None:
        self.placed = list[Placed]()
        self._paper = paper
        self._left, self._width, self._top = paper.margin_mm, paper.room_mm, paper.margin_mm
        self._bottom = paper.bottom_mm - FOOTER_MM

    def take(self, headings: list[Block], block: Block) -> Block | None:
        """Place the block below the headings, and empty them; what of it must go to the next page."""
        begun, room = bool(self.placed), self._bottom - self._top
        for heading in headings:
            room -= heading.height_mm(self._width) + (BEFORE_HEADING_MM if begun else 0.0)
            begun = True
        room -= BETWEEN_MM if begun else 0.0
        if block.height_mm(self._width) <= room + ROUGHLY:
            self._put_all(headings, block)
            return None
        if not self._waits_for_a_page(block) and (parts := block.split(self._width, room)):
            self._put_all(headings, parts[0])
            return parts[1]
        if not self.placed:
            raise TooHigh(f"no page is high enough for {block!r:.200}")
        return block

    def _waits_for_a_page(self, block: Block) -> bool:
        """Whether it stays whole on the next page: only sentences are torn where that need not be."""
        whole_page = self._bottom - self._paper.margin_mm
        return (
            bool(self.placed) and not isinstance(block, Words) and block.height_mm(self._width) <= whole_page
        )

    def put(self, block: Block) -> None:
        """Place a block, whether or not there is room."""
        height = block.height_mm(self._width)
        self._top += self._before_mm(block)
        self.placed.append((block, Box(self._left, self._top, self._width, height)))
        self._top += height

    def _put_all(self, headings: list[Block], block: Block) -> None:
        for one in (*headings, block):
            self.put(one)
        headings.clear()

    def _before_mm(self, block: Block) -> float:
        if not self.placed:
            return 0.0
        return BEFORE_HEADING_MM if isinstance(block, Heading) else BETWEEN_MM


def _draw(canvas: Canvas, placed: tuple[Placed, ...], paper: Paper, footer: tuple[str, str]) -> None:
    for block, box in placed:
        block.draw(canvas, box)
    draw_footer(canvas, paper, *footer)
