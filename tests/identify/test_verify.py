"""What stands in a photo and not in the library is told from what glare and blur hide."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from mediacheck.identify.index import SMALL
from mediacheck.identify.photos import beside
from mediacheck.identify.verify import agreement

EVERYWHERE = np.ones(SMALL[::-1], np.bool_)
PATCH = (slice(36, 48), slice(72, 108))
"""Three blocks side by side."""


def picture(seed: int) -> NDArray[np.uint8]:
    noise = np.random.default_rng(seed).normal(0, 1, SMALL[::-1]).astype(np.float32)
    smooth = cv2.GaussianBlur(noise, (0, 0), 2.0)
    grey = np.clip(smooth / smooth.std() * 40 + 120, 0, 255).astype(np.uint8)
    return np.asarray(cv2.cvtColor(grey, cv2.COLOR_GRAY2RGB), np.uint8)


def strange(seen: NDArray[np.uint8]) -> float:
    return agreement(seen, EVERYWHERE, picture(1)).strange


def with_patch(patch: NDArray[np.uint8]) -> NDArray[np.uint8]:
    seen = picture(1)
    seen[PATCH] = patch[PATCH]
    return seen


def test_nothing_is_strange_in_the_picture_itself() -> None:
    assert strange(picture(1)) < 0.05


def test_another_thing_in_one_place_is_strange() -> None:
    assert strange(with_patch(picture(2))) > 0.5


@pytest.mark.parametrize("level", [250, 120])
def test_what_is_covered_by_glare_is_not(level: int) -> None:
    assert strange(with_patch(np.full_like(picture(1), level))) < 0.35


def test_what_a_blurred_and_dull_photo_shows_is_not() -> None:
    dull = cv2.GaussianBlur(picture(1), (0, 0), 2.0).astype(np.float32) * 0.5 + 60
    assert strange(dull.astype(np.uint8)) < 0.2


def test_another_thing_in_a_dull_photo_is_strange_all_the_same() -> None:
    dull = cv2.GaussianBlur(with_patch(picture(2)), (0, 0), 1.0).astype(np.float32) * 0.5 + 60
    assert strange(dull.astype(np.uint8)) > 0.4


def square(left: float, top: float, side: float) -> NDArray[np.float32]:
    return np.array(
        [[left, top], [left + side, top], [left + side, top + side], [left, top + side]], np.float32
    )


@pytest.mark.parametrize(
    ("other", "two"), [(square(200, 0, 100), True), (square(10, 10, 100), False), (square(95, 0, 100), True)]
)
def test_two_screens_are_two_where_they_share_little(other: NDArray[np.float32], two: bool) -> None:
    assert beside(square(0, 0, 100), other) is two
    assert beside(other, square(0, 0, 100)) is two
