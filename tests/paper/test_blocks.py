"""Pieces of pages: as high as they say, inside their boxes, and whole again after they were split."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from mediacheck.paper.blocks import (
    Block,
    Framed,
    Heading,
    Picture,
    Row,
    Space,
    Stack,
    TickBox,
    Words,
    WritingLine,
    note,
    table,
    tick,
)
from mediacheck.paper.canvas import Box
from tests.paper.recording import RecordingCanvas

PHOTO = Image.new("RGB", (320, 180), (30, 140, 60))
SENTENCE = "Two people lift and move the display, and nobody stands on a ladder alone. "
BLOCKS: dict[str, Block] = {
    "words": Words(SENTENCE * 3),
    "heading": Heading("Before the visit"),
    "title": Heading("Loam & Lantern " * 4, 1),
    "space": Space(4),
    "tick": tick(SENTENCE, "Common practice. " * 6),
    "tick box": TickBox(),
    "row": Row((Words(SENTENCE), Words("short"), Words(SENTENCE * 2)), (30, None, None), ruled=True),
    "stack": Stack((Words(SENTENCE), TickBox(), Words("end")), 2),
    "framed": Framed(
        Stack((Words("aisle side", weight="bold"), Picture(PHOTO, "What must be seen"))), "dashed"
    ),
    "picture": Picture(PHOTO, SENTENCE, height_max_mm=30),
    "writing line": WritingLine("Signature of the installer and of the manager of the store"),
    "note": note(SENTENCE),
}
SCRIPTS = ["garden", "花园灌溉", "حلقة الحديقة", "पानी देना", "🌱", "w" * 90]


def drawn(block: Block, box: Box) -> RecordingCanvas:
    canvas = RecordingCanvas()
    block.draw(canvas, box)
    return canvas


def words_in(block: Block, width_mm: float) -> list[str]:
    """Its words, one by one, however the lines break."""
    canvas = drawn(block, Box(0, 0, width_mm, block.height_mm(width_mm)))
    return " ".join(canvas.words).split()


@pytest.mark.parametrize("width_mm", [45, 90, 186])
@pytest.mark.parametrize("name", BLOCKS)
def test_a_block_stays_inside_the_room_that_it_asks_for(name: str, width_mm: float) -> None:
    block = BLOCKS[name]
    box = Box(12, 20, width_mm, block.height_mm(width_mm))
    canvas = drawn(block, box)
    ends = [(one.right, one.bottom) for one in [text.box for text in canvas.texts]]
    ends += [(one.right, one.bottom) for one, _ in canvas.pictures]
    ends += [(one.right, one.bottom) for one, *_ in canvas.boxes]
    ends += [end for line in canvas.lines for end in line]
    assert all(right <= box.right + 0.01 and bottom <= box.bottom + 0.01 for right, bottom in ends)
    assert all(text.box.left >= box.left and text.box.top >= box.top for text in canvas.texts)


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.sampled_from(SCRIPTS), max_size=60).map(" ".join),
    st.floats(25, 186),
    st.floats(0, 120),
    st.sampled_from(["words", "tick", "framed", "row"]),
)
def test_a_block_that_is_split_says_the_same_and_its_first_part_fits(
    words: str, width_mm: float, room_mm: float, kind: str
) -> None:
    blocks: dict[str, Block] = {
        "words": Words(words),
        "tick": tick(words, words),
        "framed": Framed(Stack((Words(words), Words("end")))),
        "row": Row((Words("setting"), Words(words)), (10, None), ruled=True),
    }
    block = blocks[kind]
    parts = block.split(width_mm, room_mm) if block.height_mm(width_mm) > room_mm else None
    if parts is None:
        return
    first, rest = parts
    assert first.height_mm(width_mm) <= room_mm + 0.01
    assert 0 < rest.height_mm(width_mm) < block.height_mm(width_mm) + 6
    whole = "".join(words_in(block, width_mm))
    halves = "".join(words_in(first, width_mm) + words_in(rest, width_mm))
    assert sorted(halves) == sorted(whole)


def test_words_that_fit_are_not_split_and_no_line_is_left_alone() -> None:
    words = Words(SENTENCE * 3)
    line = Words("one line").height_mm(60)
    count = len(words.lines(60))
    for room in range(1, count):
        parts = words.split(60, room * line)
        if room < 2:
            assert parts is None
        else:
            assert parts is not None
            lines = [round(part.height_mm(60) / line) for part in parts]
            assert sum(lines) == count
            assert min(lines) >= 2


def test_a_row_is_as_high_as_its_highest_cell_and_frames_fill_it() -> None:
    row = Row((Framed(Words("short")), Framed(Words(SENTENCE * 2))))
    height = row.height_mm(90)
    boxes = drawn(row, Box(10, 10, 90, height)).boxes
    assert [round(box.height, 3) for box, *_ in boxes] == [round(height, 3)] * 2
    assert boxes[0][0].right < boxes[1][0].left


def test_widths_are_kept_and_the_rest_is_shared() -> None:
    row = Row((Words("a"), Words("b"), Words("c")), (20, None, None))
    lefts = [text.box.left for text in drawn(row, Box(0, 0, 106, 10)).texts]
    assert lefts == [0, 23, 23 + 40 + 3]


def test_a_table_has_a_row_for_each_and_a_line_below_it() -> None:
    rows = list(table((("Order", "by name"), ("Input", "HDMI 1")), (30, None), first="bold"))
    canvases = [drawn(row, Box(0, 0, 100, row.height_mm(100))) for row in rows]
    assert [canvas.words for canvas in canvases] == [["Order", "by name"], ["Input", "HDMI 1"]]
    assert [len(canvas.lines) for canvas in canvases] == [1, 1]
    assert [text.weight for text in canvases[0].texts] == ["bold", "regular"]


def test_a_box_to_tick_is_empty_and_stands_before_its_words() -> None:
    canvas = drawn(tick("Call the store", "Common practice."), Box(0, 0, 100, 20))
    ((box, fill, _, _),) = canvas.boxes
    assert fill is None
    assert box.width == box.height
    assert all(text.box.left > box.right for text in canvas.texts)
    assert canvas.words == ["Call the store", "Common practice."]


@pytest.mark.parametrize(("size", "wanted"), [((320, 180), (90.0, 50.625)), ((180, 320), (22.5, 40.0))])
def test_a_picture_keeps_its_shape(size: tuple[int, int], wanted: tuple[float, float]) -> None:
    height = 60.0 if size[0] > size[1] else 40.0
    canvas = drawn(Picture(Image.new("RGB", size), height_max_mm=height), Box(0, 0, 90, 60))
    edge = canvas.boxes[0][0]
    assert (edge.width, edge.height) == pytest.approx(wanted)
