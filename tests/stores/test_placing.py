"""Which store and face a document is for; what is not certain is asked for."""

from __future__ import annotations

from typing import Any

import pytest

from mediacheck.errors import WrongUse
from mediacheck.stores.model import Place, Plan, PlannedDisplay, PlannedFace, Said, Store
from mediacheck.stores.placing import Given, Placing
from mediacheck.stores.reading import NotTaken
from tests.stores.made import NOW, PLAN, SEEDS, SHELF, WATER


def placed(shown: str, face: str | None = None, display: str | None = None, **given: Any) -> Place:
    return Placing(PLAN, Given(**given)).place(shown, Said("check", NOW, display, face))


@pytest.mark.parametrize(
    ("shown", "wanted"),
    [
        ("0117_aisle-side.json", ("0117", "planter", WATER)),
        ("0117 Window Side 2026-03-10.JSON", ("0117", "planter", SEEDS)),
        ("reports/0117/aisle side.json", ("0117", "planter", WATER)),
        ("mailed/0117-mossford/window_side/report.json", ("0117", "planter", SEEDS)),
        ("mailed.zip/0117/photo of the aisle side.jpg", ("0117", "planter", WATER)),
        ("0117.zip/aisle-side.json", ("0117", "planter", WATER)),
        ("C:\\reports\\0117\\aisle side.json", ("0117", "planter", WATER)),
        ("N-0042.json", ("N-0042", "shelf", "front")),
        ("n_0042-report.json", ("N-0042", "shelf", "front")),
        ("0118_window side.json", ("0118", "planter", SEEDS)),
        ("0118 front.json", ("0118", "shelf", "front")),
    ],
)
def test_the_name_tells_store_and_face(shown: str, wanted: tuple[str, str, str]) -> None:
    assert placed(shown) == Place(*wanted)


def test_what_a_report_says_of_its_face_goes_before_the_name() -> None:
    assert placed("0117.json", face="Aisle  SIDE").face == WATER
    assert placed("0118-x.json", face=WATER, display="planter") == Place("0118", "planter", WATER)
    assert placed("0118-x.json", display="shelf") == Place("0118", "shelf", "front")


def test_what_was_said_goes_before_all() -> None:
    placing = Placing(PLAN, Given(store="0117", face="aisle side"))
    found = placing.place("0118_window-side.json", Said("check", NOW, None, SEEDS))
    assert found == Place("0117", "planter", WATER)
    placing = Placing(PLAN, Given(store="0118", face="front"))
    found = placing.place("0117_window-side.json", Said("check", NOW, None, SEEDS))
    assert found == Place("0118", "shelf", "front"), "the display follows from the face that was said"


@pytest.mark.parametrize(
    ("shown", "face", "given", "words"),
    [
        ("report.json", WATER, {}, "which store"),
        ("report-0117.json", WATER, {}, "which store"),
        ("2026/0999_aisle-side.json", None, {}, "which store"),
        ("0117.json", None, {}, "which face"),
        ("0117_aisle side_window side.json", None, {}, "which face"),
        ("0118.json", None, {}, "which display"),
        ("0118 aisle side and front.json", None, {}, "which display"),
        ("0117_aisle-side.json", SEEDS, {}, "its name says another face"),
        ("0117.json", "back", {}, 'no face "back"'),
        ("N-0042.json", None, {"display": "planter"}, 'no display "planter" stands in store N-0042'),
        ("0117_x.json", None, {"pattern": "{store}-{face}"}, "does not have the form"),
        ("9999-aisle side.json", None, {"pattern": "{store}-{face}"}, 'no store "9999"'),
    ],
)
def test_what_is_not_certain_is_not_taken(
    shown: str, face: str | None, given: dict[str, Any], words: str
) -> None:
    with pytest.raises(NotTaken) as refused:
        placed(shown, face, **given)
    assert words in str(refused.value)


def test_a_face_whose_name_is_a_part_of_a_word_is_not_named_by_it() -> None:
    faces = tuple(PlannedFace(name) for name in ("in", "window", "window left"))
    plan = Plan((PlannedDisplay("d", "", faces),), (Store("0117", displays=("d",)),))
    placing = Placing(plan, Given())
    assert placing.place("0117_window.json", Said("check", NOW)).face == "window"
    assert placing.place("0117_window-left.json", Said("check", NOW)).face == "window left"
    with pytest.raises(NotTaken, match="which face"):
        placing.place("0117 in window.json", Said("check", NOW))


def test_stores_whose_numbers_look_alike_in_a_name_are_not_mixed_up() -> None:
    plan = Plan(PLAN.displays, tuple(Store(number, displays=("shelf",)) for number in ("N-1", "n 1", "N-2")))
    with pytest.raises(NotTaken, match='the stores "N-1" and "n 1" apart'):
        Placing(plan, Given()).place("n_1.json", Said("check", NOW))
    for number in ("N-1", "n 1"):
        assert Placing(plan, Given(store=number)).place("x.json", Said("check", NOW)).store == number
    assert Placing(plan, Given()).place("n_2.json", Said("check", NOW)).store == "N-2"


@pytest.mark.parametrize(
    ("pattern", "shown"),
    [
        ("{store}-{face}", "0117-aisle-side.json"),
        ("{store}-{face}.json", "0117-aisle_side.json"),
        ("report {face} ({store})", "a/report AISLE SIDE (0117).json"),
        ("{store}_{display}_{face}_*", "0117_planter_aisle side_2026-03-10.json"),
        ("*[{store}] {face}", "IMG 33 [0117] aisle side.jpg"),
    ],
)
def test_a_pattern_of_names(pattern: str, shown: str) -> None:
    assert placed(shown, pattern=pattern) == Place("0117", "planter", WATER)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"pattern": "{shop}"}, "not {shop}"),
        ({"pattern": "{store}{store}"}, "once at most"),
        ({"store": "9999"}, 'no store "9999"'),
        ({"display": "nothing"}, 'no display "nothing"'),
    ],
)
def test_wrong_use_is_told_before_any_file_is_read(given: dict[str, str], words: str) -> None:
    with pytest.raises(WrongUse) as refused:
        Placing(PLAN, Given(**given))
    assert words in str(refused.value)


def test_numbers_that_read_alike_are_not_guessed() -> None:
    stores = (Store("N-12", displays=("shelf",)), Store("n 12", displays=("shelf",)))
    plan, said = Plan((SHELF,), stores), Said("check", NOW)
    with pytest.raises(NotTaken, match="does not tell the stores"):
        Placing(plan, Given()).place("N-12.json", said)
    with pytest.raises(NotTaken, match="does not tell the stores"):
        Placing(plan, Given(store="N_12")).place("x.json", said)
    assert Placing(plan, Given(store="n 12")).place("N-12.json", said).store == "n 12"
    assert Placing(plan, Given(pattern="{store}_*")).place("N-12_x.json", said).store == "N-12"


def test_accents_may_be_written_apart() -> None:
    """As computers of one make name their files, and archives of them."""
    faces = (PlannedFace("all\u00e9e"), PlannedFace("window"))
    plan = Plan((PlannedDisplay("shelf", "", faces),), (Store("0117", displays=("shelf",)),))
    found = Placing(plan, Given()).place("0117_alle\u0301e.json", Said("check", NOW))
    assert found == Place("0117", "shelf", "all\u00e9e")
