"""The sheet of a display: a page with all faces, then the contact sheet of each card.

It must not look at cards: it draws reports and the pictures that came with them.
"""

from __future__ import annotations

from collections.abc import Sequence

from mediacheck.paper.canvas import Document, Page
from mediacheck.paper.flow import pages_of
from mediacheck.paper.look import PAPERS, PaperName
from mediacheck.sheet.contact import ContactSheet, contact_sheet
from mediacheck.sheet.faces import ShownDisplay, ShownFace
from mediacheck.sheet.overview import overview


def display_document(display: ShownDisplay, paper: PaperName = "A4") -> Document:
    """The whole sheet: of a display, or of cards that belong to none."""
    sheets = [
        contact_sheet(
            face.report,
            face.pictures,
            f"{face.letter} · {face.words.name}" if display.id else face.words.name,
            paper=paper,
            only_here=face.only_here,
            about=about_face(face),
        )
        for face in display.faces
        if face.report is not None
    ]
    if not display.id:
        return cards_document(sheets)
    title, laid = display.title or display.id, overview(display, PAPERS[paper])
    total = len(laid) + sum(len(sheet.items) for sheet in sheets)
    first = pages_of(laid, title, PAPERS[paper], total=total)
    pages = (*first, *_pages(sheets, len(laid), total))
    return Document(title, PAPERS[paper], pages, f"mediacheck {display.mediacheck}")


def cards_document(sheets: Sequence[ContactSheet]) -> Document:
    """Contact sheets one after the other, for cards that belong to no display."""
    total = sum(len(sheet.items) for sheet in sheets)
    title = " · ".join(sheet.heading.title for sheet in sheets)
    paper, version = sheets[0].layout.paper, sheets[0].legend.version
    return Document(title, paper, _pages(sheets, 0, total), f"mediacheck {version}")


def _pages(sheets: Sequence[ContactSheet], before: int, total: int) -> tuple[Page, ...]:
    pages = list[Page]()
    for sheet in sheets:
        pages.extend(sheet.pages(before + len(pages) + 1, total))
    return tuple(pages)


def about_face(face: ShownFace) -> tuple[tuple[str, str], ...]:
    """What the display file says, above what the report says."""
    words = face.words
    loop = " · ".join(
        part for part in (words.loop_title, words.version and f"version {words.version}") if part
    )
    label = f"card {words.card_label}" if words.card_label else ""
    belongs = ", ".join(part for part in (label, loop) if part)
    place = ", ".join(part for part in (words.place, words.input) if part)
    return (("Face", place), ("Belongs", belongs))
