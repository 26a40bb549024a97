"""Draws what stands above and below the items of a page: which card this is, the verdict, the legend.

It must not judge: the verdict comes from the report.
"""

from __future__ import annotations

from dataclasses import dataclass

from mediacheck.names import VerdictWord
from mediacheck.paper.canvas import Box, Canvas, Edge, Point
from mediacheck.paper.look import (
    BLACK,
    GREY,
    HAIRLINE,
    HEADING_PT,
    RULE_MM,
    SMALL_PT,
    TEXT_PT,
    TITLE_PT,
    WHITE,
    Paper,
)
from mediacheck.paper.text import line_mm, shortened, width_mm, wrapped
from mediacheck.sheet.screen_view import draw_cross, draw_overscan

VERDICT_WORDS: dict[VerdictWord, str] = {
    "pass": "will play",
    "warn": "will play, with remarks",
    "fail": "will not play as it is",
    "incomplete": "not fully checked",
}
VERDICT_SIGNS: dict[VerdictWord, str] = {"pass": "✓", "warn": "!", "fail": "✕", "incomplete": "?"}
ONLY_HERE_SIGN = "◆"
ONLY_HERE_WORDS = "only on this face, among the pictures compared"
LABEL_ROOM_MM = 17.6
SIGN_MM, SIGN_GAP_MM = (7.4, 4.2), 1.7
LEGEND_GAP_MM, FOOTER_ROW_MM, FOOTER_TOP_MM = 5.8, 5.6, 4.0
BELOW_HEADING_MM = 3.0
ROOM_MM = 150.0
"""More than any verdict needs on one line."""
SIGN_GROUND = (200, 200, 200)


@dataclass(frozen=True, slots=True)
class Heading:
    """The words above the items: `details` are pairs of a label and what it says."""

    title: str
    verdict: VerdictWord
    details: tuple[tuple[str, str], ...]
    brief: str
    """One line in place of the details, on every page but the first."""


@dataclass(frozen=True, slots=True)
class Legend:
    """What the marks on the screens mean, as far as they occur, and which program drew the page."""

    overscan_percent: float
    has_bars: bool
    has_skipped: bool
    has_only_here: bool
    version: str


def heading_mm(heading: Heading, page: int, paper: Paper) -> float:
    """Room for the heading of a page, counted from 1 within its card, with the line under it."""
    lines = sum(len(lines) for _, lines in _rows(heading, page, paper))
    return _top_mm() + line_mm(TEXT_PT) * lines + BELOW_HEADING_MM


def draw_heading(canvas: Canvas, heading: Heading, page: int, count: str, paper: Paper) -> None:
    """Draw the heading at the top margin; `count` says which page of how many this is."""
    left, top = paper.margin_mm, paper.margin_mm
    canvas.text(Point(paper.right_mm, top + 2), count, TEXT_PT, ink=GREY, anchor="right")
    room = paper.room_mm - width_mm(count, TEXT_PT) - 6.8
    canvas.text(Point(left, top - 1), shortened(heading.title, TITLE_PT, "bold", room), TITLE_PT, "bold")
    draw_verdict(canvas, Point(left, top + line_mm(TITLE_PT) + 0.4), heading.verdict)
    y = top + _top_mm()
    for label, lines in _rows(heading, page, paper):
        canvas.text(Point(left, y), label, TEXT_PT, ink=GREY)
        for line in lines:
            canvas.text(Point(left + (LABEL_ROOM_MM if label else 0), y), line, TEXT_PT)
            y += line_mm(TEXT_PT)
    canvas.line(Point(left, y + 1.4), Point(paper.right_mm, y + 1.4), width_mm=RULE_MM)


def draw_verdict(
    canvas: Canvas, at: Point, verdict: VerdictWord, size_pt: float = HEADING_PT, room_mm: float = ROOM_MM
) -> None:
    """A box that differs in shape as well: filled where the card will not play, dashed where unsure."""
    lines, side = _verdict_lines(verdict, size_pt, room_mm), size_pt / 5
    width = max(width_mm(line, size_pt, "bold") for line in lines) + 2 * side
    box = Box(at.x, at.y, width, verdict_mm(verdict, size_pt, room_mm))
    is_filled = verdict == "fail"
    edge: Edge = "dashed" if verdict == "incomplete" else "plain"
    canvas.box(box, fill=BLACK if is_filled else None, width_mm=RULE_MM, edge=edge)
    top = at.y + (box.height - len(lines) * line_mm(size_pt)) / 2
    for row, line in enumerate(lines):
        place = Point(at.x + side, top + row * line_mm(size_pt))
        canvas.text(place, line, size_pt, "bold", ink=WHITE if is_filled else BLACK)


