"""Records made many at a time are those that would have been made one by one."""

from __future__ import annotations

import gc
from dataclasses import dataclass

import pytest

from mediacheck.card.bulk import no_collection, records


@dataclass(frozen=True, slots=True)
class Pair:
    name: str
    size: int = 0


def test_records_are_equal_to_those_made_one_by_one() -> None:
    made = records(Pair, ["a", "b"], range(2))
    assert made == [Pair("a", 0), Pair("b", 1)]
    assert [hash(pair) for pair in made] == [hash(Pair("a", 0)), hash(Pair("b", 1))]


def test_no_rows_make_no_records() -> None:
    assert records(Pair, [], []) == []


def test_a_field_with_a_default_needs_no_column() -> None:
    assert records(Pair, ["a", "b"]) == [Pair("a"), Pair("b")]


@dataclass(frozen=True, slots=True)
class Triple:
    name: str
    size: int
    tags: frozenset[str] = frozenset()


@pytest.mark.parametrize("columns", [(["a"],), (["a"], [1, 2]), (["a"], [1], [frozenset()], [2])])
def test_columns_that_leave_a_field_empty_are_refused(columns: tuple[list[object], ...]) -> None:
    with pytest.raises(ValueError, match="a column of one length for each of its 3 fields"):
        records(Triple, *columns)


@pytest.mark.parametrize("was_on", [True, False])
def test_collection_is_afterwards_as_it_was_before(was_on: bool) -> None:
    before = gc.isenabled()
    try:
        gc.enable() if was_on else gc.disable()
        with no_collection():
            assert not gc.isenabled()
        assert gc.isenabled() == was_on
    finally:
        gc.enable() if before else gc.disable()
