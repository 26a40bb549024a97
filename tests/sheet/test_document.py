"""The sheet of a display: all faces on the first page, then each card; nothing overlaps, nothing is cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from PIL import ImageChops, ImageFilter, ImageStat

from mediacheck.paper.canvas import Box
from mediacheck.paper.look import PaperName
from mediacheck.paper.png import Pages
from mediacheck.sheet.document import display_document
from mediacheck.sheet.faces import ShownDisplay, likeness_words
from tests.paper.pdfs import pages_of, text_of, written
from tests.paper.recording import RecordingCanvas, faults, recorded, words_of
from tests.sheet.displays import NAMES, WRONG_FACE, display, sharing, words


def first_pages(shown: ShownDisplay, paper: PaperName = "A4") -> Iterator[RecordingCanvas]:
    """The pages before those of the first card."""
    for page in display_document(shown, paper).pages:
        canvas = recorded(page)
        if any(word.startswith("A · ") for word in canvas.words):
            return
        yield canvas


def frames_of(canvas: RecordingCanvas) -> list[Box]:
    """The frames of the faces: the boxes with a strong line and no ground that hold a letter."""
    return [box for box, fill, ink, _ in canvas.boxes if fill is None and ink is not None and box.height > 60]


@pytest.mark.parametrize(("count", "paper"), list(product(range(1, 9), ("A4", "Letter"))))
def test_any_number_of_faces_is_drawn_without_fault(count: int, paper: PaperName) -> None:
    assert faults(display_document(display(count, 3), paper)) == []


@pytest.mark.parametrize("items", [1, 2, 9, 40])
def test_any_number_of_items_is_drawn_without_fault(items: int) -> None:
    whole = display_document(display(2, items))
    assert faults(whole) == []
    lasts = [word for word in words_of(whole) if word.startswith("lasts")]
    assert len(lasts) == 2 * items


@pytest.mark.parametrize("count", [1, 2, 3, 4, 8, 16])
def test_faces_stand_side_by_side_in_their_order(count: int) -> None:
    pages = list(first_pages(display(count, 3)))
    letters = [
        (page, text.box.top, text.box.left, text.words)
        for page, canvas in enumerate(pages)
        for text in canvas.texts
        if len(text.words) == 1 and text.words.isupper()
    ]
    assert [letter for *_, letter in sorted(letters)] == [chr(ord("A") + n) for n in range(count)]
    in_first_row = [left for page, top, left, _ in letters if (page, top) == letters[0][:2]]
    assert len(in_first_row) == {8: 4, 16: 4}.get(count, count)


@pytest.mark.parametrize("count", range(1, 9))
def test_words_of_a_face_stay_inside_its_frame(count: int) -> None:
    for canvas in first_pages(display(count, 3)):
        frames = frames_of(canvas)
        for text in canvas.texts:
            around = [
                box
                for box in frames
                if box.left < text.box.left < box.right and box.top < text.box.top < box.bottom
            ]
            assert not around or text.box.right <= around[0].right - 1, text.words


def test_the_first_page_says_of_each_face_what_it_is_and_shows() -> None:
    (canvas,) = first_pages(display(2, 4))
    said = " ".join(canvas.words)
    for part in (
        *("Loam & Lantern, the stand at the entrance", "entrance · version spring 2026", "A", "aisle side"),
        *("towards the tills, behind the shelf with the pots", "CARD-1", "Water without waste · version 3"),
        *("4 items, 0:48 a round", "HDMI 1", "B", "window side", "CARD-2", "✕  will not play as it is"),
        *("!  will play, with remarks", "0:00", "0:12", "0:24", "0:36", "page 1 of"),
    ):
        assert part in said, part
    assert len(canvas.pictures) == 2 * (1 + 4)


def test_a_face_without_a_card_has_an_empty_screen_that_says_so_and_no_page() -> None:
    whole = display_document(display(2, 2, cards=1))
    canvas = recorded(whole.pages[0])
    said = " ".join(canvas.words)
    assert "no card was given for this face" in said
    assert "The watering can that stops by itself; Seeds" in said.replace("- ", "-")
    assert not [word for word in words_of(whole) if word.startswith("B · ")]
    assert [word for word in words_of(whole) if word.startswith("A · ")] == ["A · aisle side"]


def test_a_display_with_no_card_at_all_is_one_page() -> None:
    whole = display_document(display(3, 2, cards=0))
    assert len(whole.pages) == 1
    assert faults(whole) == []


def test_a_card_of_another_face_is_said_beside_its_pictures() -> None:
    shown = display(2, 2)
    report = shown.faces[0].report
    assert report is not None
    wrong = replace(shown.faces[0], report=replace(report, findings=(WRONG_FACE,)))
    (canvas,) = first_pages(replace(shown, faces=(wrong, shown.faces[1])))
    assert WRONG_FACE.message in " ".join(canvas.words)
    assert WRONG_FACE.action in " ".join(canvas.words)


def test_pictures_that_only_one_face_has_are_marked_on_both_pages_and_explained() -> None:
    whole = display_document(sharing(display(2, 4), 0.9))
    first, *rest = [recorded(page) for page in whole.pages]
    assert [text.weight for text in first.texts if text.words == "◆ 0:36"] == ["bold", "bold"]
    assert "◆ only on this face, among the pictures compared" in first.words
    assert "Most pictures are on B (window side) too: look for those marked" in " ".join(first.words)
    for canvas in rest:
        assert "only on this face, among the pictures compared" in canvas.words
        assert [text.words for text in canvas.texts if text.words.startswith("◆ ")] == ["◆ 0:10"]
    assert faults(whole) == []


def test_loops_that_the_pictures_cannot_tell_apart_are_said_to_be_so() -> None:
    shown = sharing(display(2, 2), 1.0)
    assert likeness_words(shown.faces[0], shown.faces) == (
        "Every picture compared is on B (window side) too: the pictures do not tell these faces apart."
    )
    assert "do not tell these faces apart" in " ".join(words_of(display_document(shown)))
    different = display(2, 2)
    assert likeness_words(different.faces[0], different.faces) == ""


def test_pages_are_counted_through_all_cards() -> None:
    whole = display_document(display(3, 9))
    counts = [word for word in words_of(whole) if word.startswith("page ")]
    assert counts == [f"page {n} of {len(whole.pages)}" for n in range(1, len(whole.pages) + 1)]


def test_the_page_of_a_card_says_which_face_it_is_for_and_what_belongs_there() -> None:
    pages = [recorded(page) for page in display_document(display(2, 2)).pages]
    (page,) = [canvas for canvas in pages if "B · window side" in canvas.words]
    assert "towards the tills, behind the shelf with the pots, HDMI 1" in page.words
    assert "card CARD-2, Water without waste · version 3" in page.words


def test_cards_without_a_display_stand_one_after_the_other() -> None:
    shown = replace(display(2, 2), id="", title="")
    whole = display_document(shown)
    assert [word for word in words_of(whole) if word in NAMES] == list(NAMES[:2])
    assert [word for word in words_of(whole) if word.startswith("page ")] == ["page 1 of 2", "page 2 of 2"]


def test_names_of_every_script_are_found_in_the_pdf(tmp_path: Path) -> None:
    found = text_of(written(display_document(display(8, 2)), tmp_path))
    for name in NAMES:
        assert name.split()[0][:6] in found, name
    assert "Water without waste" in found


def test_the_pdf_looks_as_the_png_does(tmp_path: Path) -> None:
    whole = display_document(display(2, 3))
    ours, theirs = Pages(whole), pages_of(written(whole, tmp_path))
    assert len(ours) == len(theirs)
    for one, other in zip(ours, theirs, strict=True):
        soft, read = (page.convert("L").filter(ImageFilter.GaussianBlur(3)) for page in (one, other))
        difference = ImageChops.difference(soft, read.crop((0, 0, *soft.size)))
        assert ImageStat.Stat(difference).mean[0] < 1.5


def test_faces_are_kept_apart_without_colours() -> None:
    """Each frame has its letter in white on black, and its name in words."""
    (canvas,) = first_pages(display(2, 2))
    for letter, name in (("A", "aisle side"), ("B", "window side")):
        (text,) = [one for one in canvas.texts if one.words == letter]
        assert (text.ink, canvas.ground_of(text)) == ((255, 255, 255), (0, 0, 0))
        assert name in canvas.words


def test_words_for_a_face_without_a_card_come_from_the_display() -> None:
    one = replace(display(1, cards=0).faces[0], words=replace(words(1), item_titles=()))
    assert one.length_words == ""
    assert display(1, cards=0).faces[0].length_words == "2 items, length not known"


def test_where_not_all_items_fit_those_that_only_this_face_has_are_shown() -> None:
    (first, *_) = [recorded(page) for page in display_document(sharing(display(2, 40), 0.9)).pages]
    assert first.words.count("◆ 7:48") == 2
    assert first.words.count("0:00") == 2
    assert [words for words in first.words if words.startswith("and ")] == [
        "and 30 more items",
        "and 32 more items",
    ]
