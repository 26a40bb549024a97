"""Writes the pages of a sheet as numbered PNG files.

It must not leave a half-written page behind, nor touch a file that it did not make.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from PIL import Image
from PIL.PngImagePlugin import PngInfo

from mediacheck.errors import OutputError, WrongUse
from mediacheck.output import NAME_IN_TEMPORARY, REASONS
from mediacheck.sheet.paper import DPI

MADE_BY = "mediacheck contact sheet"


def page_path(path: Path, number: int) -> Path:
    """FILE.png for the first page, then FILE-2.png, FILE-3.png and so on."""
    return path if number == 1 else path.with_name(f"{path.stem}-{number}{path.suffix}")


def require_sheet_place(path: Path) -> None:
    """Say early that a sheet cannot be written there. Raises WrongUse or OutputError."""
    if path.suffix.lower() != ".png":
        raise WrongUse(
            f"A contact sheet is a PNG picture: give it a name that ends in .png, not {path.name!r}."
        )
    if path.is_dir():
        raise OutputError(f"The contact sheet cannot be written: {path} is a folder.")
    if not path.parent.is_dir():
        raise OutputError(f"The contact sheet cannot be written: there is no folder {path.parent}.")


def write_sheet(pages: Iterable[Image.Image], path: Path) -> tuple[Path, ...]:
    """Write all pages beside their places, then move them there; returns where they are.

    Further pages that an earlier, longer sheet left at this place are removed. Raises WrongUse where
    the name does not end in .png, and OutputError where a page cannot be written.
    """
    require_sheet_place(path)
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
        raise OutputError(f"The contact sheet cannot be written to {path}: {reason}.") from error
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
