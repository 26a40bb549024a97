"""From cards and a display to what stands on a sheet."""

from __future__ import annotations

import shutil
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from mediacheck.display_files import LoadedDisplay, load_display
from mediacheck.errors import WrongUse
from mediacheck.profile_files import load_profile
from mediacheck.sheet.faces import ShownFace
from mediacheck.sheets import (
    COMPARED_IN_ALL,
    COMPARED_MAX,
    Looking,
    _compared_per_item,
    cards_of,
    of_cards,
    of_display,
)

LOOKING = Looking(2, executor=ThreadPoolExecutor)
"""In threads: no processes need to start."""
DISPLAY = """
id: stand
title: Loam & Lantern, the stand
version: spring 2026
faces:
  - name: Aisle side
    place: towards the tills
    profile: frame.yaml
    card_label: AISLE
    input: HDMI 1
    loop: {title: Water, version: "3", items: [{name: 1.jpg, title: The can}, {name: 2.jpg}]}
  - name: window side
    profile: frame.yaml
    loop: {title: Seeds, items: [{name: 1.jpg, title: A seed}]}
  - name: back
    profile: frame.yaml
"""
FRAME = "id: frame\nscreen: {width: 1024, height: 600}\nstills: {formats: [JPEG], seconds: 8}\n"


def still(path: Path, number: int) -> None:
    """A picture of its own for each number."""
    image = Image.new("RGB", (1024, 600), (20 + 40 * number % 200, 90, 140))
    ImageDraw.Draw(image).rectangle(
        (100 * number, 50, 100 * number + 250, 450), fill=(250, 250 - 40 * number % 200, 40)
    )
    image.save(path, quality=90)


def card(folder: Path, *numbers: int) -> Path:
    folder.mkdir()
    for place, number in enumerate(numbers, 1):
        still(folder / f"{place}.jpg", number)
    return folder


@pytest.fixture
def loaded(tmp_path: Path) -> LoadedDisplay:
    (tmp_path / "frame.yaml").write_text(FRAME)
    (tmp_path / "stand.yaml").write_text(DISPLAY)
    return load_display(tmp_path / "stand.yaml")


@pytest.mark.parametrize(
    ("given", "wanted"),
    [
        ((), (None, None, None)),
        (("a", "b"), ("a", "b", None)),
        (("window side=w", "a"), ("a", "w", None)),
        (("a", "BACK=b", "w"), ("a", "w", "b")),
        (("aisle  side=E:\\x=y",), ("E:\\x=y", None, None)),
        (("odd=name", "b", "c"), ("odd=name", "b", "c")),
    ],
)
def test_cards_go_to_the_faces_that_are_named_and_then_in_order(
    given: tuple[str, ...], wanted: tuple[str | None, ...], loaded: LoadedDisplay
) -> None:
    assert cards_of(loaded, given) == tuple(None if path is None else Path(path) for path in wanted)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("a", "b", "c", "d"), "There is no face left for the card 'd': the display has \"Aisle side\""),
        (("a", "b", "c", "widow side=d"), "'widow side=d' names no face of this display: its faces are"),
        (("back=a", "Back=b"), 'Two cards were given for the face "Back": name each face once.'),
    ],
)
def test_cards_that_fit_no_face_are_refused(given: tuple[str, ...], said: str, loaded: LoadedDisplay) -> None:
    with pytest.raises(WrongUse) as caught:
        cards_of(loaded, given)
    assert str(caught.value).startswith(said)


