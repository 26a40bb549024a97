"""The contact sheet: every item of a card in play order, as it will look on the screen.

It must not look at the card: it draws a report and the pictures that came with it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from itertools import accumulate

from mediacheck.measure.model import Picture
from mediacheck.paper.canvas import Canvas, Page, Point
from mediacheck.paper.look import HAIRLINE, PAPERS, TEXT_PT, PaperName
from mediacheck.report.model import PlayItem, Report, ScreenShape
from mediacheck.sheet.clock import length
from mediacheck.sheet.heading import Heading, Legend, draw_heading, draw_legend, footer_mm, heading_mm
from mediacheck.sheet.item_view import Item, Layout, draw_item, item_mm, item_words, text_lines
from mediacheck.sheet.screen_view import has_bars

SPACE_MM = 4.4
"""Between two items, with the line that parts them in its middle."""
AREAS_MAX_MM2 = (975.0, 803.0, 631.0)
"""Largest area of one screen on paper: the largest that needs no page more is taken."""
PICTURES_UP_TO = ((300, 4), (1000, 2))
"""Most items of a loop, and how many frames of each are kept in memory; above these, one."""
EMPTY_WORDS = "There is nothing on this card that the player would play."
OnlyHere = Mapping[str, frozenset[float]]
"""By the path of an item, the seconds of its pictures that no other face shows."""


@dataclass(frozen=True, slots=True)
class ContactSheet:
    """What stands on the pages of one card."""

    heading: Heading
    legend: Legend
    layout: Layout
    items: tuple[tuple[Item, ...], ...]
    """Page by page."""

    def pages(self, first: int = 1, total: int | None = None) -> tuple[Page, ...]:
        """Its pages, where others may stand before and after them."""
        counts = [f"page {first + place} of {total or len(self.items)}" for place in range(len(self.items))]
        return tuple(partial(_draw_page, sheet=self, place=i, count=count) for i, count in enumerate(counts))


def contact_sheet(
    report: Report,
    pictures: Mapping[str, tuple[Picture, ...]],
    title: str | None = None,
    *,
    paper: PaperName = "A4",
    only_here: OnlyHere | None = None,
    about: tuple[tuple[str, str], ...] = (),
) -> ContactSheet:
    """The contact sheet of one card.

    `pictures` go by the path of the item (see `measure.frames`); what is missing there is drawn as an
    empty screen. Without a title the last part of the card's name is used. `about` are details, each a
    label and what it says, that stand before those of the report.
    """
    screen, items = report.screen, tuple(items_of(report, pictures, only_here or {}))
    heading, legend = _heading(report, title, about), legend_of(report, items)
    pages = [
        (layout, tuple(_paginated(items, heading, legend, layout))) for layout in _layouts(screen, paper)
    ]
    fewest = min(len(one) for _, one in pages)
    layout, chosen = next((layout, one) for layout, one in pages if len(one) == fewest)
    return ContactSheet(heading, legend, layout, chosen)


def pictures_per_item(items: int) -> int:
    """How many frames of each item suit the sheet of a loop with so many items.

    Four stand in one row on a 16:9 screen. Large loops take fewer, which bounds the memory.
    """
    return next((count for most, count in PICTURES_UP_TO if items <= most), 1)


def items_of(
    report: Report, pictures: Mapping[str, tuple[Picture, ...]], only_here: OnlyHere
) -> Iterator[Item]:
    """The items of the loop in play order, with the words that stand beside them."""
    stills = {file.entry.path for file in report.files if file.kind == "still"}
    for number, (item, start_s) in enumerate(zip(report.items, starts_s(report.items), strict=False), 1):
        is_still = item.path in stills
        words = item_words(item.path, is_still, item.seconds, start_s, item.skipped)
        shown, alone = pictures.get(item.path, ()), only_here.get(item.path, frozenset[float]())
        lines = text_lines(words)
        yield Item(number, words, lines, is_still, item.seconds, item.skipped, shown, alone)


def legend_of(report: Report, items: tuple[Item, ...]) -> Legend:
    """The marks that occur on these items."""
    shown = [item.pictures[0] for item in items if item.pictures]
    return Legend(
        overscan_percent=report.screen.overscan_percent,
        has_bars=any(has_bars(picture, report.screen) for picture in shown),
        has_skipped=any(item.skipped for item in items),
        has_only_here=any(item.only_here for item in items),
        version=report.version,
    )


def starts_s(items: tuple[PlayItem, ...]) -> Iterator[Fraction | None]:
    """When each item begins in the round, and when the round ends. A skipped item takes no time."""
    lengths = (Fraction(0) if item.skipped else item.seconds for item in items)
    return accumulate(lengths, _added, initial=Fraction(0))


def played_s(items: tuple[PlayItem, ...]) -> Fraction | None:
    """How long one round lasts without what is skipped."""
    *_, end_s = starts_s(items)
    return end_s


def card_name(report: Report) -> str:
    """The last part of the card's path."""
    return report.source.rstrip("/\\").replace("\\", "/").rpartition("/")[2] or report.source


