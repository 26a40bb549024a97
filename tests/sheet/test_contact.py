"""The whole sheet: order, starts, pages, heading words, and pictures of real files."""

from __future__ import annotations

import subprocess
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path

import pytest
from PIL import Image

from mediacheck.measure.frames import pictures_of
from mediacheck.measure.model import Picture
from mediacheck.media.facts import MediaFacts
from mediacheck.paper.canvas import Point
from mediacheck.paper.look import Paper, PaperName
from mediacheck.paper.png import Pages, PngCanvas
from mediacheck.report.model import PlayItem, ScreenShape
from mediacheck.sheet.contact import pictures_per_item
from mediacheck.sheet.screen_view import LONG_SIDE_PX
from tests.paper.pixels import alike, at, inked, mm, same
from tests.sheet.recipes import LANDSCAPE, PORTRAIT, SUN, pages_of, picture, plays, report


def sheet_of(count: int, screen: ScreenShape = LANDSCAPE) -> Pages:
    names = [f"{number:04}.mp4" for number in range(count)]
    frames = tuple(picture((160, 90), second) for second in (1.5, 4.5, 7.5, 10.5))
    return pages_of(report([plays(name) for name in names], screen), dict.fromkeys(names, frames))


def words_of(items: list[PlayItem], drawn: list[str], **more: object) -> list[str]:
    pages_of(report(items, **more), {})[0]  # type: ignore[arg-type]
    return drawn


@pytest.mark.parametrize(("paper", "size"), [("A4", (1240, 1754)), ("Letter", (1275, 1650))])
def test_pages_have_the_size_of_the_paper(paper: PaperName, size: tuple[int, int]) -> None:
    (page,) = pages_of(report([plays("a.mp4")]), {}, paper=paper)
    assert page.size == size


def test_items_stand_in_play_order_with_numbers_lengths_and_starts(drawn: list[str]) -> None:
    items = [plays("b.mp4", 12), plays("x/a.jpg", 8), plays("bad.mp4", 30, skipped=True), plays("c.mp4", 5)]
    words = words_of([*items, plays("d.mp4", None), plays("e.mp4", 9)], drawn)
    body = words[words.index("1") :]
    assert [
        word for word in body if word.startswith(("start", "last", "still", "length")) or "." in word
    ] == [
        *("b.mp4", "lasts 0:12", "starts at 0:00"),
        *("a.jpg", "still, shown for 0:08", "starts at 0:12"),
        *("bad.mp4", "lasts 0:30"),
        *("c.mp4", "lasts 0:05", "starts at 0:20"),
        *("d.mp4", "length not known", "starts at 0:25"),
        *("e.mp4", "lasts 0:09", "start not known"),
    ]
    assert [word for word in body if word.isdigit()] == ["1", "2", "3", "4", "5", "6"]


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        ("pass", "✓  will play"),
        ("warn", "!  will play, with remarks"),
        ("fail", "✕  will not play as it is"),
        ("incomplete", "?  not fully checked"),
    ],
)
def test_the_heading_says_which_card_and_what_became_of_it(
    verdict: str, words: str, drawn: list[str]
) -> None:
    items = [plays("a.mp4", 12), plays("b.mp4", 80)]
    assert words_of(items, drawn, verdict=verdict)[:16] == [
        *("page 1 of 1", "WATER-LEFT", words),
        *("Card", "/cards/WATER-LEFT"),
        *("Profile", "Basic player (basic-1080p)"),
        *("Screen", "1920 × 1080 pixels, drawn as a viewer sees it"),
        *("Checked", "2026-01-31 09:30 UTC, full check"),
        *("Loop", "2 items, one round lasts 1:32"),
        *("Order", "by name, as the player plays"),
        "mediacheck 1.2.3",
    ]


@pytest.mark.parametrize(
    ("items", "words"),
    [
        ([plays("a.mp4", 9)], "1 item, one round lasts 0:09"),
        ([plays("a.mp4", None), plays("b.mp4", 9)], "2 items, how long one round lasts is not known"),
        (
            [plays("a.mp4", 9), plays("b.mp4", 60, skipped=True)],
            "2 items, 1 of them skipped or shown wrong; one round lasts 0:09",
        ),
        (
            [plays("a.mp4", 9), plays("b.mp4", None, skipped=True)],
            "2 items, 1 of them skipped or shown wrong; one round lasts 0:09",
        ),
        ([], "0 items, one round lasts 0:00"),
    ],
)
def test_a_skipped_item_takes_no_time_in_the_round(
    items: list[PlayItem], words: str, drawn: list[str]
) -> None:
    assert words in words_of(items, drawn)


@pytest.mark.parametrize(
    ("disk_order", "order_known", "words"),
    [
        (False, False, "by name, as the player plays"),
        (True, True, "as the card's directory lists them, as the player plays"),
        (
            True,
            False,
            "not checked: drawn by name, but the player plays in the order of the card's directory",
        ),
    ],
)
def test_an_order_that_was_not_read_is_not_promised(
    disk_order: bool, order_known: bool, words: str, drawn: list[str]
) -> None:
    assert words in words_of([plays("a.mp4")], drawn, disk_order=disk_order, order_known=order_known)


@pytest.mark.parametrize(
    ("source", "title"),
    [
        ("/cards/WATER-LEFT/", "WATER-LEFT"),
        ("C:\\cards\\SEEDS", "SEEDS"),
        ("E:\\", "E:"),
        ("/", "/"),
        ("card.img", "card.img"),
    ],
)
def test_without_a_title_the_card_gives_it(source: str, title: str, drawn: list[str]) -> None:
    assert words_of([plays("a.mp4")], drawn, source=source)[1] == title


