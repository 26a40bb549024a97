"""What differs between a clip and its item is told where it lasts, and not where something only moves."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from mediacheck.identify.differences import Pictures, differing, laid
from mediacheck.identify.traces import HEIGHT, WIDTH

MOMENTS = 24
ALL = [(number, number) for number in range(MOMENTS)]
EVERYWHERE = np.ones(48, np.bool_)


def texture(seed: int, across: float = 1.5) -> NDArray[np.float32]:
    noise = np.random.default_rng(seed).normal(0, 1, (HEIGHT, WIDTH)).astype(np.float32)
    smooth = cv2.GaussianBlur(noise, (0, 0), across)
    return np.asarray(smooth / smooth.std(), np.float32)


def still(picture: NDArray[np.float32]) -> Pictures:
    return np.repeat(np.clip(picture * 40 + 120, 0, 255).astype(np.uint8)[None], MOMENTS, axis=0)


def told(clip: Pictures, item: Pictures) -> list[bool]:
    found: list[bool] = differing(clip, item, ALL, EVERYWHERE, cropped=False).tolist()
    return found


def patched(seconds: slice) -> Pictures:
    """One block of another picture, at these moments."""
    item, other = still(texture(1)), still(texture(2))
    item[seconds, 12:18, 24:32] = other[seconds, 12:18, 24:32]
    return item


def test_what_is_the_same_does_not_differ() -> None:
    assert not any(told(still(texture(1)), still(texture(1))))


def test_one_block_that_differs_all_along_is_told() -> None:
    """As in a loop from the same template: what is usual in this clip is not what an encoder does."""
    assert all(told(patched(slice(None)), still(texture(1))))


def test_one_block_that_differs_for_some_moments_is_told_there() -> None:
    found = told(patched(slice(8, 16)), still(texture(1)))
    assert all(found[9:15])
    assert not any(found[:7])
    assert not any(found[17:])


def test_a_block_that_is_only_brighter_is_told_where_nothing_is_in_it() -> None:
    plain = np.where(np.arange(WIDTH)[None, :] < 32, texture(1), 0).astype(np.float32)
    brighter = plain.copy()
    brighter[12:18, 40:48] += 0.9
    assert all(told(still(brighter), still(plain)))


@pytest.mark.parametrize("change", [(1.25, 10), (0.7, -10), (1.0, 25)])
def test_brightness_and_contrast_of_the_whole_do_not_count(change: tuple[float, int]) -> None:
    item = still(texture(1) * 0.6)
    clip = np.clip(item.astype(np.float32) * change[0] + change[1], 0, 255).astype(np.uint8)
    assert not any(told(clip, item))


def test_what_moves_is_elsewhere_in_pictures_of_another_rate() -> None:
    """A drop that falls: at the moments of the clip it is where it never is at those of the item."""
    clip, item = still(texture(1) * 0.2), still(texture(1) * 0.2)
    for moment in range(MOMENTS):
        for pictures, late in ((item, 0), (clip, 3)):
            row = (7 * moment + late) % (HEIGHT - 3)
            pictures[moment, row : row + 3, 20:23] = 240
    assert not any(told(clip, item))


@pytest.mark.parametrize("shift", [(3.2, 1.8), (0.0, 0.0), (4.8, 2.6)])
def test_a_crop_to_one_side_is_laid_where_it_belongs(shift: tuple[float, float]) -> None:
    item = still(texture(1, across=2.5))
    matrix = np.array([[0.9, 0, shift[0]], [0, 0.9, shift[1]]], np.float32)
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    clip = np.stack([cv2.warpAffine(one, matrix, (WIDTH, HEIGHT), flags=how) for one in item]).astype(
        np.uint8
    )
    moved, inside = laid(clip, item, ALL)
    assert inside.all()
    assert np.corrcoef(moved[0].ravel(), clip[0].ravel())[0, 1] > 0.99
    assert not differing(clip, moved, ALL, inside, cropped=True).any()


def test_what_lies_outside_of_the_item_does_not_count() -> None:
    """The clip shows more than the item, which was cropped."""
    clip = still(texture(1, across=2.5))
    matrix = np.array([[0.9, 0, 3.2], [0, 0.9, 1.8]], np.float32)
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    item = np.stack([cv2.warpAffine(one, matrix, (WIDTH, HEIGHT), flags=how) for one in clip]).astype(
        np.uint8
    )
    moved, inside = laid(clip, item, ALL)
    assert 0 < inside.sum() < 48
    assert not differing(clip, moved, ALL, inside, cropped=True).any()


def test_nothing_to_compare_is_no_difference() -> None:
    assert differing(still(texture(1)), still(texture(2)), [], EVERYWHERE, cropped=False).tolist() == []