def _layouts(screen: ScreenShape, paper: PaperName) -> Iterator[Layout]:
    return (Layout(screen, PAPERS[paper], area) for area in AREAS_MAX_MM2)


def _paginated(
    items: tuple[Item, ...], heading: Heading, legend: Legend, layout: Layout
) -> Iterator[tuple[Item, ...]]:
    paper = layout.paper
    whole = paper.height_mm - 2 * paper.margin_mm - footer_mm(legend, paper)
    page, number, left = list[Item](), 1, whole - heading_mm(heading, 1, paper)
    for item in items:
        needs = item_mm(item, layout) + SPACE_MM
        if page and needs > left:
            yield tuple(page)
            page, number = [], number + 1
            left = whole - heading_mm(heading, number, paper)
        page.append(item)
        left -= needs
    yield tuple(page)


def _draw_page(canvas: Canvas, sheet: ContactSheet, place: int, count: str) -> None:
    paper, number = sheet.layout.paper, place + 1
    draw_heading(canvas, sheet.heading, number, count, paper)
    draw_legend(canvas, sheet.legend, paper)
    top = paper.margin_mm + heading_mm(sheet.heading, number, paper) + SPACE_MM / 2
    for item in sheet.items[place]:
        if item is not sheet.items[place][0]:
            y = top - SPACE_MM / 2
            canvas.line(Point(paper.margin_mm, y), Point(paper.right_mm, y), ink=HAIRLINE)
        draw_item(canvas, top, item, sheet.layout)
        top += item_mm(item, sheet.layout) + SPACE_MM
    if not sheet.items[place]:
        canvas.text(Point(paper.margin_mm, top), EMPTY_WORDS, TEXT_PT)


def _added(start_s: Fraction | None, seconds: Fraction | None) -> Fraction | None:
    return None if start_s is None or seconds is None else start_s + seconds


def _heading(report: Report, title: str | None, about: tuple[tuple[str, str], ...]) -> Heading:
    name = title or card_name(report)
    checked = f"{report.checked_at:%Y-%m-%d %H:%M} UTC"
    profile = f"{report.profile.title} ({report.profile.id})" if report.profile.title else report.profile.id
    details = (
        ("Display", _display_words(report)),
        *about,
        ("Card", report.source),
        ("Profile", profile),
        ("Screen", _screen_words(report.screen)),
        ("Checked", f"{checked}, {report.depth} check"),
        ("Loop", _loop_words(report)),
        ("Order", _order_words(report)),
    )
    brief = f"card {report.source} · profile {report.profile.id} · checked {checked}"
    return Heading(name, report.verdict, details, brief)


def _display_words(report: Report) -> str:
    face = f"face {report.face}" if report.face else ""
    return ", ".join(part for part in (report.display, face) if part)


def _screen_words(screen: ScreenShape) -> str:
    if screen.width is None:
        size = "the profile gives no size, so each picture is drawn in its own shape"
    else:
        size = f"{screen.width} × {screen.height} pixels, drawn as a viewer sees it"
    turned = screen.turned_degrees
    return f"{size}; the panel hangs turned {turned}° clockwise" if turned else size


def _loop_words(report: Report) -> str:
    count, skipped = len(report.items), sum(item.skipped for item in report.items)
    words = f"{count} item{'' if count == 1 else 's'}"
    if not skipped:
        return f"{words}, {_round_words(report.loop_seconds)}"
    return f"{words}, {skipped} of them skipped or shown wrong; {_round_words(played_s(report.items))}"


def _round_words(seconds: Fraction | None) -> str:
    return (
        "how long one round lasts is not known" if seconds is None else f"one round lasts {length(seconds)}"
    )


def _order_words(report: Report) -> str:
    if not report.disk_order:
        return "by name, as the player plays"
    if report.order_known:
        return "as the card's directory lists them, as the player plays"
    return "not checked: drawn by name, but the player plays in the order of the card's directory"
