"""Puts a finished check where people want it: as JSON, as a page, as a contact sheet.

It must not check anything; files appear whole or not at all.
"""

from __future__ import annotations

import io
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from mediacheck.errors import OutputError, WrongUse
from mediacheck.output import write_atomically

if TYPE_CHECKING:
    from mediacheck.check import Checked
    from mediacheck.report.model import Report

PAGE_PICTURES = 3
PAGE_ITEMS = 100
"""A page with more items than this shows no frames: it would be too heavy to send."""


@dataclass(frozen=True, slots=True)
class Places:
    """Which files to write; None: not wanted."""

    json: Path | None = None
    html: Path | None = None
    sheet: Path | None = None

    def pictures(self, items: int) -> int:
        """How many frames of each of so many items these files need."""
        if self.sheet is not None:
            from mediacheck.sheet.contact import pictures_per_item

            return pictures_per_item(items)
        return PAGE_PICTURES if self.html and items <= PAGE_ITEMS else 0

    def require(self, *untouched: Path) -> None:
        """Say before a long check what could not be written after it. Raises WrongUse or OutputError.

        `untouched` are the card and the profile: nothing may be written on the one or over the other.
        """
        wanted = [path for path in (self.json, self.html, self.sheet) if path is not None]
        places = [Path(os.path.realpath(path)) for path in wanted]
        if len(set(places)) < len(places):
            raise WrongUse("Two results cannot be written to the same file: give each a name of its own.")
        for named in wanted:
            require_apart(named, untouched)
        if self.sheet is not None:
            from mediacheck.paper.files import require_place

            require_place(self.sheet, "contact sheet")
        for path in (self.json, self.html):
            if path is not None and path.is_dir():
                raise OutputError(f"{path} cannot be written: it is a folder.")
            if path is not None and not path.parent.is_dir():
                raise OutputError(f"{path} cannot be written: there is no folder {path.parent}.")


def require_apart(path: Path, untouched: Iterable[Path]) -> None:
    """WrongUse where a result would be written on a card, or over a file, that is only read."""
    place = Path(os.path.realpath(path))
    for kept in (Path(os.path.realpath(one)) for one in untouched):
        if kept == place or kept in place.parents:
            raise WrongUse(f"{path} cannot be written: {kept} is only read. Choose another place.")


def json_text(report: Report) -> str:
    """The report as JSON, with one line end at its end."""
    from mediacheck.report.record import write_json

    text = io.StringIO()
    write_json(report, text)
    return text.getvalue()


def deliver(checked: Checked, places: Places) -> tuple[Path, ...]:
    """Write what is wanted and return the files, pages of a sheet one by one. Raises OutputError."""
    written: list[Path] = []
    if places.json is not None:
        write_atomically(places.json, json_text(checked.report))
        written.append(places.json)
    if places.html is not None:
        write_atomically(places.html, _page(checked))
        written.append(places.html)
    if places.sheet is not None:
        written.extend(_sheet(checked, places.sheet))
    return tuple(written)


def _page(checked: Checked) -> str:
    from mediacheck.report.html import as_html
    from mediacheck.sheet.thumbnails import data_uris

    return as_html(checked.report, data_uris(checked.pictures, checked.report.screen, PAGE_PICTURES))


def _sheet(checked: Checked, path: Path) -> tuple[Path, ...]:
    from mediacheck.paper.files import write_document
    from mediacheck.sheet.contact import contact_sheet
    from mediacheck.sheet.document import cards_document

    document = cards_document([contact_sheet(checked.report, checked.pictures)])
    return write_document(document, path, checked.report.checked_at)
