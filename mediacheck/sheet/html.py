"""The sheet as one file of HTML that stands alone: for a phone in the store, for a mail, for paper.

It must not load anything: no script, no link to the outside, no font from elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from jinja2 import Template

from mediacheck.measure.model import Picture
from mediacheck.report.pages import page_environment
from mediacheck.report.words import safe
from mediacheck.sheet.contact import ContactSheet, contact_sheet
from mediacheck.sheet.document import about_face
from mediacheck.sheet.faces import ShownDisplay, ShownFace, likeness_words
from mediacheck.sheet.heading import ONLY_HERE_SIGN, VERDICT_SIGNS, VERDICT_WORDS, legend_entries
from mediacheck.sheet.item_view import NO_PICTURE_WORDS, SKIPPED_WORDS, Item, caption
from mediacheck.sheet.overview import NO_CARD, SIDE_BY_SIDE, captioned, facts_of
from mediacheck.sheet.thumbnails import data_uri

LARGE_PX, SMALL_PX = 360, 200
LIGHT_UP_TO = 200
"""Pictures on the page in all; with more, each is smaller, so that it can still be mailed (3 MB)."""


@dataclass(frozen=True, slots=True)
class Frame:
    """One picture, as a `data:` URI, with what stands below it and what it is for those who cannot see it."""

    uri: str
    caption: str
    alt: str
    only_here: bool


@dataclass(frozen=True, slots=True)
class Row:
    """One item of a loop."""

    number: int
    name: str
    details: tuple[str, ...]
    skipped: bool
    frames: tuple[Frame, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """One face: what stands on the overview, and its items."""

    letter: str
    name: str
    place: str
    verdict: str
    tone: str
    warnings: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    first: Frame | None
    empty: str
    strip: tuple[Frame, ...]
    about: tuple[tuple[str, str], ...]
    legend: tuple[str, ...]
    rows: tuple[Row, ...]


def as_html(display: ShownDisplay) -> str:
    """The whole page, of a display or of cards that belong to none."""
    count = sum(len(pictures) for face in display.faces for pictures in face.pictures.values())
    side_px = LARGE_PX if count <= LIGHT_UP_TO else SMALL_PX
    names = " · ".join(face.words.name for face in display.faces)
    return _template().render(
        title=safe(display.title or display.id or names),
        subtitle=safe(display.version and f"version {display.version}"),
        notes=tuple(safe(line) for line in display.notes.splitlines() if line.strip()),
        is_display=bool(display.id),
        side_by_side=SIDE_BY_SIDE,
        sections=tuple(_section(face, display, side_px) for face in display.faces),
        skipped=SKIPPED_WORDS,
        no_picture=NO_PICTURE_WORDS,
        program=f"mediacheck {display.mediacheck}",
    )


def _section(face: ShownFace, display: ShownDisplay, side_px: int) -> Section:
    sheet = _sheet(face) if face.report else None
    verdict = face.report.verdict if face.report else None
    strip = tuple(_frame(face, picture, words, side_px) for picture, words in captioned(face))
    first = face.first_picture
    warnings = [f"{finding.message} {finding.action}" for finding in face.whose]
    warnings.append(likeness_words(face, display.faces))
    return Section(
        letter=face.letter,
        name=safe(face.words.name),
        place=safe(face.words.place),
        verdict=f"{VERDICT_SIGNS[verdict]} {VERDICT_WORDS[verdict]}" if verdict else "",
        tone=verdict or "",
        warnings=tuple(safe(words) for words in warnings if words),
        facts=tuple((label, safe(said)) for label, said in facts_of(face) if said),
        first=_frame(face, first, "the first item", LARGE_PX) if first else None,
        empty=NO_PICTURE_WORDS if face.report else NO_CARD,
        strip=strip,
        about=tuple((label, safe(said)) for label, said in sheet.heading.details if said) if sheet else (),
        legend=tuple(words for _, words in legend_entries(sheet.legend)) if sheet else (),
        rows=tuple(_rows(face, sheet, side_px)) if sheet else (),
    )


def _sheet(face: ShownFace) -> ContactSheet | None:
    if face.report is None:
        return None
    return contact_sheet(face.report, face.pictures, only_here=face.only_here, about=about_face(face))


def _rows(face: ShownFace, sheet: ContactSheet, side_px: int) -> Iterator[Row]:
    for item in (item for page in sheet.items for item in page):
        details = (item.words.inside, *item.words.times)
        frames = tuple(_frame(face, one, caption(item, one), side_px, item) for one in item.pictures)
        yield Row(
            item.number,
            safe(item.words.name),
            tuple(safe(words) for words in details if words),
            item.skipped,
            frames,
        )


def _frame(face: ShownFace, picture: Picture, words: str, side_px: int, item: Item | None = None) -> Frame:
    of = f" of {safe(item.words.name)}" if item else f" on {safe(face.words.name)}"
    only_here = item is not None and picture.second in item.only_here
    alt = f"Picture at {words.removeprefix(ONLY_HERE_SIGN).strip()}{of}" + (
        ", only on this face" if only_here else ""
    )
    return Frame(data_uri(picture, face.screen, side_px), words, alt, only_here)


@lru_cache(maxsize=1)
def _template() -> Template:
    return page_environment("sheet").get_template("sheet.html.j2")
