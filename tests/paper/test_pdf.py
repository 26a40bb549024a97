"""PDFs: letters that can be searched, shapes where the PNG has them, the same bytes every time."""

from __future__ import annotations

import re
import unicodedata
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image, ImageChops, ImageFilter, ImageStat

from mediacheck.paper.canvas import Box, Canvas, Document, Page, Point
from mediacheck.paper.look import GREY, PAPERS, RULE_MM, TINT, PaperName, Weight
from mediacheck.paper.pdf import as_pdf
from mediacheck.paper.png import Pages
from tests.card.card_programs import run
from tests.paper.pdfs import pages_of, text_of, written
from tests.paper.test_runs import SAMPLES


def document(*pages: Page, paper: PaperName = "A4") -> Document:
    return Document("Probe of pages", PAPERS[paper], pages, "mediacheck 1.2.3")


def saying(*lines: str, weight: Weight = "regular", size_pt: float = 18) -> Page:
    def page(canvas: Canvas) -> None:
        for row, line in enumerate(lines):
            canvas.text(Point(20, 15 + 9.6 * row), line, size_pt, weight)

    return page


def drawing(canvas: Canvas) -> None:
    """One of each stroke."""
    canvas.box(Box(20, 20, 40, 20), width_mm=RULE_MM)
    canvas.box(Box(70, 20, 40, 20), fill=TINT, ink=None)
    canvas.box(Box(120, 20, 40, 20), edge="dashed", width_mm=RULE_MM)
    canvas.line(Point(20, 60), Point(190, 60), ink=GREY)
    canvas.line(Point(20, 70), Point(60, 90))
    canvas.picture(Box(80, 70, 64, 36), Image.linear_gradient("L").resize((320, 180)).convert("RGB"))
    canvas.text(Point(105, 120), "in the middle", 12, anchor="middle")
    canvas.text(Point(190, 130), "at the right", 12, ink=GREY, anchor="right")


@pytest.mark.parametrize("weight", ["regular", "bold"])
def test_words_of_every_script_are_found(weight: Weight, tmp_path: Path) -> None:
    found = text_of(written(document(saying(*SAMPLES.values(), weight=weight)), tmp_path))
    assert [name for name, text in SAMPLES.items() if text not in found] == []


@pytest.mark.parametrize(
    "text",
    [
        "office, fluff and affine",  # shapes that join two or three letters
        "पानी क्षेत्र हिन्दी कि",  # a vowel that stands before what it follows
        "கொ",  # one that stands on both sides
        "e\u0301 Å ½ µm °C → ✓ ◆",
        "A\u0323\u0301",  # marks for which there is no letter
        "(a) [b] \\ %d <<x>> /F1 Tj",  # what a PDF writes itself
        "🌱 and 🌻",  # beyond the first 65536
    ],
)
def test_words_are_found_as_they_are_written(text: str, tmp_path: Path) -> None:
    found = text_of(written(document(saying(text)), tmp_path))
    assert unicodedata.normalize("NFC", found) == unicodedata.normalize("NFC", text)


def test_what_cannot_be_printed_stops_nothing(tmp_path: Path) -> None:
    found = text_of(written(document(saying("a\x00b\udcff\u202ec", "", " ")), tmp_path))
    assert found == "a\N{REPLACEMENT CHARACTER}b" + 2 * "\N{REPLACEMENT CHARACTER}" + "c"


@pytest.mark.parametrize(
    "page", [saying(*SAMPLES.values()), saying(*SAMPLES.values(), weight="bold"), drawing]
)
def test_a_pdf_looks_as_the_picture_does(page: Page, tmp_path: Path) -> None:
    """Both drawn at 150 dots per inch and softened, since edges fall between pixels; a shape two pixels off
    makes a difference of more than 100 levels."""
    made = document(page)
    (read,) = pages_of(written(made, tmp_path))
    ours = Pages(made)[0]
    ours, theirs = (one.convert("L").filter(ImageFilter.GaussianBlur(2)) for one in (ours, read))
    difference = ImageChops.difference(ours, theirs.crop((0, 0, *ours.size)))
    assert ImageStat.Stat(difference).mean[0] < 1.1
    assert difference.getextrema()[1] < 80  # type: ignore[operator]


def test_fonts_are_carried_along_cut_down_to_what_is_needed(tmp_path: Path) -> None:
    path = written(document(saying(*SAMPLES.values(), "✕✓")), tmp_path)
    rows = run("pdffonts", path).splitlines()[2:]
    assert rows
    assert not [row for row in rows if not re.search(r"yes yes yes +\d+ +0$", row)]
    assert path.stat().st_size < 150_000


def test_readers_have_nothing_to_complain_of(tmp_path: Path) -> None:
    """poppler warns where a font is not what the document calls it; that of "✕" has cubic outlines."""
    path = written(document(saying("✕ ✓ 花园 Water")), tmp_path)
    said = run("pdftoppm", "-r", "20", "-png", path, tmp_path / "page")
    assert said == ""


def test_the_same_pages_give_the_same_bytes() -> None:
    made = document(saying(*SAMPLES.values()), drawing)
    assert as_pdf(made) == as_pdf(made)


def test_title_language_and_program_are_noted_and_no_day_unless_one_is_given(tmp_path: Path) -> None:
    path = written(document(drawing), tmp_path)
    told = run("pdfinfo", path)
    assert re.search(r"Title: +Probe of pages\n", told)
    assert re.search(r"Creator: +mediacheck 1\.2\.3\n", told)
    assert re.search(r"CreationDate: .*1980", told)
    assert b"/Lang (en)" in path.read_bytes()
    given = as_pdf(document(drawing), datetime(2026, 1, 31, 9, 30, tzinfo=UTC))
    assert b"/CreationDate (D:20260131093000Z)" in given


@pytest.mark.parametrize(("paper", "size"), [("A4", "595.28 x 841.89"), ("Letter", "612 x 792")])
def test_pages_have_the_size_of_the_paper(paper: PaperName, size: str, tmp_path: Path) -> None:
    told = run("pdfinfo", written(document(drawing, drawing, paper=paper), tmp_path))
    assert re.search(rf"Page size: +{size} pts", told)
    assert re.search(r"Pages: +2\n", told)
