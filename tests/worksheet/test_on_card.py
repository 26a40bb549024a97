"""What the installer's page tells of a card: titles where the files are the right ones, else warnings."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from mediacheck.measure.model import Picture
from mediacheck.sheet.faces import ShownDisplay, ShownFace, Words
from mediacheck.worksheet.on_card import OnCard, on_cards
from tests.report import make
from tests.worksheet.made import TWO_FACES, loaded_display

WRONG = replace(
    make.finding("loop-wrong-face", path=None), message="It carries another loop.", action="Look for AISLE."
)
OTHER = make.finding("video-codec")
UNSURE = make.gap("loop-wrong-face", None, "every picture must be decoded", expected=False)
WHOSE = "It was not found out whether this is the card of this face: every picture must be decoded."
BAD = "This card will not play right on this player: mediacheck check tells what is wrong."


def seen(**changes: Any) -> OnCard:
    """The card of the aisle side, with one clip, where the report says so."""
    plain: dict[str, Any] = {"findings": (), "not_checked": (), "order_known": True, "disk_order": True}
    report = make.report(items=(make.item("CAN.mp4"),), **{**plain, **changes})
    picture = Picture(0.0, 32, 18, bytes(32 * 18 * 3))
    first = ShownFace(1, Words("aisle side"), report.screen, report, lead={"CAN.mp4": picture})
    second = ShownFace(2, Words("window side"), report.screen)
    found = on_cards(loaded_display(TWO_FACES), ShownDisplay("", "", "", "", (first, second), ""))
    assert list(found) == ["aisle side"]  # the other one has no card
    return found["aisle side"]


def words_of(card: OnCard) -> tuple[tuple[str, ...], tuple[str, ...], bool]:
    return tuple(words for _, words in card.shown), card.warnings, card.first is not None


def test_the_right_card_is_told_in_the_words_of_the_store() -> None:
    assert words_of(seen()) == (("begins with: A can",), (), True)
    assert seen().facts == "1 item, 0:12 a round"


@pytest.mark.parametrize(
    ("changes", "warnings"),
    [
        ({"findings": (WRONG,)}, ("It carries another loop. Look for AISLE.",)),
        ({"not_checked": (UNSURE,)}, (WHOSE,)),
        ({"findings": (OTHER,)}, (BAD,)),
        ({"findings": (WRONG, OTHER)}, ("It carries another loop. Look for AISLE.", BAD)),
    ],
)
def test_a_card_that_is_not_surely_right_is_told_by_its_files(
    changes: dict[str, Any], warnings: tuple[str, ...]
) -> None:
    """And its picture is not given as the one that must be seen."""
    assert words_of(seen(**changes)) == (("CAN.mp4",), warnings, False)


def test_what_begins_is_said_only_where_the_order_is_known() -> None:
    assert words_of(seen(order_known=False)) == (("A can",), (), False)
    assert words_of(seen(order_known=False, disk_order=False)) == (("begins with: A can",), (), True)
