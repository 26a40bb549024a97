"""The installer's page: all that must be on it is, in order, and nothing overlaps or leaves the paper."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import pytest
from PIL import Image

from mediacheck.paper.look import PAPERS, PaperName
from mediacheck.paper.pdf import as_pdf
from mediacheck.trouble.book import symptoms
from mediacheck.worksheet.on_card import OnCard
from mediacheck.worksheet.visit import worksheet
from tests.worksheet.made import TWO_FACES, all_words, drawn, loaded_display, overlaps

LONG = "the side towards the greenhouse with the very long name that nobody can remember"
MANY: list[dict[str, Any]] = [
    {
        "name": f"{number} {LONG}",
        "place": "園芸 حديقة बगीचा 🌻 " * 4,
        "card_label": f"CARD-{number}",
        "notes": "Look behind the bracket. " * 20,
        "loop": {"title": "Сад и огород " * 5, "items": [{"name": f"{n}.mp4"} for n in range(40)]},
    }
    for number in range(8)
]


def test_all_that_an_installer_needs_stands_on_it_in_order() -> None:
    words = all_words(worksheet(loaded_display(TWO_FACES), {}))
    places = [
        words.index(part)
        for part in (
            *("Store number", "Before the visit", "24 to 72 hours", "Bring", "Take care"),
            *("Test first", "Which card goes where", "aisle side", "card labelled AISLE", "window side"),
            *("card labelled WINDOW", "Settings", "Input: HDMI 1", "The last look at each face", "Signature"),
            "If something is wrong",
        )
    ]
    assert places == sorted(places)


@pytest.mark.parametrize(
    "caution",
    [
        *(
            "moved by two people",
            "One plug goes from the display to the store's power drop",
            "nothing is chained",
        ),
        *("no fixed wiring", "licensed electricians under the local code", "Climb only on a ladder"),
        *("photosensitive epilepsy", "smells burnt", "24 to 72 hours ahead (common practice)"),
    ],
)
def test_every_caution_is_there(caution: str) -> None:
    assert caution in all_words(worksheet(loaded_display(TWO_FACES), {}))


def test_settings_come_from_the_profile_with_their_reasons() -> None:
    words = all_words(worksheet(loaded_display(TWO_FACES), {}))
    assert "Repeat: all files Or it stops after a round." in words
    assert "Input: HDMI 1, also" in words
    assert "Input: HDMI, also" in words  # of the profile, where the face has none
    assert "turned 90° clockwise" in words


def test_faces_with_the_same_settings_are_told_together() -> None:
    same = [{**face, "input": "HDMI 1"} for face in TWO_FACES]
    assert "Screens of A (aisle side), B (window side)" in all_words(worksheet(loaded_display(same), {}))


def test_the_first_item_is_told_in_the_words_of_the_store() -> None:
    words = all_words(worksheet(loaded_display(TWO_FACES), {}))
    assert "Its loop begins with: A can" in words
    assert "begins with: seed.mp4" in words


def test_every_symptom_is_on_it_with_its_number() -> None:
    words = all_words(worksheet(loaded_display(TWO_FACES), {}))
    assert [one.number for one in symptoms() if f"{one.number}. {one.title[:15]}" not in words] == []


GREEN, BLUE = (Image.new("RGB", (160, 90), ink) for ink in ("green", "blue"))


def test_pictures_stand_with_their_face_and_the_first_one_again_at_the_last_look() -> None:
    card = OnCard(((GREEN, "begins with: A can"), (BLUE, "A pot")), "2 items, 0:09 a round", (), GREEN)
    told = worksheet(loaded_display(TWO_FACES), {"aisle side": card})
    assert sum(len(page.pictures) for page in drawn(told)) == 3
    words = all_words(told)
    assert "Loop: Water, version 3, 1 item On the card: 2 items, 0:09 a round" in words
    assert words.count("This must be seen first.") == 1
    assert words.index("The last look") < words.index("This must be seen first.") < words.index("B  window")


def test_what_speaks_against_a_card_stands_with_its_face() -> None:
    card = OnCard(((GREEN, "can.mp4"),), "1 item", ("This card carries the loop of the window side.",))
    words = all_words(worksheet(loaded_display(TWO_FACES), {"aisle side": card}))
    assert "This card carries the loop of the window side." in words
    assert "must be seen first" not in words


@pytest.mark.parametrize("paper", PAPERS)
def test_the_symptoms_take_one_page(paper: PaperName) -> None:
    pages = drawn(worksheet(loaded_display(TWO_FACES), {}, paper))
    last = " ".join(words for words, _ in pages[-1].words)
    assert [one.number for one in symptoms() if f"{one.number}. {one.title[:15]}" not in last] == []
    assert last.startswith("If something is wrong")
    assert "smells burnt" in last


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("faces", [TWO_FACES, TWO_FACES[:1], MANY], ids=["two", "one", "eight"])
def test_nothing_overlaps_or_leaves_the_paper(faces: list[dict[str, Any]], paper: PaperName) -> None:
    upright = Image.new("RGB", (90, 160))
    card = OnCard(((upright, "upright " * 9),) * 3, "40 items", ("This is another loop. " * 9,) * 2, upright)
    cards = {face["name"]: card for face in faces}
    for page in drawn(worksheet(loaded_display(faces), cards, paper)):
        regions = [*(box for _, box in page.words), *page.pictures]
        room = PAPERS[paper]
        for region in regions:
            assert region.left >= room.margin_mm - 0.1
            assert region.right <= room.right_mm + 0.1
            assert region.top >= room.margin_mm - 0.1
            assert region.bottom <= room.bottom_mm + 0.1
        assert [pair for pair in combinations(regions, 2) if overlaps(*pair)] == []


def test_the_same_display_gives_the_same_bytes() -> None:
    one, other = (as_pdf(worksheet(loaded_display(TWO_FACES), {})) for _ in range(2))
    assert one == other
