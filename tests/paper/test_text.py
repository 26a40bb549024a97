"""Drawing and measuring lines: every script leaves ink, and what is measured is what is drawn."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from mediacheck.paper.canvas import Anchor, Point
from mediacheck.paper.look import Paper, Weight
from mediacheck.paper.png import PngCanvas
from mediacheck.paper.runs import clean
from mediacheck.paper.text import ELLIPSIS, clusters, line_mm, paragraph, shortened, width_mm, wrapped
from tests.paper.pixels import extent, inked, mm, px, same
from tests.paper.test_runs import SAMPLES

SIZE_PT = 19.2
"""40 pixels."""
SMALL_PT = 9.6
"""20 pixels."""
STRIP = Paper(mm(1200), mm(100), 0)

NAMES = st.text(st.characters(categories=["L", "N", "P", "Zs", "Mn"]), max_size=60)


def drawn(text: str, weight: Weight = "regular") -> Image.Image:
    canvas = PngCanvas(STRIP)
    canvas.text(Point(mm(100), mm(20)), text, SIZE_PT, weight)
    return canvas.image


def long(text: str) -> int:
    """Pixels of a line of this size."""
    return px(width_mm(text, SIZE_PT))


@pytest.mark.parametrize("weight", ["regular", "bold"])
@pytest.mark.parametrize("text", SAMPLES.values(), ids=SAMPLES)
def test_every_script_leaves_ink_for_each_of_its_words(text: str, weight: Weight) -> None:
    for word in text.split():
        assert inked(drawn(word, weight)) > 60


@pytest.mark.parametrize("text", SAMPLES.values(), ids=SAMPLES)
def test_the_measured_width_is_the_drawn_width(text: str) -> None:
    left, _, right, _ = extent(drawn(text))
    assert abs(left - 100) <= 4
    assert abs(right - 100 - long(text)) <= 5


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
    assert long("क्ष") < long("क") + long("ष")


def test_words_run_from_right_to_left_where_the_script_does() -> None:
    """Lamed rises above the line and final nun reaches below it: the first letter stands at the right."""
    word = drawn("לן")
    left, top, right, bottom = extent(word)
    nun = left + long("ן") - 3
    assert inked(word, (left, top, nun, top + 4)) == 0
    assert inked(word, (nun, bottom - 4, right, bottom)) == 0


@pytest.mark.parametrize("text", ["\x07", "\udcff", "\u202e", "\U0001d2c0", "\ue000"])
def test_what_cannot_be_printed_is_seen_as_a_sign(text: str) -> None:
    assert inked(drawn(text)) > 60


@pytest.mark.parametrize("anchor", ["left", "middle", "right"])
def test_anchors(anchor: Anchor) -> None:
    canvas = PngCanvas(STRIP)
    canvas.text(Point(mm(600), mm(20)), "HHHH", SIZE_PT, anchor=anchor)
    left, _, right, _ = extent(canvas.image)
    place = {"left": left, "middle": (left + right) // 2, "right": right}[anchor]
    assert abs(place - 600) <= 5
    assert abs(right - left - long("HHHH")) <= 8


def test_a_line_stays_inside_its_height() -> None:
    _, top, _, bottom = extent(drawn("Ågjpqy|"))
    assert top >= 20
    assert bottom <= 20 + px(line_mm(SIZE_PT))


def test_drawing_beyond_the_page_is_cut_off_at_its_edge() -> None:
    canvas = PngCanvas(Paper(mm(60), mm(30), 0))
    canvas.text(Point(mm(-30), mm(-10)), "Watering", SIZE_PT)
    assert inked(canvas.image) > 0


@given(NAMES, st.floats(7, 68))
@settings(deadline=None)
def test_a_shortened_name_fits_and_keeps_both_ends(name: str, room_mm: float) -> None:
    short = shortened(name, SMALL_PT, "regular", room_mm)
    assert width_mm(short, SMALL_PT) <= room_mm
    if ELLIPSIS in short and short != ELLIPSIS and ELLIPSIS not in name:
        head, _, tail = short.partition(ELLIPSIS)
        kept = list(clusters(head)), list(clusters(tail))
        assert len(kept[1]) <= len(kept[0]) <= len(kept[1]) + 1


def test_a_name_that_fits_is_left_alone() -> None:
    assert shortened("drip hose.mp4", SMALL_PT, "bold", mm(400)) == "drip hose.mp4"


def test_a_long_name_keeps_its_extension() -> None:
    short = shortened("watering_spring_campaign_final.mp4", SMALL_PT, "bold", mm(160))
    assert short.startswith("water")
    assert short.endswith(".mp4")


@given(NAMES, st.floats(10, 50), st.integers(1, 4))
@settings(deadline=None)
def test_wrapped_lines_are_few_and_narrow(name: str, room_mm: float, lines_max: int) -> None:
    lines = wrapped(name, SMALL_PT, "bold", room_mm, lines_max)
    assert len(lines) <= lines_max
    assert all(width_mm(line, SMALL_PT, "bold") <= room_mm + 0.01 for line in lines)


def test_lines_break_where_parts_of_a_name_end() -> None:
    lines = wrapped("drip-hose_spring campaign.mp4", SMALL_PT, "regular", mm(140), 4)
    assert lines == ("drip-hose_", "spring", "campaign.mp4")


def test_a_name_without_parts_breaks_before_its_extension() -> None:
    assert wrapped("sunflowerseeds.mp4", SMALL_PT, "regular", mm(150), 2) == ("sunflowerseeds", ".mp4")


def test_a_word_too_long_for_a_line_is_cut() -> None:
    lines = wrapped("w" * 30, SMALL_PT, "regular", mm(200), 5)
    assert len(lines) > 1
    assert "".join(lines) == "w" * 30


def test_marks_stay_with_their_letters() -> None:
    assert list(clusters("पानी")) == ["पा", "नी"]
    assert list(clusters("x\u0301yz")) == ["x\u0301", "y", "z"]


@given(st.lists(NAMES, max_size=4).map("\n".join), st.floats(15, 60))
@settings(deadline=None)
def test_a_paragraph_keeps_every_letter_and_no_line_is_wider_than_its_room(
    words: str, room_mm: float
) -> None:
    lines = paragraph(words, SMALL_PT, "regular", room_mm)
    assert all(width_mm(line, SMALL_PT) <= room_mm + 0.01 or len(list(clusters(line))) == 1 for line in lines)
    assert "".join("".join(lines).split()) == "".join(clean(words.replace("\n", "")).split())


def test_a_paragraph_breaks_between_words_and_at_the_ends_of_lines() -> None:
    lines = paragraph("Two people lift the display.\n\nOne plug, 1,5 m.", SMALL_PT, "regular", 25)
    assert lines == ("Two people lift", "the display.", "", "One plug, 1,5 m.")


def test_signs_without_spaces_break_anywhere_but_before_a_full_stop() -> None:
    lines = paragraph(
        "花园灌溉花園。花园灌溉花園。", SMALL_PT, "regular", width_mm("花园灌溉花園", SMALL_PT) + 0.1
    )
    assert lines == ("花园灌溉花", "園。花园灌溉", "花園。")
