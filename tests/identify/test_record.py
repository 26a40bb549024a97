"""What an identification writes is what the ledger of many stores reads."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import jsonschema  # type: ignore[import-untyped]  # it has no types
import pytest

from mediacheck.identify.answers import Answer
from mediacheck.identify.model import Identified, LoopFound
from mediacheck.identify.record import as_record, json_text
from mediacheck.identify.schema import identification_schema
from mediacheck.identify.terminal import headline, loop_words
from mediacheck.stores.reading import said_in
from mediacheck.stores.state import Known, state_of
from tests.stores.made import NOW, PLAN, PLANTER, SEEDS, WATER

TAKEN = datetime(2026, 3, 9, 8, tzinfo=UTC)
LOOP = LoopFound("water", "planter", WATER, "2", 4.0, 6.5, 0.97)
FOUND = Identified("photo", ("a.jpg",), "match", "It fits.", (LOOP,), NOW, TAKEN, "planter", WATER, True)


@pytest.mark.parametrize(
    ("found", "face", "state"),
    [
        (FOUND, WATER, "right"),
        (replace(FOUND, loops=(replace(LOOP, version="1"),)), WATER, "outdated"),
        (replace(FOUND, face=SEEDS, right_face=False), SEEDS, "wrong"),
        (replace(FOUND, answer="none", loops=()), WATER, "not-sure"),
        (replace(FOUND, answer="none", loops=(), looked_at="clip"), WATER, "not-sure"),
        (replace(FOUND, answer="none", loops=(), looked_at="card"), WATER, "wrong"),
        (replace(FOUND, loops=(replace(LOOP, face=SEEDS), LOOP)), WATER, "right"),
        (replace(FOUND, face=None, loops=(replace(LOOP, face=SEEDS), LOOP)), WATER, "not-sure"),
        (replace(FOUND, answer="one of", loops=(LOOP, replace(LOOP, face=SEEDS))), WATER, "not-sure"),
    ],
)
def test_the_ledger_takes_it(found: Identified, face: str, state: str) -> None:
    jsonschema.validate(as_record(found), identification_schema())
    said = said_in(json_text(found).encode(), None, NOW)
    planned = PLANTER.face(face)
    assert planned is not None
    assert (said.kind, said.seen_at) == ("identification", TAKEN)
    day = date(2026, 3, 10)
    assert state_of("planter", planned, said, day, day, Known(PLAN)).state == state


@pytest.mark.parametrize(
    ("answer", "right", "words"),
    [
        ("match", True, "RIGHT: this is the loop of the aisle side."),
        ("match", False, "WRONG: the aisle side shows water."),
        ("match", None, "THIS IS water, which belongs on the aisle side."),
        ("one of", None, "NOT CERTAIN"),
        ("other version", None, "PERHAPS ANOTHER VERSION"),
        ("none", None, "NONE of the loops"),
        ("retake", None, "TAKE THE PHOTO AGAIN."),
    ],
)
def test_the_first_line_is_the_answer(answer: Answer, right: bool | None, words: str) -> None:
    assert headline(replace(FOUND, answer=answer, right_face=right))[0].startswith(words)


def test_a_loop_in_words() -> None:
    assert loop_words(LOOP) == "water, version 2, for the aisle side, at 0:04 to 0:06 of its round, 97 % sure"
