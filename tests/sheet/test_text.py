"""Drawing and measuring lines: every script leaves ink, and what is measured is what is drawn."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from mediacheck.sheet.fonts import Weight
from mediacheck.sheet.text import ELLIPSIS, Anchor, clusters, draw, line_px, shortened, width_px, wrapped
from tests.sheet.recipes import inked, same
from tests.sheet.test_runs import SAMPLES

NAMES = st.text(st.characters(categories=["L", "N", "P", "Zs", "Mn"]), max_size=60)


def drawn(text: str, weight: Weight = "regular", size_px: int = 40) -> Image.Image:
    page = Image.new("RGB", (1200, 100), "white")
    draw(page, (100, 20), text, size_px, weight)
    return page


def extent(page: Image.Image) -> tuple[int, int, int, int]:
    box = ImageOps.invert(page.convert("L")).getbbox()
    assert box is not None
    return box


@pytest.mark.parametrize("weight", ["regular", "bold"])
@pytest.mark.parametrize("text", SAMPLES.values(), ids=SAMPLES)
def test_every_script_leaves_ink_for_each_of_its_words(text: str, weight: Weight) -> None:
    for word in text.split():
        assert inked(drawn(word, weight)) > 60


@pytest.mark.parametrize("text", SAMPLES.values(), ids=SAMPLES)
def test_the_measured_width_is_the_drawn_width(text: str) -> None:
    left, _, right, _ = extent(drawn(text))
    assert abs(left - 100) <= 4
    assert abs(right - 100 - width_px(text, 40)) <= 5


@pytest.mark.parametrize("text", ["Water", "השקיה", "पानी", "花园"])
def test_bold_is_darker(text: str) -> None:
    assert inked(drawn(text, "bold")) > 1.05 * inked(drawn(text))


def test_letters_of_one_script_differ() -> None:
    """Were a font missing, all would be drawn as the same box."""
    assert not same(drawn("花"), drawn("园"))
    assert not same(drawn("ك"), drawn("ح"))


def test_letters_join_where_the_script_joins_them() -> None:
    """Letters of an Arabic word touch, so no column between its ends is blank; Devanagari has conjuncts."""
    word = drawn("ببب")
    left, _, right, _ = extent(word)
    assert all(inked(word, (x, 0, x + 1, 100)) for x in range(left + 1, right - 1))
    assert width_px("क्ष", 40) < width_px("क", 40) + width_px("ष", 40)


def test_words_run_from_right_to_left_where_the_script_does() -> None:
    """Lamed rises above the line and final nun reaches below it: the first letter stands at the right."""
    word = drawn("לן")
    left, top, right, bottom = extent(word)
    nun = left + width_px("ן", 40) - 3
    assert inked(word, (left, top, nun, top + 4)) == 0
    assert inked(word, (nun, bottom - 4, right, bottom)) == 0


@pytest.mark.parametrize("text", ["\x07", "\udcff", "\u202e", "\U0001d2c0", "\ue000"])
def test_what_cannot_be_printed_is_seen_as_a_sign(text: str) -> None:
    assert inked(drawn(text)) > 60


@pytest.mark.parametrize("anchor", ["left", "middle", "right"])
def test_anchors(anchor: Anchor) -> None:
    page = Image.new("RGB", (1200, 100), "white")
    width = draw(page, (600, 20), "HHHH", 40, anchor=anchor)
    left, _, right, _ = extent(page)
    place = {"left": left, "middle": (left + right) // 2, "right": right}[anchor]
    assert abs(place - 600) <= 5
    assert abs(right - left - width) <= 8


def test_a_line_stays_inside_its_height() -> None:
    _, top, _, bottom = extent(drawn("Ågjpqy|"))
    assert top >= 20
    assert bottom <= 20 + line_px(40)


def test_drawing_beyond_the_page_is_cut_off_at_its_edge() -> None:
    page = Image.new("RGB", (60, 30), "white")
    draw(page, (-30, -10), "Watering", 40)
    assert inked(page) > 0


@given(NAMES, st.integers(40, 400))
@settings(deadline=None)
def test_a_shortened_name_fits_and_keeps_both_ends(name: str, room_px: int) -> None:
    short = shortened(name, 20, "regular", room_px)
    assert width_px(short, 20) <= room_px
    if ELLIPSIS in short and short != ELLIPSIS and ELLIPSIS not in name:
        head, _, tail = short.partition(ELLIPSIS)
        kept = list(clusters(head)), list(clusters(tail))
        assert len(kept[1]) <= len(kept[0]) <= len(kept[1]) + 1


def test_a_name_that_fits_is_left_alone() -> None:
    assert shortened("drip hose.mp4", 20, "bold", 400) == "drip hose.mp4"


def test_a_long_name_keeps_its_extension() -> None:
    short = shortened("watering_spring_campaign_final.mp4", 20, "bold", 160)
    assert short.startswith("water")
    assert short.endswith(".mp4")


@given(NAMES, st.integers(60, 300), st.integers(1, 4))
@settings(deadline=None)
def test_wrapped_lines_are_few_and_narrow(name: str, room_px: int, lines_max: int) -> None:
    lines = wrapped(name, 20, "bold", room_px, lines_max)
    assert len(lines) <= lines_max
    assert all(width_px(line, 20, "bold") <= room_px * 1.05 for line in lines)


def test_lines_break_where_parts_of_a_name_end() -> None:
    lines = wrapped("drip-hose_spring campaign.mp4", 20, "regular", 140, 4)
    assert lines == ("drip-hose_", "spring", "campaign.mp4")


def test_a_name_without_parts_breaks_before_its_extension() -> None:
    assert wrapped("sunflowerseeds.mp4", 20, "regular", 150, 2) == ("sunflowerseeds", ".mp4")


def test_a_word_too_long_for_a_line_is_cut() -> None:
    lines = wrapped("w" * 30, 20, "regular", 200, 5)
    assert len(lines) > 1
    assert "".join(lines) == "w" * 30


def test_marks_stay_with_their_letters() -> None:
    assert list(clusters("पानी")) == ["पा", "नी"]
    assert list(clusters("x\u0301yz")) == ["x\u0301", "y", "z"]
