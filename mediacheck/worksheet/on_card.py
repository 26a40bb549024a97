"""What the worksheet tells of a card that was looked at: small pictures, how long, and what is wrong with it.

It must not look at a card: the sheet's pictures and the report of its quick check are given.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from PIL import Image

from mediacheck.display_files import LoadedDisplay, LoadedFace
from mediacheck.report.model import Report
from mediacheck.sheet.faces import SAYS_WHOSE, ShownDisplay, ShownFace
from mediacheck.sheet.screen_view import LONG_SIDE_PX, seen_shape, size_px, view

PICTURES_SHOWN = 3
Shown = tuple[Image.Image, str]
"""A picture, and the words under it."""


@dataclass(frozen=True, slots=True)
class OnCard:
    """One card, as far as the page of its face tells of it."""

    shown: tuple[Shown, ...] = ()
    """What the screen shows, in play order."""
    facts: str = ""
    """How many items, and how long one round lasts."""
    warnings: tuple[str, ...] = ()
    """Why it does not belong into the box, or what could not be told of it."""
    first: Image.Image | None = None
    """What must be seen first; None where that is not sure."""


def on_cards(display: LoadedDisplay, shown: ShownDisplay) -> Mapping[str, OnCard]:
    """By the name of a face: what was seen on its card. Faces without a card are not in it."""
    pairs = zip(display.faces, shown.faces, strict=True)
    return {face.name: _on_card(face, seen, seen.report) for face, seen in pairs if seen.report}


def _on_card(face: LoadedFace, seen: ShownFace, report: Report) -> OnCard:
    warnings = tuple(_warnings(report))
    starts = not warnings and (report.order_known or not report.disk_order)
    # the name of a file says what it shows only where it is the file that belongs there
    titles = [path if warnings else face.title_of(path) for path, _ in seen.loop_pictures]
    if starts and titles:
        titles[0] = f"begins with: {titles[0]}"
    views = _views(seen)
    first = views[0] if starts and views else None
    return OnCard(tuple(zip(views, titles, strict=False)), seen.length_words, warnings, first)


def _views(seen: ShownFace) -> list[Image.Image]:
    """The first pictures, as a viewer sees them."""
    return [
        view(picture, seen.screen, size_px(seen_shape(seen.screen, picture), LONG_SIDE_PX))
        for _, picture in seen.loop_pictures[:PICTURES_SHOWN]
    ]


def _warnings(report: Report) -> Iterator[str]:
    yield from (
        f"{finding.message} {finding.action}" for finding in report.findings if finding.rule in SAYS_WHOSE
    )
    for gap in report.not_checked:
        if gap.rule == "loop-wrong-face":
            yield f"It was not found out whether this is the card of this face: {gap.reason.rstrip('.')}."
    if any(one.severity == "fail" and one.rule not in SAYS_WHOSE for one in report.findings):
        yield "This card will not play right on this player: mediacheck check tells what is wrong."
