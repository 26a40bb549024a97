"""How two items meet: pictures of any shapes, and sounds of one channel or more."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.measure.meeting import pictures_meet, sound_step
from mediacheck.measure.model import Seam, SoundEdge
from mediacheck.measure.seam import SeamGauge
from tests.measure.strips import Bytes, smalls
from tests.media.footage import real_footage


def seam(*pictures: Bytes) -> Seam:
    """What the gauge keeps of a clip of these pictures."""
    gauge = SeamGauge()
    for number, picture in enumerate(pictures):
        gauge.see(number / 25, picture)
    found = gauge.result(len(pictures) / 25, ())
    assert found is not None
    return found


def flat(level: int, height: int = 90, width: int = 160) -> Bytes:
    return np.full((height, width, 3), level, np.uint8)


def edge(level: float | tuple[float, ...], step: float | tuple[float, ...] = 0.01) -> SoundEdge:
    levels = level if isinstance(level, tuple) else (level,)
    return SoundEdge(levels, step if isinstance(step, tuple) else (step,) * len(levels))


def test_the_last_of_one_meets_the_first_of_the_other() -> None:
    met = pictures_meet(seam(flat(10), flat(100)), seam(flat(130), flat(250)))
    assert met is not None
    assert met[0] == 30
    assert met[1] > 0.95


def test_items_of_different_shapes_are_compared() -> None:
    upright, wide, strip = flat(60, 160, 90), flat(60), flat(90, 14, 160)
    same, brighter = pictures_meet(seam(upright), seam(wide)), pictures_meet(seam(strip), seam(upright))
    assert same is not None
    assert brighter is not None
    assert same == pytest.approx((0.0, 1.0))
    assert brighter[0] == 30


def test_without_pictures_there_is_no_answer() -> None:
    kept, not_kept = seam(flat(10)), Seam(1.0, 1.0, 1.0, 0.0)
    assert pictures_meet(kept, not_kept) is None
    assert pictures_meet(not_kept, kept) is None


def test_a_film_cut_in_two_runs_on_and_another_film_does_not() -> None:
    film, other = ([picture for _, picture in smalls(clip)] for clip in real_footage()[:2])
    first, second = seam(*film[:40]), seam(*film[40:80])
    runs_on, breaks = pictures_meet(first, second), pictures_meet(first, seam(*other[:40]))
    assert runs_on is not None
    assert breaks is not None
    assert runs_on[0] <= max(first.greatest_change, second.greatest_change)
    assert runs_on[1] >= 0.9
    assert breaks[0] > 1.5 * max(first.greatest_change, second.greatest_change)
    assert breaks[1] < 0.5


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_change_is_never_greater_than_that_of_the_small_pictures(seed: int) -> None:
    """So an item that follows itself never jumps more by the tiny pictures than by the small ones."""
    one, two = np.random.default_rng(seed).integers(0, 256, (2, 90, 160, 3)).astype(np.uint8)
    both = seam(one, two)
    met = pictures_meet(both, both)
    assert met is not None
    assert met[0] <= both.picture_change + 1  # tiny levels are whole numbers
    assert met[1] == both.likeness


@pytest.mark.parametrize(
    ("ending", "starting", "step"),
    [
        (edge(0.25), edge(0.25), 0),
        (edge(0.25), edge(-0.25), 50),
        (edge(0.25, 0.05), edge(-0.25, 0.01), 10),
        (edge(0.25, 0.01), edge(-0.25, 0.05), 10),
        (edge(0.0005, 0.0), edge(0.0, 0.0), 0.5),
        (edge((0.1, 0.2), (0.1, 0.01)), edge((0.4, 0.2), (0.1, 0.01)), 3),
        (edge((0.1, 0.2), (0.1, 0.01)), edge((0.4, 0.25), (0.1, 0.01)), 5),
        (edge(0.1), edge((0.1, 0.2)), 10),
        (edge((0.1, 0.2)), edge(0.1), 10),
    ],
)
def test_the_step_is_a_multiple_of_the_greatest_near_in_the_worst_channel(
    ending: SoundEdge, starting: SoundEdge, step: float
) -> None:
    assert sound_step(ending, starting) == pytest.approx(step)


def test_channels_that_cannot_be_matched_have_no_step() -> None:
    assert sound_step(edge((0.1, 0.2)), edge((0.1,) * 6)) is None
    assert sound_step(edge(()), edge(())) is None
