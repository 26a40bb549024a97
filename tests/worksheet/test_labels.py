"""Labels: what stands on them, that it fits, that the code can be read, that sheets lie on their paper."""

from __future__ import annotations

import hashlib
from itertools import combinations
from pathlib import Path

import cv2
import numpy as np
import pytest

from mediacheck.display_files import load_display
from mediacheck.errors import WrongUse
from mediacheck.manifest.record import manifest_text
from mediacheck.paper.canvas import Document
from mediacheck.paper.png import Pages
from mediacheck.worksheet.label_sheets import SHEETS, LabelSheet, label_sheet
from mediacheck.worksheet.labels import MODULE_MM_MIN, Label, label_pages, labels_of
from tests.manifest import make
from tests.worksheet.made import TWO_FACES, drawn, loaded_display, overlaps

CODE = f"SHA256:{hashlib.sha256(b'garden').hexdigest().upper()}"
FULL = Label(
    (
        ("the side towards the greenhouse 園芸", "bold"),
        ("Loam & Lantern, watering and seeds, in the long hall", "regular"),
        ("card GREENHOUSE", "bold"),
        ("version spring 2026, third of three", "regular"),
        ("0a1b2c3d", "regular"),
    ),
    CODE,
)
by_name = pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)


@by_name
def test_labels_lie_on_the_paper_and_not_on_each_other(sheet: LabelSheet) -> None:
    boxes = list(sheet.boxes())
    assert len(boxes) == sheet.places
    assert max(box.right for box in boxes) <= sheet.paper.width_mm
    assert max(box.bottom for box in boxes) <= sheet.paper.height_mm + 0.5
    assert [pair for pair in combinations(boxes, 2) if overlaps(*pair)] == []
    left, right = min(box.left for box in boxes), sheet.paper.width_mm - max(box.right for box in boxes)
    assert abs(left - right) < 1.0  # such sheets are even to both sides


@by_name
def test_what_stands_on_a_label_stays_on_it(sheet: LabelSheet) -> None:
    page = drawn(label_pages([FULL] * sheet.places, sheet, "labels"))[0]
    boxes = list(sheet.boxes())
    for _, region in [*page.words, *(("", box) for box in page.filled)]:
        assert any(
            box.left <= region.left
            and region.right <= box.right + 0.1
            and box.top <= region.top
            and region.bottom <= box.bottom + 0.1
            for box in boxes
        )
    codes = [(box, words) for box in page.filled for words in page.words if overlaps(box, words[1])]
    assert codes == []


@by_name
def test_the_code_is_read_back_from_the_printed_page(sheet: LabelSheet) -> None:
    """By OpenCV's reader (ISO/IEC 18004)."""
    document = label_pages([FULL], sheet, "labels")
    box = next(sheet.boxes())
    page = np.asarray(next(iter(Pages(document))).convert("L"))
    per_mm = page.shape[1] / sheet.paper.width_mm
    one = page[: int(box.bottom * per_mm), : int(box.right * per_mm)]
    large = cv2.resize(one, None, fx=3, fy=3, interpolation=cv2.INTER_CUBIC)
    assert cv2.QRCodeDetector().detectAndDecode(large)[0] == CODE
    module = min(cell.height for cell in drawn(document)[0].filled)
    assert module >= MODULE_MM_MIN


def test_a_label_tells_face_display_card_version_and_hash(tmp_path: Path) -> None:
    labels = labels_of(loaded_display(TWO_FACES), copies=2)
    assert [label.lines[0][0] for label in labels] == ["A  aisle side"] * 2 + ["B  window side"] * 2
    assert [words for words, _ in labels[0].lines] == [
        *("A  aisle side", "Loam & Lantern", "card AISLE", "version 3", "no manifest yet")
    ]
    assert labels[0].code is None


