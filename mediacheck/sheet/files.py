"""Writes the sheet of cards or of a display: as pages, or as one page of HTML.

It must not look at cards.
"""

from __future__ import annotations

from pathlib import Path

from mediacheck.output import write_atomically
from mediacheck.paper.files import PDF, PNG, require_place, write_document
from mediacheck.paper.look import PaperName
from mediacheck.sheet.document import display_document
from mediacheck.sheet.faces import ShownDisplay

HTML = ".html"


def require_sheet_place(path: Path) -> None:
    """Say early that a sheet cannot be written there. Raises WrongUse or OutputError."""
    require_place(path, "sheet", (PNG, PDF, HTML))


def write_sheet(display: ShownDisplay, path: Path, paper: PaperName = "A4") -> tuple[Path, ...]:
    """Write it as the name ends; returns the files. Raises OutputError."""
    if path.suffix.lower() == HTML:
        from mediacheck.sheet.html import as_html

        write_atomically(path, as_html(display))
        return (path,)
    made_at = max((face.report.checked_at for face in display.faces if face.report), default=None)
    return write_document(display_document(display, paper), path, made_at)
