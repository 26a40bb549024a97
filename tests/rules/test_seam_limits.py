"""What passes for a seam that nobody notices, on pictures of known make and on real footage."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from mediacheck.measure.model import Seam
from mediacheck.measure.seam import SeamGauge
from mediacheck.rules.seam_limits import alike_enough, change_unseen, jumps
from tests.measure.strips import smalls
from tests.media.footage import real_footage

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
PICTURES = 60


def seam(pictures: Sequence[Bytes]) -> Seam:
    gauge = SeamGauge()
    for number, picture in enumerate(pictures):
        gauge.see(number / 25, picture)
    found = gauge.result(len(pictures) / 25, ())
    assert found is not None
    return found


def jumps_at_its_own_seam(pictures: Sequence[Bytes]) -> bool:
    found = seam(pictures)
    assert found.likeness is not None
    return jumps(found.picture_change, found.likeness, found)


@cache
def scene(clip: int) -> Floats:
    """The first picture of a real clip, four times as large as a small picture."""
    large = cv2.resize(smalls(real_footage()[clip])[0][1], (640, 360), interpolation=cv2.INTER_CUBIC)
    return np.asarray(large, np.float64)


def shot(view: Callable[[float], Floats]) -> list[Bytes]:
    """A clip of 60 small pictures of what is seen from time 0 to time 1."""
    moments = [np.clip(view(number / (PICTURES - 1)), 0, 255) for number in range(PICTURES)]
    return [
        np.asarray(cv2.resize(one.astype(np.uint8), (160, 90), interpolation=cv2.INTER_AREA), np.uint8)
        for one in moments
    ]


def grain(strength: float) -> Callable[[], Floats]:
    random = np.random.default_rng(3)
    return lambda: random.normal(0, strength, (360, 640, 3))


def with_a_box(at: float, side: int = 120) -> Floats:
    """The scene with a part of another one moved in at the left edge by `at` pixels."""
    view = scene(0).copy()
    view[150 : 150 + side, int(at) : int(at) + side] = scene(1)[100 : 100 + side, 200 : 200 + side]
    return view


CALM = {
    "a still": lambda t: scene(0),
    "brighter by 10": lambda t: scene(0) + 10 * t,
    "darker by 10": lambda t: scene(0) - 10 * t,
    "brighter by a twentieth": lambda t: scene(0) * (1 + 0.05 * t),
    "a box that comes back": lambda t: with_a_box(200 * np.sin(np.pi * t) + 20),
}
CUT = {
    "a dissolve to another scene": lambda t: scene(0) * (1 - t) + scene(1) * t,
    "brighter by 40": lambda t: scene(0) + 40 * t,
    "a box that travels": lambda t: with_a_box(60 * t + 20),
    "red turns to a green as bright": lambda t: np.full((360, 640, 3), (180 * (1 - t), 92 * t, 0)),
}


@pytest.mark.parametrize("strength", [0, 5, 15, 30])
@pytest.mark.parametrize("view", CALM.values(), ids=CALM.keys())
def test_grain_and_slow_changes_do_not_jump(view: Callable[[float], Floats], strength: float) -> None:
    noise = grain(strength)
    assert not jumps_at_its_own_seam(shot(lambda t: view(t) + noise()))


@pytest.mark.parametrize("strength", [0, 5])
@pytest.mark.parametrize("view", CUT.values(), ids=CUT.keys())
def test_real_jumps_do_and_so_they_do_in_light_grain(
    view: Callable[[float], Floats], strength: float
) -> None:
    noise = grain(strength)
    assert jumps_at_its_own_seam(shot(lambda t: view(t) + noise()))


@pytest.mark.parametrize("strength", [15, 30])
def test_even_strong_grain_does_not_hide_another_scene(strength: float) -> None:
    noise = grain(strength)
    assert jumps_at_its_own_seam(shot(lambda t: scene(0) * (1 - t) + scene(1) * t + noise()))


def test_a_slow_change_is_what_the_likeness_is_there_for() -> None:
    """By its change alone, that scene would jump."""
    brighter = seam(shot(lambda t: scene(0) + 10 * t))
    assert brighter.likeness is not None
    assert brighter.picture_change > change_unseen(brighter)
    assert brighter.likeness > alike_enough(brighter)


@pytest.mark.parametrize("clip", real_footage(), ids=lambda clip: clip.stem)
def test_real_footage_that_comes_back_to_its_start_does_not_jump(clip: Path) -> None:
    pictures = [picture for _, picture in smalls(clip)][:40]
    assert not jumps_at_its_own_seam([*pictures, *pictures[-2:0:-1]])


@pytest.mark.parametrize("clip", real_footage(), ids=lambda clip: clip.stem)
def test_real_footage_that_is_cut_off_jumps(clip: Path) -> None:
    """Pictures 41 to 65, 1 s and more of one shot or two."""
    assert jumps_at_its_own_seam([picture for _, picture in smalls(clip)][40:65])
