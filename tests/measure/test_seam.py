"""The jump at the seam beside the jumps inside, with whole numbers that can be worked out by hand."""

from __future__ import annotations

from dataclasses import astuple
from itertools import pairwise
from statistics import median_low

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.measure.model import Seam, Span
from mediacheck.measure.seam import SeamGauge
from tests.measure.strips import Bytes, smalls
from tests.media.footage import real_footage


def flat(level: int) -> Bytes:
    return np.full((6, 10, 3), level, np.uint8)


def same(found: Seam | None, *numbers: float) -> bool:
    """Picture change, usual change, greatest change, black: the same to 1/20 of a level and of a second."""
    return found is not None and astuple(found) == pytest.approx(numbers, abs=0.05)


def seam(levels: list[int], end_s: float = 4.0, black: tuple[Span, ...] = ()) -> Seam | None:
    """Of a clip of even pictures, whose differences are those of their levels."""
    gauge = SeamGauge()
    for number, level in enumerate(levels):
        gauge.see(number / 25, flat(level))
    return gauge.result(end_s, black)


def test_changes_are_mean_absolute_differences() -> None:
    assert same(seam([10, 11, 13, 14, 54]), 44, 1, 40, 0)


def test_a_clip_that_comes_back_to_its_start_has_no_jump() -> None:
    assert same(seam([10, 200, 10]), 0, 190, 190, 0)


def test_a_still_clip_has_no_change_at_all() -> None:
    assert seam([77] * 9) == Seam(0.0, 0.0, 0.0, 0.0)


def test_one_picture_follows_itself_and_none_has_no_seam() -> None:
    assert seam([90]) == Seam(0.0, 0.0, 0.0, 0.0)
    assert seam([]) is None


@pytest.mark.parametrize(
    ("black", "black_s"),
    [
        ((), 0.0),
        ((Span(0.0, 0.5), Span(1.0, 2.0), Span(3.25, 4.0)), 1.25),
        ((Span(0.04, 0.5), Span(3.5, 3.96)), 0.92),
        ((Span(0.5, 3.5),), 0.0),
        ((Span(0.0, 4.0),), 4.0),
    ],
)
def test_black_counts_at_the_ends_alone_and_once(black: tuple[Span, ...], black_s: float) -> None:
    assert same(seam([0, 0], 4.0, black), 0, 0, 0, black_s)


@given(st.lists(st.integers(0, 255), min_size=2, max_size=40))
def test_median_and_greatest_change_of_any_clip(levels: list[int]) -> None:
    changes = [abs(after - before) for before, after in pairwise(levels)]
    found = seam(levels)
    assert found is not None
    assert found.usual_change == pytest.approx(median_low(changes), abs=0.05)
    assert found.greatest_change == max(changes)
    assert found.picture_change == abs(levels[-1] - levels[0])


def test_a_jump_is_far_over_the_usual_change_of_real_footage() -> None:
    """There and back again has a seam like its inside; a clip cut off has not."""
    pictures = [picture for _, picture in smalls(real_footage()[0])][:60]
    cut, loop = SeamGauge(), SeamGauge()
    for number, picture in enumerate(pictures):
        cut.see(number / 25, picture)
    for number, picture in enumerate([*pictures, *pictures[-2:0:-1]]):
        loop.see(number / 25, picture)
    cut_off, there_and_back = cut.result(2.4, ()), loop.result(4.72, ())
    assert cut_off is not None
    assert there_and_back is not None
    assert cut_off.picture_change > 5 * cut_off.usual_change
    assert there_and_back.picture_change <= there_and_back.greatest_change