def verdict_mm(verdict: VerdictWord, size_pt: float = HEADING_PT, room_mm: float = ROOM_MM) -> float:
    """Height of the box with the verdict."""
    return line_mm(size_pt) * (len(_verdict_lines(verdict, size_pt, room_mm)) + 0.28)


def _verdict_lines(verdict: VerdictWord, size_pt: float, room_mm: float) -> tuple[str, ...]:
    words = f"{VERDICT_SIGNS[verdict]}  {VERDICT_WORDS[verdict]}"
    return wrapped(words, size_pt, "bold", room_mm - 2 * size_pt / 5, 3)


def footer_mm(legend: Legend, paper: Paper) -> float:
    """Room for the footer above the bottom margin, with the space over it."""
    return len(_legend_rows(legend, paper)) * FOOTER_ROW_MM + FOOTER_TOP_MM


def draw_legend(canvas: Canvas, legend: Legend, paper: Paper) -> None:
    """Draw the legend of the marks, and the program's name at the right end of its last row."""
    y = paper.bottom_mm - footer_mm(legend, paper) + FOOTER_TOP_MM / 2
    canvas.line(Point(paper.margin_mm, y), Point(paper.right_mm, y), ink=HAIRLINE)
    y += FOOTER_TOP_MM / 2
    for row in _legend_rows(legend, paper):
        left = paper.margin_mm
        for sign, words in row:
            _draw_sign(canvas, Box(left, y, *SIGN_MM), sign)
            canvas.text(Point(left + SIGN_MM[0] + SIGN_GAP_MM, y + 0.4), words, SMALL_PT)
            left += _entry_mm(words) + LEGEND_GAP_MM
        y += FOOTER_ROW_MM
    at = Point(paper.right_mm, y - FOOTER_ROW_MM + 0.4)
    canvas.text(at, _program(legend), SMALL_PT, ink=GREY, anchor="right")


def _program(legend: Legend) -> str:
    return f"mediacheck {legend.version}"


def _entry_mm(words: str) -> float:
    return SIGN_MM[0] + SIGN_GAP_MM + width_mm(words, SMALL_PT)


def _legend_rows(legend: Legend, paper: Paper) -> list[list[tuple[str, str]]]:
    """As many entries to a row as fit, with room for the program's name at the end of each."""
    room = paper.room_mm - width_mm(_program(legend), SMALL_PT)
    rows, left = [list[tuple[str, str]]()], room
    for sign, words in legend_entries(legend):
        needs = _entry_mm(words) + LEGEND_GAP_MM
        if rows[-1] and needs > left:
            rows.append([])
            left = room
        rows[-1].append((sign, words))
        left -= needs
    return rows


def _top_mm() -> float:
    return line_mm(TITLE_PT) + line_mm(HEADING_PT) + 5


def _rows(heading: Heading, page: int, paper: Paper) -> tuple[tuple[str, tuple[str, ...]], ...]:
    if page > 1:
        return (("", wrapped(heading.brief, TEXT_PT, "regular", paper.room_mm, 2)),)
    room = paper.room_mm - LABEL_ROOM_MM
    return tuple(
        (label, wrapped(words, TEXT_PT, "regular", room, 3)) for label, words in heading.details if words
    )


def legend_entries(legend: Legend) -> list[tuple[str, str]]:
    """Each sign by its name, and what it means."""
    entries = list[tuple[str, str]]()
    if legend.overscan_percent > 0:
        hidden = (
            f"the screen hides what is outside the dashed line ({legend.overscan_percent:g} % at each edge)"
        )
        entries.append(("overscan", hidden))
    if legend.has_bars:
        entries.append(("bars", "the screen stays black beside the picture"))
    if legend.has_skipped:
        entries.append(("skipped", "crossed out: skipped or shown wrong"))
    if legend.has_only_here:
        entries.append(("only here", ONLY_HERE_WORDS))
    return entries


def _draw_sign(canvas: Canvas, box: Box, sign: str) -> None:
    if sign == "only here":
        canvas.text(
            Point(box.left + box.width / 2, box.top), ONLY_HERE_SIGN, TEXT_PT, "bold", anchor="middle"
        )
        return
    canvas.box(box, fill=SIGN_GROUND)
    if sign == "overscan":
        draw_overscan(canvas, box, 14)
    elif sign == "bars":
        for left in (box.left, box.right - 1.4):
            canvas.box(Box(left, box.top, 1.4, box.height), fill=BLACK)
    else:
        draw_cross(canvas, box, ((0.35, BLACK),))
