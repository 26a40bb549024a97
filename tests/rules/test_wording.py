"""How sizes, numbers, places and lists are spelt in findings."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.rules import wording


@pytest.mark.parametrize(
    ("names", "spelt"),
    [([], "nothing"), (["A"], "A"), (["A", "B"], "A or B"), (["A", "B", "C"], "A, B or C")],
)
def test_a_choice(names: list[str], spelt: str) -> None:
    assert wording.either(names) == spelt


@pytest.mark.parametrize(
    ("count", "spelt"), [(0, ""), (1, "0"), (5, "0, 1, 2, 3, 4"), (7, "0, 1, 2, 3, 4 and 2 more")]
)
def test_a_list_is_cut_after_five(count: int, spelt: str) -> None:
    assert wording.listed([str(number) for number in range(count)]) == spelt


@pytest.mark.parametrize(
    ("size_bytes", "spelt"),
    [
        (0, "0 bytes"),
        (999, "999 bytes"),
        (1000, "1 kB"),
        (1_500_000, "1.5 MB"),
        (4_294_967_295, "4.29 GB"),
        (63_900_000_000, "63.9 GB"),
        (64_000_000_000, "64 GB"),
        (2_000_000_000_000, "2 TB"),
    ],
)
def test_sizes_are_decimal_as_on_cards(size_bytes: int, spelt: str) -> None:
    assert wording.size(size_bytes) == spelt


@pytest.mark.parametrize(
    ("value", "spelt"),
    [
        (10, "10"),
        (0.5, "0.5"),
        (Fraction(1, 3), "0.333"),
        (92.4, "92.4"),
        (1800, "1,800"),
        (Fraction(100), "100"),
    ],
)
def test_numbers_have_no_idle_zeros(value: Fraction | float, spelt: str) -> None:
    assert wording.number(value) == spelt


@given(st.integers(0, 10**13), st.integers(0, 10**13))
def test_two_sizes_that_differ_never_look_the_same(first: int, second: int) -> None:
    assert (len(set(wording.told_apart(first, second))) == 1) == (first == second)


@pytest.mark.parametrize(
    ("folder", "spelt"), [("", "the root of the card"), ("video/day", 'the folder "video/day"')]
)
def test_a_place(folder: str, spelt: str) -> None:
    assert wording.place(folder) == spelt


def test_a_sentence_goes_on_after_its_clause() -> None:
    assert wording.clause("The file ends early. ") == "The file ends early"
    assert wording.capital("it is no picture") == "It is no picture"
    assert wording.capital("") == ""
