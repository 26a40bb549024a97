"""Reports, pictures and pages with known truth, for the tests of the sheet room."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

from PIL import Image

from mediacheck.card.model import Entry
from mediacheck.loop import File
from mediacheck.measure.model import Picture
from mediacheck.names import VerdictWord
from mediacheck.paper.png import Pages
from mediacheck.report.model import Counts, PlayItem, ProfileName, Report, ScreenShape
from mediacheck.sheet.contact import contact_sheet
from mediacheck.sheet.document import cards_document
from tests.paper.pixels import Colour

LANDSCAPE = ScreenShape(1920, 1080, 0, 0)
PORTRAIT = ScreenShape(1920, 1080, 0, 90)
WHITE: Colour = (255, 255, 255)
BLACK: Colour = (0, 0, 0)
SUN: Colour = (255, 200, 0)
LEAF: Colour = (30, 140, 60)


def picture(size: tuple[int, int] = (320, 180), second: float = 0.0, ground: Colour = LEAF) -> Picture:
    """Green with a yellow marker in the top left corner, a quarter of the width and height."""
    image = Image.new("RGB", size, ground)
    image.paste(SUN, (0, 0, size[0] // 4, size[1] // 4))
    return Picture(second, *size, image.tobytes())


def plays(path: str, seconds: int | Fraction | None = 12, *, skipped: bool = False) -> PlayItem:
    return PlayItem(path, None if seconds is None else Fraction(seconds), skipped)


def report(
    items: Sequence[PlayItem],
    screen: ScreenShape = LANDSCAPE,
    verdict: VerdictWord = "pass",
    source: str = "/cards/WATER-LEFT",
    *,
    order_known: bool = False,
    disk_order: bool = False,
) -> Report:
    """A report of a card with these items; names that end in .jpg are stills."""
    files = tuple(_file(place, item.path) for place, item in enumerate(items))
    lengths = [item.seconds for item in items]
    known = [seconds for seconds in lengths if seconds is not None]
    return Report(
        version="1.2.3",
        checked_at=datetime(2026, 1, 31, 9, 30, tzinfo=UTC),
        depth="full",
        profile=ProfileName("basic-1080p", "Basic player", "0" * 64),
        screen=screen,
        verdict=verdict,
        source=source,
        kind="folder",
        volume=None,
        order_known=order_known,
        disk_order=disk_order,
        files=files,
        items=tuple(items),
        loop_seconds=sum(known, Fraction(0)) if len(known) == len(lengths) else None,
        findings=(),
        checks=Counts(1, 0, 0, 0),
        not_checked=(),
    )


def _file(place: int, path: str) -> File:
    return File(Entry(path, 1, place, Path(path)), "still" if path.endswith(".jpg") else "video")


def pages_of(
    report: Report, pictures: Mapping[str, tuple[Picture, ...]], title: str | None = None, **more: object
) -> Pages:
    """The contact sheet as pictures."""
    return Pages(cards_document([contact_sheet(report, pictures, title, **more)]))  # type: ignore[arg-type]