def test_a_display_has_its_words_its_reports_and_the_pictures_that_tell_its_faces_apart(
    loaded: LoadedDisplay, tmp_path: Path
) -> None:
    aisle, window = card(tmp_path / "aisle", 1, 2, 3, 4), card(tmp_path / "window", 1, 2, 3, 5)
    shown = of_display(loaded, (aisle, window, None), LOOKING)
    assert (shown.title, shown.id, shown.version) == ("Loam & Lantern, the stand", "stand", "spring 2026")
    first, second, third = shown.faces
    assert [face.letter for face in shown.faces] == ["A", "B", "C"]
    assert (first.words.name, first.words.place, first.words.input) == (
        "Aisle side",
        "towards the tills",
        "HDMI 1",
    )
    assert first.words.item_titles == ("The can", "2.jpg")
    assert first.report is not None
    assert (first.report.display, first.report.face) == ("stand", "Aisle side")
    assert [path for path, _ in first.loop_pictures] == ["1.jpg", "2.jpg", "3.jpg", "4.jpg"]
    assert first.only_here == second.only_here == {"4.jpg": frozenset({0.0})}
    assert (first.common, second.common) == ((1.0, 0.75, 0.0), (0.75, 1.0, 0.0))
    assert (third.report, third.pictures, third.common) == (None, {}, ())
    assert (third.screen.width, third.screen.height) == (1024, 600)
    assert first.length_words == "4 items, 0:32 a round"


def test_the_card_of_another_face_is_found_out(tmp_path: Path) -> None:
    (tmp_path / "frame.yaml").write_text(FRAME)
    faces = [card(tmp_path / name, number, number + 1) for name, number in (("aisle", 1), ("window", 4))]
    from mediacheck.inspection import sha256_of

    items = [
        [{"name": path.name, "sha256": sha256_of(path)} for path in sorted(folder.iterdir())]
        for folder in faces
    ]
    import json

    (tmp_path / "stand.yaml").write_text(
        json.dumps(
            {
                "id": "stand",
                "faces": [
                    {"name": f"{folder.name} side", "profile": "frame.yaml", "loop": {"items": some}}
                    for folder, some in zip(faces, items, strict=True)
                ],
            }
        )
    )
    display = load_display(tmp_path / "stand.yaml")
    right = of_display(display, tuple(faces), LOOKING)
    assert [face.whose for face in right.faces] == [(), ()]
    swapped = of_display(display, tuple(reversed(faces)), LOOKING)
    assert [[finding.rule for finding in face.whose] for face in swapped.faces] == [["loop-wrong-face"]] * 2


def test_cards_that_belong_to_no_display_are_named_by_their_folders(tmp_path: Path) -> None:
    (tmp_path / "frame.yaml").write_text(FRAME)
    cards = [card(tmp_path / "one", 1, 2), card(tmp_path / "two", 3)]
    shown = of_cards(cards, load_profile(str(tmp_path / "frame.yaml")), LOOKING)
    assert (shown.id, [face.words.name for face in shown.faces]) == ("", ["one", "two"])
    assert [list(face.pictures) for face in shown.faces] == [["1.jpg", "2.jpg"], ["1.jpg"]]


def test_a_card_is_only_read(loaded: LoadedDisplay, tmp_path: Path) -> None:
    folder = card(tmp_path / "aisle", 1, 2)
    kept = Path(shutil.copytree(folder, tmp_path / "kept"))
    of_display(loaded, (folder, None, None), LOOKING)
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == {
        p.name: p.read_bytes() for p in kept.iterdir()
    }


@pytest.mark.parametrize("cards", [1, 2, 8])
@pytest.mark.parametrize("items", [1, 10, 40, 300, 5000])
def test_pictures_that_are_held_at_once_are_bounded(cards: int, items: int) -> None:
    each = _compared_per_item(cards)(items)
    assert 1 <= each <= COMPARED_MAX
    assert each == 1 or each * cards * items <= max(COMPARED_IN_ALL, 4 * items)


def test_a_face_that_shows_nothing_has_no_first_picture(loaded: LoadedDisplay, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    shown: ShownFace = of_display(loaded, (tmp_path / "empty", None, None), LOOKING).faces[0]
    assert (shown.first_picture, shown.loop_pictures) == (None, ())
    assert shown.report is not None
