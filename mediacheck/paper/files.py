"""Writes documents where they are wanted: one PDF, or numbered PNG files, one for each page.

It must not leave a half-written page behind, nor touch a file that it did not make.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path

from PIL import Image
from PIL.PngImagePlugin import PngInfo

from mediacheck.errors import OutputError, WrongUse
from mediacheck.output import NAME_IN_TEMPORARY, REASONS, write_atomically
from mediacheck.paper.canvas import Document
from mediacheck.paper.png import DPI, Pages

MADE_BY = "mediacheck contact sheet"
"""What pages have been marked with since the first of them, whatever is on them."""
PNG, PDF = ".png", ".pdf"


def require_place(path: Path, what: str, endings: tuple[str, ...] = (PNG, PDF)) -> None:
    """Say early that a document cannot be written there. Raises WrongUse or OutputError.

    `what` names it: "contact sheet".
    """
    if path.suffix.lower() not in endings:
        known = f"{', '.join(endings[:-1])} or {endings[-1]}" if len(endings) > 1 else endings[0]
        raise WrongUse(f"A {what} needs a name that ends in {known}, not {path.name!r}.")
    if path.is_dir():
        raise OutputError(f"The {what} cannot be written: {path} is a folder.")
    if not path.parent.is_dir():
        raise OutputError(f"The {what} cannot be written: there is no folder {path.parent}.")


def write_document(document: Document, path: Path, made_at: datetime | None = None) -> tuple[Path, ...]:
    """Write a PDF, or PNG pages, as the path ends; returns the files. Raises OutputError.

    `made_at` is noted in a PDF.
    """
    if path.suffix.lower() == PDF:
        from mediacheck.paper.pdf import NO_DATE, as_pdf

        write_atomically(path, as_pdf(document, made_at or NO_DATE))
        return (path,)
    return write_pages(Pages(document), path)


def page_path(path: Path, number: int) -> Path:
    """FILE.png for the first page, then FILE-2.png, FILE-3.png and so on."""
    return path if number == 1 else path.with_name(f"{path.stem}-{number}{path.suffix}")


def write_pages(pages: Iterable[Image.Image], path: Path) -> tuple[Path, ...]:
    """Write all pages beside their places, then move them there; returns where they are.

    Further pages that an earlier, longer document left at this place are removed. Raises OutputError where
    a page cannot be written.
    """
    waiting: dict[Path, Path] = {}
    try:
        for number, page in enumerate(pages, 1):
            place = page_path(path, number)
            waiting[place] = _part_of(place, number)
            _write(page, waiting[place])
        for place, part in waiting.items():
            part.replace(os.path.realpath(place))
        for old in _left_over(path, len(waiting) + 1):
            old.unlink()
    except OSError as error:
        reason = REASONS.get(error.errno or 0) or error.strerror or str(error)
        raise OutputError(f"The pages cannot be written to {path}: {reason}.") from error
    finally:
        for part in waiting.values():
            part.unlink(missing_ok=True)
    return tuple(waiting)


def _part_of(place: Path, number: int) -> Path:
    """Beside the file itself, also where `place` is a link to it; short enough for any file system."""
    real = Path(os.path.realpath(place))
    return real.with_name(f".{real.name[:NAME_IN_TEMPORARY]}.{os.getpid()}-{number}.partial")


def _write(page: Image.Image, part: Path) -> None:
    info = PngInfo()
    info.add_text("Software", MADE_BY)
    with part.open("wb") as file:
        page.save(file, "PNG", dpi=(DPI, DPI), pnginfo=info)
        file.flush()
        os.fsync(file.fileno())


def _left_over(path: Path, number: int) -> Iterator[Path]:
    while (old := page_path(path, number)).is_file() and _is_ours(old):
        yield old
        number += 1


def _is_ours(path: Path) -> bool:
    try:
        with Image.open(path) as image:
            return image.info.get("Software") == MADE_BY
    except (OSError, ValueError, SyntaxError):
        return False