def test_a_given_title_stands_at_the_top(drawn: list[str]) -> None:
    pages_of(report([]), {}, "Aisle 4")[0]
    assert drawn[1] == "Aisle 4"


def test_an_empty_card_is_one_page_that_says_so(drawn: list[str]) -> None:
    pages = pages_of(report([]), {})
    assert [page.size for page in pages] == [(1240, 1754)]
    assert drawn[-1] == "There is nothing on this card that the player would play."


@pytest.mark.parametrize("screen", [LANDSCAPE, PORTRAIT])
def test_pages_are_as_few_as_their_room_allows(screen: ScreenShape) -> None:
    """All items of these loops are equally high, so the first page and each further one hold fixed counts."""
    pages = [len(sheet_of(count, screen)) for count in range(60)]
    first, second = pages.count(1) - 1, pages.count(2)
    assert first >= 4
    assert second >= first
    assert pages == [1] * (first + 1) + [2 + (n - first - 1) // second for n in range(first + 1, 60)]


def test_every_item_stands_on_exactly_one_page(drawn: list[str]) -> None:
    pages = sheet_of(40)
    for _ in pages:
        pass
    assert [word for word in drawn if word.endswith(".mp4")] == [f"{number:04}.mp4" for number in range(40)]
    assert [word for word in drawn if word.startswith("page ")] == [
        f"page {number} of {len(pages)}" for number in range(1, len(pages) + 1)
    ]


def test_no_item_reaches_into_the_footer() -> None:
    for page in sheet_of(40):
        assert inked(page, (0, 1754 - 70, 1240, 1754)) == 0
        lines = [y for y in range(1500, 1754) if at(page, 600, y) == (176, 176, 176)]
        rule = lines[-1]
        assert inked(page, (0, rule - 8, 1240, rule)) == 0


def test_a_thousand_items_are_laid_out_at_once_and_drawn_page_by_page() -> None:
    pages = sheet_of(1000)
    assert len(pages) > 80
    assert same(pages[-1], pages[len(pages) - 1])
    assert len(pages[1:3]) == 2
    with pytest.raises(IndexError):
        pages[len(pages)]


@pytest.mark.parametrize(("items", "count"), [(1, 4), (300, 4), (301, 2), (1000, 2), (10_000, 1)])
def test_larger_loops_take_fewer_pictures_each(items: int, count: int) -> None:
    assert pictures_per_item(items) == count


def legend(screen: ScreenShape, items: list[PlayItem], pictures: Mapping[str, tuple[Picture, ...]]) -> None:
    pages_of(report(items, screen), pictures)[0]


def test_the_legend_names_the_marks_that_occur_and_no_others(drawn: list[str]) -> None:
    marks = (
        "the screen hides what is outside the dashed line (2.5 % at each edge)",
        "the screen stays black beside the picture",
        "crossed out: skipped or shown wrong",
    )
    wide = {"a.mp4": (picture((320, 180)),)}
    legend(LANDSCAPE, [plays("a.mp4")], wide)
    assert [word for word in drawn if word in marks] == []
    square = {"a.mp4": (picture((180, 180)),)}
    legend(ScreenShape(1920, 1080, 2.5, 0), [plays("a.mp4", skipped=True)], square)
    assert [word for word in drawn if word in marks] == list(marks)


@pytest.mark.parametrize(
    "name", ["حلقة.mp4", "花园.mp4", "पानी.mp4", "a\x00\n\u202eb.mp4", "\udcff.mp4", "n" * 250]
)
def test_any_name_is_printed(name: str) -> None:
    plain = pages_of(report([plays("")]), {})[0]
    named = pages_of(report([plays(name)]), {})[0]
    assert inked(named, (130, 0, 390, 1754)) > inked(plain, (130, 0, 390, 1754)) + 100


def test_pictures_of_real_files_stand_on_the_sheet_as_the_viewer_sees_them(tmp_path: Path) -> None:
    """A portrait picture, turned before it was encoded, hangs upright again: its mark is at the top left."""
    upright = Image.new("RGB", (360, 640), (20, 90, 140))
    upright.paste(SUN, (0, 0, 120, 120))
    canvas = PngCanvas(Paper(mm(360), mm(640), 0))
    canvas.image.paste(upright)
    canvas.text(Point(mm(180), mm(300)), "SEEDS", 33, "bold", ink=(255, 255, 255), anchor="middle")
    upright = canvas.image
    upright.transpose(Image.Transpose.ROTATE_90).save(tmp_path / "still.png")
    clip = tmp_path / "seeds.mp4"
    command = [
        "ffmpeg",
        "-v",
        "error",
        "-loop",
        "1",
        "-framerate",
        "5",
        "-t",
        "4",
        "-i",
        f"{tmp_path}/still.png",
    ]
    subprocess.run([*command, "-pix_fmt", "yuv420p", "-c:v", "libx264", str(clip)], check=True, timeout=60)
    frames = pictures_of(clip, MediaFacts("video"), 4, long_side_px=LONG_SIDE_PX)
    assert [(one.width, one.height) for one in frames] == [(360, 202)] * 4
    items = [PlayItem("seeds.mp4", Fraction(4), False)]
    page = pages_of(report(items, PORTRAIT), {"seeds.mp4": frames})[0]
    spots = [(x, y) for x in range(380, 1170, 3) for y in range(300, 700, 3)]
    marked = [spot for spot in spots if alike(at(page, *spot), SUN, 25)]
    blue = [spot for spot in spots if alike(at(page, *spot), (20, 90, 140), 25)]
    assert marked[0][0] < blue[0][0] + 3
    assert abs(min(y for _, y in marked) - min(y for _, y in blue)) <= 3
    assert max(y for _, y in blue) - min(y for _, y in blue) > 200
