"""Blocks on pages: all of them, in order, nothing cut, headings with what they head."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from mediacheck.paper.blocks import Block, Framed, Heading, Picture, Row, Words, table, tick
from mediacheck.paper.canvas import Document
from mediacheck.paper.flow import PageBreak, TooHigh, document, lay_out, pages_of
from mediacheck.paper.look import PAPERS, PaperName
from tests.paper.recording import faults, recorded, words_of

A4 = PAPERS["A4"]
SENTENCE = "One plug from the display to the power drop of the store, and nothing chained. "


def made(blocks: list[Block | PageBreak], paper: PaperName = "A4") -> Document:
    return document("Visit of the entrance", PAPERS[paper], blocks, "mediacheck 1.2.3")


def numbered(count: int) -> list[Block | PageBreak]:
    return [tick(f"Step{number} {SENTENCE}") for number in range(count)]


def test_pages_say_their_title_and_which_of_how_many_they_are() -> None:
    pages = made(numbered(90)).pages
    assert len(pages) > 2
    for number, page in enumerate(pages, 1):
        assert recorded(page).words[-2:] == ["Visit of the entrance", f"page {number} of {len(pages)}"]


def test_a_document_without_blocks_is_one_empty_page() -> None:
    assert words_of(made([])) == ["Visit of the entrance", "page 1 of 1"]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_block_stands_once_in_order_and_nothing_is_cut(paper: PaperName) -> None:
    whole = made(numbered(90), paper)
    assert faults(whole) == []
    steps = [word.split()[0] for word in words_of(whole) if word.startswith("Step")]
    assert steps == [f"Step{number}" for number in range(90)]


@settings(deadline=None, max_examples=25)
@given(st.lists(st.sampled_from(["heading", "tick", "long", "picture", "row", "break"]), max_size=40))
def test_any_mix_of_blocks_leaves_no_fault(kinds: list[str]) -> None:
    picture = Picture(Image.new("RGB", (320, 180)), SENTENCE)
    blocks: dict[str, Block | PageBreak] = {
        "heading": Heading("What to bring"),
        "tick": tick(SENTENCE, SENTENCE),
        "long": Framed(Words(SENTENCE * 40)),
        "picture": picture,
        "row": Row((Framed(picture), Framed(Words(SENTENCE)))),
        "break": PageBreak(),
    }
    whole = made([blocks[kind] for kind in kinds])
    assert faults(whole) == []
    assert words_of(whole).count("What to bring") == kinds.count("heading")
    pictures = sum(len(recorded(page).pictures) for page in whole.pages)
    assert pictures == kinds.count("picture") + kinds.count("row")


def test_a_heading_stands_on_the_page_of_what_follows() -> None:
    for count in range(20, 60):
        pages = made([*numbered(count), Heading("The last part"), tick("the end")]).pages
        (holding,) = [page for page in pages if "The last part" in recorded(page).words]
        assert "the end" in recorded(holding).words


def test_a_page_break_begins_a_page_and_two_make_no_empty_one() -> None:
    pages = made([Words("one"), PageBreak(), PageBreak(), Words("two"), PageBreak()]).pages
    assert [recorded(page).words[0] for page in pages] == ["one", "two"]


def test_what_is_longer_than_a_page_goes_on_on_the_next() -> None:
    whole = made([Words(SENTENCE * 150)])
    assert len(whole.pages) > 1
    assert faults(whole) == []
    assert " ".join(words_of(whole)).count("nothing chained") == 150


def test_what_no_page_holds_is_a_mistake_and_is_said() -> None:
    with pytest.raises(TooHigh, match="no page is high enough"):
        made([Picture(Image.new("RGB", (10, 100)), height_max_mm=400)])


def test_rows_of_a_table_are_not_torn() -> None:
    rows = [*table(tuple((f"Row{n}", SENTENCE * 3) for n in range(40)), (20, None))]
    whole = made([Heading("Settings"), *rows])
    for page in whole.pages:
        words = recorded(page).words
        assert sum(word.startswith("Row") for word in words) * 3 == " ".join(words).count("nothing chained")


def test_pages_can_be_numbered_among_others() -> None:
    laid = lay_out(A4, [Words("one"), PageBreak(), Words("two")])
    pages = pages_of(laid, "Sheet", A4, first=3, total=9)
    assert [recorded(page).words[-1] for page in pages] == ["page 3 of 9", "page 4 of 9"]
