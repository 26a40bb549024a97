"""Names of reports: told from the path, each its own, the same in the next run."""

from __future__ import annotations

import os
import string
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.many.kept import Note, Notes, read_notes
from mediacheck.many.naming import identity, names_for, plain

PARTS = st.text(string.ascii_letters + " .é-日", min_size=1, max_size=12).filter(lambda s: s.strip(". "))
CARDS = st.lists(st.lists(PARTS, min_size=1, max_size=4), min_size=1, max_size=8)


@pytest.mark.parametrize(
    ("cards", "names"),
    [
        (["/x/store-0117/aisle.img"], ["aisle"]),
        (["/x/store-0117/card.img", "/x/store-0118/card.img"], ["store-0117-card", "store-0118-card"]),
        (["/x/a/card.img", "/x/a/Card.IMG"], ["a-card", "a-Card-2"]),
        (["/x/a/card.img", "/x/a/card.bin", "/x/b/window"], ["a-card", "a-card-2", "window"]),
        (["/x/window side"], ["window-side"]),
        (["/x/con.img"], ["card-con"]),
        (["/"], ["card"]),
    ],
)
@pytest.mark.skipif(os.name == "nt", reason="paths of POSIX")
def test_a_name_is_as_short_as_it_can_be(cards: list[str], names: list[str]) -> None:
    found = names_for([Path(card) for card in cards], {})
    assert len({name.casefold() for name in found}) == len(names)
    if len(cards) == 1 or names[0].startswith("store"):
        assert list(found) == names
    assert all(name == plain(name) for name in found)


@given(CARDS)
def test_no_two_names_are_alike_and_each_is_one_that_any_system_takes(parts: list[list[str]]) -> None:
    cards = list(dict.fromkeys(Path("/", *each) for each in parts))
    names = names_for(cards, {})
    assert len({name.casefold() for name in names}) == len(cards)
    for name in names:
        assert name == plain(name)
        assert not set('<>:"/\\|?* ') & set(name)
        assert len(f"{name}.report.json".encode()) <= 255


def test_long_paths_that_end_alike_get_names_that_the_next_run_believes(tmp_path: Path) -> None:
    """A name that `plain` would change is not one of ours, and the notes that hold it are not read."""
    cards = [tmp_path / folder / ("x" * 70) for folder in ("a", "b", "c")]
    found = names_for(cards, {})
    assert len(set(found)) == 3
    assert [plain(name) for name in found] == list(found)
    notes = Notes(tmp_path / "cards.json")
    for card, name in zip(cards, found, strict=True):
        notes.add(card, Note(name, None, "0" * 64))
    assert read_notes(notes.path).names == notes.names


def test_a_card_keeps_its_name_and_no_other_card_gets_it(tmp_path: Path) -> None:
    old, new = tmp_path / "a" / "card.img", tmp_path / "b" / "card.img"
    taken = {identity(old): "card"}
    assert names_for([new, old], taken) == ("b-card", "card")
    assert names_for([new], taken) == ("b-card",)


def test_names_do_not_depend_on_the_order_where_no_two_are_alike(tmp_path: Path) -> None:
    cards = [tmp_path / name for name in ("window", "aisle", "till")]
    assert dict(zip(cards, names_for(cards, {}), strict=True)) == dict(
        zip(cards[::-1], names_for(cards[::-1], {}), strict=True)
    )
