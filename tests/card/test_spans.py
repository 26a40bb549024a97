"""Stretches of numbers behave as the sets of the same numbers."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.spans import Spans, meetings

STRETCHES = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 12)), max_size=12)


def spans(stretches: list[tuple[int, int]]) -> Spans:
    return Spans.of([start for start, _ in stretches], [start + count for start, count in stretches])


def numbers(stretches: list[tuple[int, int]]) -> set[int]:
    return {number for start, count in stretches for number in range(start, start + count)}


def members(found: Spans) -> set[int]:
    """What is in it; its stretches must be sorted, apart and not empty."""
    pairs = [*zip(found.starts.tolist(), found.ends.tolist(), strict=True)]
    assert all(start < end for start, end in pairs)
    assert all(before[1] < after[0] for before, after in pairwise(pairs))
    return {number for start, end in pairs for number in range(start, end)}


@given(STRETCHES, STRETCHES)
def test_they_are_sets(first: list[tuple[int, int]], second: list[tuple[int, int]]) -> None:
    one, other = numbers(first), numbers(second)
    assert members(spans(first)) == one
    assert members(spans(first) - spans(second)) == one - other
    assert members(spans(first) & spans(second)) == one & other
    assert members(Spans.union([spans(first), spans(second)])) == one | other
    assert (spans(first).total, bool(spans(first))) == (len(one), bool(one))


@given(st.lists(st.binary(max_size=4), max_size=4), st.integers(0, 3), st.integers(0, 100))
def test_bits_in_blocks_are_their_places(blocks: list[bytes], first: int, count: int) -> None:
    data = b"".join(blocks)
    bits = [place for place in range(min(count, len(data) * 8)) if data[place // 8] >> place % 8 & 1]
    assert members(Spans.of_bits(blocks, first, count)) == {first + place for place in bits}


@given(st.sets(st.integers(0, 99)), st.integers(1, 20))
def test_places_and_the_blocks_that_hold_them(places: set[int], size: int) -> None:
    found = Spans.of_places(sorted(places))
    assert members(found) == places
    assert [*found.blocks(size)] == sorted({place // size for place in places})


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(1, 8), st.integers(0, 5)), max_size=12))
def test_whoever_shares_a_number_meets_somebody(held: list[tuple[int, int, int]]) -> None:
    owned: dict[int, set[int]] = {}
    for start, count, owner in held:
        owned.setdefault(owner, set()).update(range(start, start + count))
    pairs = meetings(*([row[column] for row in held] for column in range(3)))
    sharing = {
        (later, earlier)
        for later in owned
        for earlier in owned
        if later > earlier and owned[later] & owned[earlier]
    }
    assert set(pairs) <= sharing
    assert {owner for pair in pairs for owner in pair} == {owner for pair in sharing for owner in pair}
    assert list(pairs) == sorted(set(pairs))
