"""Which pictures are shown: the scenes that there are, sharp, not black, and spread over the item."""

from __future__ import annotations

from itertools import pairwise

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from mediacheck.measure.choice import KEPT_MAX, Gathering, apart, choose, chosen, look_at
from mediacheck.measure.model import Picture

WIDTH, HEIGHT = 160, 90
Rgb = NDArray[np.uint8]


def scene(number: int, shift: int = 0) -> Rgb:
    """Blocks in colours that follow from the number; `shift` moves them a little, as a camera does."""
    colours = np.random.default_rng(number).integers(40, 255, (5, 8, 3), np.uint8)
    whole = cv2.resize(colours, (WIDTH, HEIGHT), interpolation=cv2.INTER_NEAREST)
    return np.roll(whole, shift, axis=1)


def picture(rgb: Rgb, second: float) -> Picture:
    return Picture(second, WIDTH, HEIGHT, np.ascontiguousarray(rgb, np.uint8).tobytes())


def film(*rgbs: Rgb) -> list[Picture]:
    """A picture a second."""
    return [picture(rgb, float(second)) for second, rgb in enumerate(rgbs)]


def seconds(pictures: tuple[Picture, ...]) -> list[float]:
    return [one.second for one in pictures]


def black() -> Rgb:
    return np.zeros((HEIGHT, WIDTH, 3), np.uint8)


def mixed(one: Rgb, other: Rgb, share: float) -> Rgb:
    return np.asarray(one * (1 - share) + other * share, np.uint8)


def titled(shift: int) -> Rgb:
    """Words on a plain ground, moved to the right."""
    whole = np.full((HEIGHT, WIDTH, 3), 90, np.uint8)
    for letter in range(6):
        left = 62 + 6 * letter + shift
        whole[40:50, max(0, left) : max(0, left + 4)] = 250
    return whole


def test_one_picture_of_each_scene_however_long_it_is() -> None:
    """Even steps would show the first scene three times: it takes 20 of 26 seconds."""
    long = [scene(1, shift=step % 2) for step in range(20)]
    shots = film(*long, scene(2), scene(2, 1), scene(3), scene(3, 1), scene(4), scene(4, 1))
    found = chosen(shots, 4)
    assert [next(i for i, end in enumerate((20, 22, 24, 26)) if one.second < end) for one in found] == [
        0,
        1,
        2,
        3,
    ]


def test_what_hardly_moves_is_spread_over_the_item() -> None:
    found = seconds(chosen(film(*[scene(1, shift=step % 2) for step in range(40)]), 4))
    assert len(found) == 4
    assert all(5 <= later - earlier <= 15 for earlier, later in pairwise(found))
    assert found[0] < 10
    assert found[-1] >= 30


def test_black_and_white_pictures_are_left_out() -> None:
    white = np.full((HEIGHT, WIDTH, 3), 255, np.uint8)
    shots = film(black(), scene(1), black(), scene(2), white, scene(3), black())
    assert seconds(chosen(shots, 5)) == [1, 3, 5]


def test_pictures_in_the_midst_of_a_fade_are_left_out() -> None:
    fades = [mixed(scene(1), scene(2), 0.5), mixed(scene(2), scene(3), 0.5)]
    shots = film(scene(1), scene(1, 1), fades[0], scene(2), scene(2, 1), fades[1], scene(3), scene(3, 1))
    assert set(seconds(chosen(shots, 4))).isdisjoint({2.0, 5.0})


def test_smeared_pictures_are_left_out() -> None:
    smear = cv2.blur(scene(1), (31, 31))
    shots = film(scene(1), scene(1, 1), np.asarray(smear, np.uint8), scene(1, 2), scene(1, 1))
    assert 2.0 not in seconds(chosen(shots, 4))


def test_titles_are_shown_when_they_stand_still() -> None:
    """A title slides in for two pictures, stands for nine, slides out: the standing one is shown."""
    shots = film(*map(titled, (-60, -30, *[0] * 9, 30, 60)))
    assert all(2 <= second <= 10 for second in seconds(chosen(shots, 2)))


def test_where_all_is_black_one_is_better_than_none() -> None:
    assert seconds(chosen(film(black(), black(), black()), 4)) == [0]
    assert chosen([], 4) == ()


def test_preferred_pictures_come_first() -> None:
    shots = film(*[scene(number) for number in range(8)])
    looks = [look_at(one) for one in shots]
    kept = [look.picture.second for look in choose(looks, 3, preferred={2.0, 6.0})]
    assert {2.0, 6.0} < set(kept)
    assert len(kept) == 3
    assert [look.picture.second for look in choose(looks, 1, preferred={6.0})] == [6]


def test_more_pictures_than_are_held_lose_none_of_the_scenes() -> None:
    gathering = Gathering()
    for second in range(6 * KEPT_MAX):
        gathering.add(picture(scene(second // KEPT_MAX, second % 2), float(second)))
    found = gathering.chosen(6)
    assert [int(one.second) // KEPT_MAX for one in found] == [0, 1, 2, 3, 4, 5]


@settings(deadline=None, max_examples=40)
@given(st.lists(st.integers(0, 5), max_size=12), st.integers(0, 6))
def test_what_is_chosen_is_some_of_what_there_was_in_order(numbers: list[int], count: int) -> None:
    shots = film(*[black() if number == 0 else scene(number) for number in numbers])
    found = chosen(shots, count)
    assert len(found) <= count
    assert bool(found) == bool(shots and count)
    assert seconds(found) == sorted(set(seconds(found)))
    assert all(one in shots for one in found)


def test_sharpness_and_difference_are_measured_in_known_units() -> None:
    edge = black()
    edge[:, WIDTH // 2 :] = 200
    assert look_at(picture(edge, 0)).sharpness > 50 * look_at(picture(cv2.blur(edge, (41, 41)), 0)).sharpness  # type: ignore[arg-type]
    dark, light = (look_at(picture(np.full((HEIGHT, WIDTH, 3), level, np.uint8), 0)) for level in (50, 80))
    assert apart(dark, light) == pytest.approx(30)
    assert (dark.is_empty, look_at(picture(scene(1), 0)).is_empty) == (True, False)
