"""Writing pages: numbered names, whole or not at all, and no file touched that is not ours."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from mediacheck.errors import OutputError, WrongUse
from mediacheck.paper.files import page_path, require_place, write_pages


def pages(*colours: str) -> list[Image.Image]:
    return [Image.new("RGB", (30, 40), colour) for colour in colours]


def colour(path: Path) -> object:
    with Image.open(path) as image:
        return image.convert("RGB").getpixel((5, 5))


def test_pages_are_numbered_from_the_second_on(tmp_path: Path) -> None:
    written = write_pages(pages("red", "lime", "blue"), tmp_path / "card.png")
    assert written == tuple(tmp_path / name for name in ("card.png", "card-2.png", "card-3.png"))
    assert [colour(path) for path in written] == [(255, 0, 0), (0, 255, 0), (0, 0, 255)]
    assert sorted(tmp_path.iterdir()) == sorted(written)


def test_pages_print_at_150_dots_per_inch(tmp_path: Path) -> None:
    (path,) = write_pages(pages("red"), tmp_path / "card.png")
    with Image.open(path) as image:
        assert [round(value) for value in image.info["dpi"]] == [150, 150]


def test_capital_endings_are_kept(tmp_path: Path) -> None:
    assert page_path(tmp_path / "CARD.PNG", 2) == tmp_path / "CARD-2.PNG"
    assert write_pages(pages("red"), tmp_path / "CARD.PNG") == (tmp_path / "CARD.PNG",)


@pytest.mark.parametrize("name", ["sheet.txt", "sheet", "png", "sheet.png.txt"])
def test_other_endings_are_wrong_use(tmp_path: Path, name: str) -> None:
    with pytest.raises(
        WrongUse, match=rf"A contact sheet needs .* ends in \.png or \.pdf, not '{name}'"
    ) as caught:
        require_place(tmp_path / name, "contact sheet")
    assert not isinstance(caught.value, OutputError)


def test_a_missing_folder_and_a_folder_in_the_way_are_output_errors(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="there is no folder"):
        require_place(tmp_path / "absent" / "card.png", "contact sheet")
    (tmp_path / "card.png").mkdir()
    with pytest.raises(OutputError, match="is a folder"):
        require_place(tmp_path / "card.png", "contact sheet")


def test_a_page_that_cannot_be_placed_leaves_no_part_behind(tmp_path: Path) -> None:
    (tmp_path / "card-2.png").mkdir()
    with pytest.raises(OutputError, match=r"cannot be written to .*card\.png"):
        write_pages(pages("red", "lime"), tmp_path / "card.png")
    assert [path.name for path in tmp_path.iterdir() if path.name.endswith(".partial")] == []


def test_a_long_name_is_no_obstacle_and_a_link_stays_a_link(tmp_path: Path) -> None:
    long = tmp_path / ("w" * 245 + ".png")
    assert write_pages(pages("red", "lime"), long) == (long, page_path(long, 2))
    link = tmp_path / "link.png"
    link.symlink_to(long)
    write_pages(pages("blue"), link)
    assert (link.is_symlink(), colour(long)) == (True, (0, 0, 255))


def test_an_end_in_the_middle_leaves_the_old_sheet_as_it_was(tmp_path: Path) -> None:
    write_pages(pages("red", "red"), tmp_path / "card.png")

    def breaking() -> Iterator[Image.Image]:
        yield from pages("blue")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_pages(breaking(), tmp_path / "card.png")
    assert {path.name: colour(path) for path in tmp_path.iterdir()} == {
        "card.png": (255, 0, 0),
        "card-2.png": (255, 0, 0),
    }


def test_pages_of_an_earlier_longer_sheet_are_removed_and_other_files_are_not(tmp_path: Path) -> None:
    write_pages(pages("red", "red", "red"), tmp_path / "card.png")
    pages("blue")[0].save(tmp_path / "card-4.png")
    (tmp_path / "card-old.png").write_bytes(b"not ours")
    write_pages(pages("lime"), tmp_path / "card.png")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["card-4.png", "card-old.png", "card.png"]


def test_a_foreign_picture_in_the_place_of_a_left_over_page_stays(tmp_path: Path) -> None:
    for content in (b"", b"\x89PNG\r\n\x1a\n broken"):
        (tmp_path / "card-2.png").write_bytes(content)
        write_pages(pages("lime"), tmp_path / "card.png")
        assert (tmp_path / "card-2.png").read_bytes() == content
