"""PDFs as other programs see them: poppler's pdftotext, pdftoppm, pdffonts and pdfinfo."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

from mediacheck.paper.canvas import Document
from mediacheck.paper.pdf import as_pdf
from mediacheck.paper.png import DPI
from tests.card.card_programs import run


def written(document: Document, folder: Path) -> Path:
    """The document as a file."""
    path = folder / "document.pdf"
    path.write_bytes(as_pdf(document))
    return path


def text_of(path: Path) -> str:
    """All words, each run of blanks as one; marks of direction, which pdftotext adds, are left out."""
    words = run("pdftotext", "-layout", path, "-")
    return " ".join("".join(letter for letter in words if letter not in "\u202a\u202b\u202c").split())


def pages_of(path: Path, dpi: int = DPI) -> list[Image.Image]:
    """The pages as a reader draws them."""
    run("pdftoppm", "-r", str(dpi), "-png", path, path.with_suffix(""))
    return [Image.open(page).convert("RGB") for page in sorted(path.parent.glob(f"{path.stem}-*.png"))]
