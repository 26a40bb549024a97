"""The contact sheet: every item of a card in play order, as it will look on the screen.

It must not look at the card: it draws a report and the pictures that came with it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import accumulate
from typing import overload

from PIL import Image, ImageDraw

from mediacheck.measure.model import Picture
from mediacheck.report.model import PlayItem, Report, ScreenShape
from mediacheck.sheet.clock import length
from mediacheck.sheet.heading import (
    Heading,
    Legend,
    draw_footer,
    draw_heading,
    footer_height,
    heading_height,
)
from mediacheck.sheet.item_view import Item, Layout, draw_item, item_height, text_lines
from mediacheck.sheet.paper import HAIRLINE, PAPERS, TEXT_PX, Paper, PaperName
from mediacheck.sheet.screen_view import has_bars
from mediacheck.sheet.text import draw

SPACE_PX = 26
"""Between two items, with the line that parts them in its middle."""
AREAS_MAX = (34_000, 28_000, 22_000)
"""Largest area of one screen on paper in square pixels: the largest that needs no page more is taken."""
LONG_SIDE_PX = 360
"""How large the frames need to be: no screen is drawn larger on paper."""
PICTURES_UP_TO = ((300, 4), (1000, 2))
"""Most items of a loop, and how many frames of each are kept in memory; above these, one."""
EMPTY_WORDS = "There is nothing on this card that the player would play."


class ContactSheet(Sequence[Image.Image]):
    """The pages. Each is drawn when it is asked for, so a thousand items need no more memory than ten."""

    def __init__(
        self, heading: Heading, legend: Legend, screen: ScreenShape, paper: Paper, items: tuple[Item, ...]
    ) -> None:
        self._heading, self._legend, self._paper = heading, legend, paper
        tries = [Layout(screen, paper, area) for area in AREAS_MAX]
        pages = [tuple(self._paginated(items, layout)) for layout in tries]
        fewest = min(len(one) for one in pages)
        self._layout, self._pages = next(
            (layout, one) for layout, one in zip(tries, pages, strict=True) if len(one) == fewest
        )

    def __len__(self) -> int:
        return len(self._pages)

    @overload
    def __getitem__(self, place: int) -> Image.Image: ...
    @overload
    def __getitem__(self, place: slice) -> tuple[Image.Image, ...]: ...
    def __getitem__(self, place: int | slice) -> Image.Image | tuple[Image.Image, ...]:
        if isinstance(place, slice):
            return tuple(self._page(number) for number in range(len(self))[place])
        return self._page(range(len(self))[place])

    def _paginated(self, items: tuple[Item, ...], layout: Layout) -> Iterator[tuple[Item, ...]]:
        page, number, left = list[Item](), 1, self._room(1)
        for item in items:
            needs = item_height(item, layout) + SPACE_PX
            if page and needs > left:
                yield tuple(page)
                page, number, left = [], number + 1, self._room(number + 1)
            page.append(item)
            left -= needs
        yield tuple(page)

    def _room(self, number: int) -> int:
        heading = heading_height(self._heading, number, self._paper)
        footer = footer_height(self._legend, self._paper)
        return self._paper.height_px - 2 * self._paper.margin_px - heading - footer

    def _page(self, place: int) -> Image.Image:
        paper, number = self._paper, place + 1
        image = Image.new("RGB", (paper.width_px, paper.height_px), "white")
        draw_heading(image, self._heading, number, len(self), paper)
        draw_footer(image, self._legend, paper)
        top = paper.margin_px + heading_height(self._heading, number, paper) + SPACE_PX // 2
        for item in self._pages[place]:
            if item is not self._pages[place][0]:
                line = (paper.margin_px, top - SPACE_PX // 2, paper.right_px - 1, top - SPACE_PX // 2)
                ImageDraw.Draw(image).line(line, fill=HAIRLINE)
            draw_item(image, top, item, self._layout)
            top += item_height(item, self._layout) + SPACE_PX
        if not self._pages[place]:
            draw(image, (paper.margin_px, top), EMPTY_WORDS, TEXT_PX)
        return image


def contact_sheet(
    report: Report,
    pictures: Mapping[str, tuple[Picture, ...]],
    title: str | None = None,
    *,
    paper: PaperName = "A4",
) -> ContactSheet:
    """The pages of the contact sheet of one card.

    `pictures` go by the path of the item (see `measure.frames`); what is missing there is drawn as an
    empty screen. Without a title the last part of the card's name is used.
    """
    screen, items = report.screen, tuple(_items(report, pictures))
    shown = [item.pictures[0] for item in items if item.pictures]
    legend = Legend(
        overscan_percent=screen.overscan_percent,
        has_bars=any(has_bars(picture, screen) for picture in shown),
        has_skipped=any(item.skipped for item in items),
        version=report.version,
    )
    return ContactSheet(_heading(report, title), legend, screen, PAPERS[paper], items)


def pictures_per_item(items: int) -> int:
    """How many frames of each item suit the sheet of a loop with so many items.

    Four stand in one row on a 16:9 screen. Large loops take fewer, which bounds the memory.
    """
    return next((count for most, count in PICTURES_UP_TO if items <= most), 1)


def _items(report: Report, pictures: Mapping[str, tuple[Picture, ...]]) -> Iterator[Item]:
    stills = {file.entry.path for file in report.files if file.kind == "still"}
    for number, (item, start_s) in enumerate(zip(report.items, _starts_s(report.items), strict=False), 1):
        is_still = item.path in stills
        lines = text_lines(item.path, is_still, item.seconds, start_s, item.skipped)
        yield Item(number, lines, is_still, item.seconds, item.skipped, pictures.get(item.path, ()))


def _starts_s(items: tuple[PlayItem, ...]) -> Iterator[Fraction | None]:
    """When each item begins in the round. A skipped item takes no time."""
    lengths = (Fraction(0) if item.skipped else item.seconds for item in items)
    return accumulate(lengths, _added, initial=Fraction(0))


def _added(start_s: Fraction | None, seconds: Fraction | None) -> Fraction | None:
    return None if start_s is None or seconds is None else start_s + seconds


def _heading(report: Report, title: str | None) -> Heading:
    name = title or report.source.rstrip("/\\").replace("\\", "/").rpartition("/")[2] or report.source
    checked = f"{report.checked_at:%Y-%m-%d %H:%M} UTC"
    profile = f"{report.profile.title} ({report.profile.id})" if report.profile.title else report.profile.id
    details = (
        ("Display", _display_words(report)),
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
    return f"{words}, {skipped} of them skipped or shown wrong; {_round_words(_played_seconds(report.items))}"


def _round_words(seconds: Fraction | None) -> str:
    return (
        "how long one round lasts is not known" if seconds is None else f"one round lasts {length(seconds)}"
    )


def _played_seconds(items: tuple[PlayItem, ...]) -> Fraction | None:
    *_, end_s = _starts_s(items)
    return end_s


def _order_words(report: Report) -> str:
    if not report.disk_order:
        return "by name, as the player plays"
    if report.order_known:
        return "as the card's directory lists them, as the player plays"
    return "not checked: drawn by name, but the player plays in the order of the card's directory"
