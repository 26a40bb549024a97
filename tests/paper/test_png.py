"""Pages as pictures: every stroke stands where it was asked for, to the pixel."""

from __future__ import annotations

import pytest
from PIL import Image

from mediacheck.paper.canvas import Box, Canvas, Document, Point
from mediacheck.paper.look import BLACK, PAPERS, Paper, PaperName
from mediacheck.paper.png import Pages, PngCanvas
from tests.paper.pixels import at, extent, mm, px

SMALL = Paper(mm(200), mm(100), 0)
RED, WHITE = (255, 0, 0), (255, 255, 255)


def box(left: int, top: int, width: int, height: int) -> Box:
    return Box(mm(left), mm(top), mm(width), mm(height))


@pytest.mark.parametrize(("name", "size"), [("A4", (1240, 1754)), ("Letter", (1275, 1650))])
def test_a_page_has_the_size_of_its_paper_at_150_dots_per_inch(
    name: PaperName, size: tuple[int, int]
) -> None:
    assert PngCanvas(PAPERS[name]).image.size == size


def test_the_edge_of_a_box_lies_inside_it() -> None:
    canvas = PngCanvas(SMALL)
    canvas.box(box(20, 10, 50, 30), fill=RED, width_mm=mm(2))
    assert extent(canvas.image) == (20, 10, 70, 40)
    assert [at(canvas.image, x, 25) for x in (20, 21, 22, 67, 68, 69)] == [
        BLACK,
        BLACK,
        RED,
        RED,
        BLACK,
        BLACK,
    ]


def test_a_box_may_have_a_ground_and_no_edge() -> None:
    canvas = PngCanvas(SMALL)
    canvas.box(box(20, 10, 50, 30), fill=RED, ink=None)
    assert {at(canvas.image, x, y) for x in (20, 40, 69) for y in (10, 25, 39)} == {RED}


def test_a_dashed_edge_has_gaps_on_every_side() -> None:
    canvas = PngCanvas(SMALL)
    canvas.box(box(20, 10, 100, 60), edge="dashed")
    image = canvas.image
    sides = (
        [at(image, x, 10) for x in range(20, 120)],
        [at(image, x, 69) for x in range(20, 120)],
        [at(image, 20, y) for y in range(10, 70)],
        [at(image, 119, y) for y in range(10, 70)],
    )
    for side in sides:
        assert 0.3 < side.count(BLACK) / len(side) < 0.8
    assert extent(image) == (20, 10, 120, 70)


def test_a_picture_fills_its_box_and_no_more() -> None:
    canvas = PngCanvas(SMALL)
    canvas.picture(box(20, 10, 60, 40), Image.new("RGB", (13, 7), RED))
    assert extent(canvas.image) == (20, 10, 80, 50)
    assert {at(canvas.image, x, y) for x in (20, 79) for y in (10, 49)} == {RED}


def test_a_picture_of_the_right_size_is_not_touched() -> None:
    canvas = PngCanvas(SMALL)
    noise = Image.effect_noise((60, 40), 90).convert("RGB")
    canvas.picture(box(20, 10, 60, 40), noise)
    assert canvas.image.crop((20, 10, 80, 50)).tobytes() == noise.tobytes()


def test_lines_go_from_their_start_to_their_end() -> None:
    canvas = PngCanvas(SMALL)
    canvas.line(Point(mm(20), mm(30)), Point(mm(90), mm(30)), width_mm=mm(1))
    assert extent(canvas.image) == (20, 30, 91, 31)


def test_pages_are_drawn_when_they_are_asked_for() -> None:
    drawn: list[int] = []

    def page(number: int) -> Canvas | None:
        drawn.append(number)
        return None

    document = Document("", SMALL, tuple(lambda _, n=n: page(n) for n in range(5)), "")  # type: ignore[misc]
    pages = Pages(document)
    assert (len(pages), drawn) == (5, [])
    assert pages[-1].size == (px(SMALL.width_mm), px(SMALL.height_mm))
    assert len(pages[1:3]) == 2
    assert drawn == [4, 1, 2]
    with pytest.raises(IndexError):
        pages[5]
