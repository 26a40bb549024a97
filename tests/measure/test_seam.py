"""The jump at the seam beside the jumps inside, with whole numbers that can be worked out by hand."""

from __future__ import annotations

from itertools import pairwise
from statistics import median_low
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.measure.likeness import likeness
from mediacheck.measure.model import Seam, Span
from mediacheck.measure.seam import SeamGauge, picture_of
from tests.measure.strips import Bytes, smalls
from tests.media.footage import real_footage


def flat(level: int) -> Bytes:
    return np.full((6, 10, 3), level, np.uint8)


ALIKE: Any = pytest.approx(1.0)


def tiny(level: int) -> str:
    """What is kept of an even picture."""
    return f"{level:02x}" * (32 * 18 * 3)


def same(found: Seam | None, *numbers: float) -> bool:
    """Picture change, usual change, greatest change, black: the same to 1/20 of a level and of a second."""
    if found is None:
        return False
    told = found.picture_change, found.usual_change, found.greatest_change, found.black_s
    return told == pytest.approx(numbers, abs=0.05)


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
    assert seam([77] * 9) == Seam(0.0, 0.0, 0.0, 0.0, ALIKE, ALIKE, tiny(77), tiny(77))


def test_one_picture_follows_itself_and_none_has_no_seam() -> None:
    assert seam([90]) == Seam(0.0, 0.0, 0.0, 0.0, ALIKE, 1.0, tiny(90), tiny(90))
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


def of(pictures: list[Bytes]) -> Seam:
    gauge = SeamGauge()
    for number, picture in enumerate(pictures):
        gauge.see(number / 25, picture)
    found = gauge.result(len(pictures) / 25, ())
    assert found is not None
    return found


def test_the_ends_are_kept_and_nothing_of_what_is_between() -> None:
    found = seam([10, 200, 30, 40, 50])
    assert found is not None
    assert (found.first, found.last) == (tiny(10), tiny(50))
    assert picture_of(tiny(50)).shape == (18, 32, 3)
    assert "0a0a" not in repr(found)


@pytest.mark.parametrize("kept", ["", "0a", "zz" * (32 * 18 * 3)])
def test_what_is_no_picture_is_refused(kept: str) -> None:
    with pytest.raises(ValueError, match=r"reshape|hexadecimal"):
        picture_of(kept)


def test_likeness_is_that_of_the_ends_and_usual_is_the_least_of_neighbours_near_them() -> None:
    """Neighbours in the middle of the clip, of which a scene has as many as it likes, don't count."""
    scene = smalls(real_footage()[0])[0][1]
    other = 255 - scene
    dim = (scene * 0.8).astype(np.uint8)
    calm = of([*[scene] * 5, other, *[scene] * 4, dim])
    assert calm.likeness == pytest.approx(likeness(*map(tiny_of, (dim, scene))))
    assert calm.usual_likeness == calm.likeness
    assert of([*[scene] * 5, other, *[scene] * 5]).usual_likeness == pytest.approx(1.0)
    assert of([scene, other, *[scene] * 9]).usual_likeness < 0.3


def tiny_of(picture: Bytes) -> Bytes:
    return picture_of(of([picture]).first or "")


def test_a_clip_pulled_down_to_a_higher_rate_still_tells_how_alike_neighbours_are() -> None:
    """Two pictures of three are repeated at 60 for 24: 2, 3, 2, 3."""
    pictures = [picture for _, picture in smalls(real_footage()[1])][:12]
    repeated = [picture for number, picture in enumerate(pictures) for _ in range(2 + number % 2)]
    assert of(repeated).usual_likeness < 0.999
