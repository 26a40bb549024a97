"""One place for colours and sizes: every ink is readable on every ground that words stand on."""

from __future__ import annotations

import pytest

from mediacheck.paper.look import (
    BLACK,
    CONTRAST_MIN,
    GREY,
    PAPERS,
    SMALL_PT,
    TINT,
    WHITE,
    Ink,
    PaperName,
    contrast,
)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        (BLACK, WHITE, 21.0),
        (WHITE, WHITE, 1.0),
        ((0x77, 0x77, 0x77), WHITE, 4.48),  # the usual example of a grey that just fails
        ((0x76, 0x76, 0x76), WHITE, 4.54),
        ((255, 0, 0), WHITE, 4.0),
    ],
)
def test_contrast_is_that_of_the_standard(one: Ink, other: Ink, ratio: float) -> None:
    """WCAG 2.2, "contrast ratio"; values from the standard's formula, worked by hand."""
    assert contrast(one, other) == pytest.approx(ratio, abs=0.01)
    assert contrast(other, one) == contrast(one, other)


@pytest.mark.parametrize(
    ("ink", "ground"), [(BLACK, WHITE), (GREY, WHITE), (BLACK, TINT), (GREY, TINT), (WHITE, BLACK)]
)
def test_words_are_readable_on_their_grounds(ink: Ink, ground: Ink) -> None:
    assert contrast(ink, ground) >= CONTRAST_MIN


@pytest.mark.parametrize(("name", "size"), [("A4", (210, 297)), ("Letter", (215.9, 279.4))])
def test_sheets_of_paper_have_their_sizes(name: PaperName, size: tuple[float, float]) -> None:
    paper = PAPERS[name]
    assert (paper.width_mm, paper.height_mm) == size
    assert (paper.room_mm, paper.right_mm, paper.bottom_mm) == (size[0] - 24, size[0] - 12, size[1] - 12)


def test_the_smallest_letters_are_those_of_a_newspaper() -> None:
    """Common practice, no source: 7 points can be read at arm's length."""
    assert SMALL_PT >= 7
