"""Draws what stands above and below the items of a page: which card this is, the verdict, the legend.

It must not judge: the verdict comes from the report.
"""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image, ImageDraw

from mediacheck.names import VerdictWord
from mediacheck.sheet.paper import GREY, HAIRLINE, SMALL_PX, TEXT_PX, TITLE_PX, VERDICT_PX, Paper
from mediacheck.sheet.screen_view import dashed_border
from mediacheck.sheet.text import draw, line_px, shortened, width_px, wrapped

VERDICT_WORDS: dict[VerdictWord, str] = {
    "pass": "will play",
    "warn": "will play, with remarks",
    "fail": "will not play as it is",
    "incomplete": "not fully checked",
}
VERDICT_SIGNS: dict[VerdictWord, str] = {"pass": "✓", "warn": "!", "fail": "✕", "incomplete": "?"}
LABEL_ROOM_PX = 104
LEGEND_SIGN_PX = (44, 25)
LEGEND_GAP_PX, FOOTER_ROW_PX = 34, 33


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
    version: str


def heading_height(heading: Heading, page: int, paper: Paper) -> int:
    """Room for the heading of a page, counted from 1, with the line under it."""
    return _top_px() + sum(line_px(TEXT_PX) * len(lines) for _, lines in _rows(heading, page, paper)) + 18


def draw_heading(image: Image.Image, heading: Heading, page: int, pages: int, paper: Paper) -> None:
    """Draw the heading at the top margin."""
    left, top = paper.margin_px, paper.margin_px
    count = f"page {page} of {pages}"
    counted = draw(image, (paper.right_px, top + 12), count, TEXT_PX, ink=GREY, anchor="right")
    title = shortened(heading.title, TITLE_PX, "bold", paper.room_px - counted - 40)
    draw(image, (left, top - 6), title, TITLE_PX, "bold")
    _draw_verdict(image, (left, top + line_px(TITLE_PX) + 2), heading.verdict)
    y = top + _top_px()
    for label, lines in _rows(heading, page, paper):
        draw(image, (left, y), label, TEXT_PX, ink=GREY)
        for line in lines:
            draw(image, (left + (LABEL_ROOM_PX if label else 0), y), line, TEXT_PX)
            y += line_px(TEXT_PX)
    ImageDraw.Draw(image).line((left, y + 8, paper.right_px - 1, y + 8), fill="black", width=2)


def footer_height(legend: Legend, paper: Paper) -> int:
    """Room for the footer above the bottom margin, with the space over it."""
    return len(_legend_rows(legend, paper)) * FOOTER_ROW_PX + 24


def draw_footer(image: Image.Image, legend: Legend, paper: Paper) -> None:
    """Draw the legend of the marks, and the program's name at the right end of its last row."""
    y = paper.height_px - paper.margin_px - footer_height(legend, paper) + 12
    pen = ImageDraw.Draw(image)
    pen.line((paper.margin_px, y, paper.right_px - 1, y), fill=HAIRLINE)
    y += 12
    for row in _legend_rows(legend, paper):
        left = paper.margin_px
        for sign, words in row:
            _draw_sign(image, (left, y), sign)
            draw(image, (left + LEGEND_SIGN_PX[0] + 10, y + 2), words, SMALL_PX)
            left += _entry_px(words) + LEGEND_GAP_PX
        y += FOOTER_ROW_PX
    at = (paper.right_px, y - FOOTER_ROW_PX + 2)
    draw(image, at, _program(legend), SMALL_PX, ink=GREY, anchor="right")


def _program(legend: Legend) -> str:
    return f"mediacheck {legend.version}"


def _entry_px(words: str) -> int:
    return LEGEND_SIGN_PX[0] + 10 + width_px(words, SMALL_PX)


def _legend_rows(legend: Legend, paper: Paper) -> list[list[tuple[str, str]]]:
    """As many entries to a row as fit, with room for the program's name at the end of each."""
    room = paper.room_px - width_px(_program(legend), SMALL_PX)
    rows, left = [list[tuple[str, str]]()], room
    for sign, words in _legend_entries(legend):
        needs = _entry_px(words) + LEGEND_GAP_PX
        if rows[-1] and needs > left:
            rows.append([])
            left = room
        rows[-1].append((sign, words))
        left -= needs
    return rows


def _top_px() -> int:
    return line_px(TITLE_PX) + line_px(VERDICT_PX) + 30


def _rows(heading: Heading, page: int, paper: Paper) -> tuple[tuple[str, tuple[str, ...]], ...]:
    if page > 1:
        return (("", wrapped(heading.brief, TEXT_PX, "regular", paper.room_px, 2)),)
    room = paper.room_px - LABEL_ROOM_PX
    return tuple(
        (label, wrapped(words, TEXT_PX, "regular", room, 3)) for label, words in heading.details if words
    )


def _draw_verdict(image: Image.Image, at: tuple[int, int], verdict: VerdictWord) -> None:
    """A box that differs in shape as well: filled where the card will not play, dashed where unsure."""
    words = f"{VERDICT_SIGNS[verdict]}  {VERDICT_WORDS[verdict]}"
    (left, top), height = at, line_px(VERDICT_PX) + 10
    box = (left, top, left + width_px(words, VERDICT_PX, "bold") + 32, top + height)
    is_filled = verdict == "fail"
    ImageDraw.Draw(image).rectangle(box, fill="black" if is_filled else None, outline="black", width=2)
    if verdict == "incomplete":
        dashed_border(image, (box[0] + 1, box[1] + 1, box[2] - 1, box[3] - 1))
    ink = (255, 255, 255) if is_filled else (0, 0, 0)
    draw(image, (left + 16, top + 5), words, VERDICT_PX, "bold", ink=ink)


def _legend_entries(legend: Legend) -> list[tuple[str, str]]:
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
    return entries


def _draw_sign(image: Image.Image, at: tuple[int, int], sign: str) -> None:
    (left, top), (width, height) = at, LEGEND_SIGN_PX
    pen, (right, bottom) = ImageDraw.Draw(image), (left + width - 1, top + height - 1)
    pen.rectangle((left, top, right, bottom), fill=(200, 200, 200), outline="black")
    if sign == "overscan":
        dashed_border(image, (left + 5, top + 4, right - 5, bottom - 4))
    elif sign == "bars":
        pen.rectangle((left, top, left + 8, bottom), fill="black")
        pen.rectangle((right - 8, top, right, bottom), fill="black")
    else:
        pen.line((left, top, right, bottom), fill="black", width=2)
        pen.line((left, bottom, right, top), fill="black", width=2)