def test_the_code_names_the_file_of_the_manifest(tmp_path: Path) -> None:
    manifest = manifest_text(make.manifest_of({"can.mp4": b"rain"}))
    (tmp_path / "aisle.manifest.json").write_text(manifest, "utf-8")
    (tmp_path / "stand.yaml").write_text(
        "faces: [{name: aisle side, profile: basic-1080p, loop: {manifest: aisle.manifest.json}}]"
    )
    label = labels_of(load_display(tmp_path / "stand.yaml"))[0]
    found = hashlib.sha256((tmp_path / "aisle.manifest.json").read_bytes()).hexdigest()
    assert label.code == f"SHA256:{found.upper()}"
    assert label.lines[-1][0] == found[:8]


@by_name
def test_the_name_of_a_face_is_read_whole_on_every_sheet(sheet: LabelSheet) -> None:
    label = Label((("B  window side", "bold"), ("Loam & Lantern", "regular"), ("0a1b2c3d", "regular")), CODE)
    words = [words for words, _ in drawn(label_pages([label], sheet, "labels"))[0].words]
    assert " ".join(words[:-2]).split() == ["B", "window", "side"]


def test_a_long_name_takes_two_lines_before_it_is_shortened() -> None:
    label = Label((("B  towards the greenhouse and the pond", "bold"), ("0a1b2c3d", "regular")), CODE)
    words = [words for words, _ in drawn(label_pages([label], label_sheet("63.5x38.1"), "labels"))[0].words]
    assert words == ["B  towards the", "greenhouse and the pond", "0a1b2c3d"]
    longer = Label(((f"B  {'towards the greenhouse ' * 9}", "bold"), ("0a1b2c3d", "regular")), CODE)
    words = [words for words, _ in drawn(label_pages([longer], label_sheet("38.1x21.2"), "labels"))[0].words]
    assert (len(words), words[-1], any("\N{HORIZONTAL ELLIPSIS}" in one for one in words)) == (
        3,
        "0a1b2c3d",
        True,
    )


def test_no_word_of_a_name_is_torn_while_smaller_letters_help() -> None:
    label = Label((("greenhouse", "bold"), ("0a1b2c3d", "regular")), CODE)
    words = [words for words, _ in drawn(label_pages([label], label_sheet("38.1x21.2"), "labels"))[0].words]
    assert words == ["greenhouse", "0a1b2c3d"]


@by_name
def test_the_code_keeps_its_quiet_zone(sheet: LabelSheet) -> None:
    """Four modules on every side (ISO/IEC 18004): neither words nor the label's edge come nearer."""
    page = drawn(label_pages([FULL], sheet, "labels"))[0]
    label, module = next(sheet.boxes()), min(cell.height for cell in page.filled)
    left, top = min(cell.left for cell in page.filled), min(cell.top for cell in page.filled)
    right, bottom = max(cell.right for cell in page.filled), max(cell.bottom for cell in page.filled)
    quiet = 4 * module - 0.01
    assert max(box.right for _, box in page.words) <= left - quiet
    assert label.right - right >= quiet
    assert min(top - label.top, label.bottom - bottom) >= quiet


def test_labels_go_on_where_a_used_sheet_ends() -> None:
    sheet = label_sheet("63.5x38.1")
    document: Document = label_pages([FULL] * 3, sheet, "labels", first=20)
    pages = drawn(document)
    assert [len(page.boxes) for page in pages] == [2, 1]
    assert pages[0].boxes[0] == list(sheet.boxes())[19]
    with pytest.raises(WrongUse, match="has the places 1 to 21, not 22"):
        label_pages([FULL], sheet, "labels", first=22)


def test_sheets_are_asked_for_by_the_size_of_a_label() -> None:
    assert label_sheet("63.5 x 38.1 mm") is SHEETS[0]
    assert label_sheet("70×37") is SHEETS[1]
    with pytest.raises(WrongUse, match=r"no sheet with labels of 10x10 mm; there are: 63\.5x38\.1 \(A4\)"):
        label_sheet("10x10")
