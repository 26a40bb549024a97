"""Structural similarity against scikit-image's, over many pairs of pictures, and what colours do to it."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from skimage.metrics import structural_similarity

from mediacheck.measure.likeness import likeness, ssim
from tests.measure.strips import smalls
from tests.media.footage import real_footage, sample_clips

Bytes = NDArray[np.uint8]


def theirs(before: Bytes, after: Bytes) -> float:
    """As the authors of the paper have it: Gaussian window, and sums divided by their number."""
    return float(
        structural_similarity(  # type: ignore[no-untyped-call]
            before, after, gaussian_weights=True, sigma=1.5, use_sample_covariance=False, data_range=255
        )
    )


def luma(picture: Bytes) -> Bytes:
    return np.asarray(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), np.uint8)


def spoilt(plane: Bytes) -> dict[str, Bytes]:
    """What becomes of pictures on their way."""
    noise = np.random.default_rng(7).normal(0, 12, plane.shape)
    return {
        "the same": plane,
        "brighter": np.clip(plane.astype(np.int16) + 25, 0, 255).astype(np.uint8),
        "grain": np.clip(plane + noise, 0, 255).astype(np.uint8),
        "soft": np.asarray(cv2.GaussianBlur(plane, (9, 9), 2.0), np.uint8),
        "moved": np.roll(plane, 3, axis=1),
        "negative": 255 - plane,
        "coarse": plane // 32 * 32,
    }


CLIPS = (*real_footage(), *sample_clips())


@pytest.mark.parametrize("clip", CLIPS, ids=lambda clip: clip.stem)
def test_neighbours_and_strangers_of_real_clips_are_as_alike_as_scikit_image_says(clip: Path) -> None:
    planes = [luma(picture) for _, picture in smalls(clip)]
    places = [0, 1, len(planes) // 3, len(planes) // 2, len(planes) - 2, len(planes) - 1]
    pairs = list(product(places, places))
    ours = [ssim(planes[one], planes[two]) for one, two in pairs]
    assert ours == pytest.approx([theirs(planes[one], planes[two]) for one, two in pairs], abs=1e-3)


@pytest.mark.parametrize("clip", real_footage()[:2], ids=lambda clip: clip.stem)
@pytest.mark.parametrize("way", spoilt(np.zeros((16, 16), np.uint8)))
def test_spoilt_pictures_are_as_alike_as_scikit_image_says(clip: Path, way: str) -> None:
    plane = luma(smalls(clip)[10][1])
    assert ssim(plane, spoilt(plane)[way]) == pytest.approx(theirs(plane, spoilt(plane)[way]), abs=1e-3)


@settings(max_examples=60, deadline=None)
@given(st.integers(11, 60), st.integers(11, 60), st.integers(0, 2**32 - 1), st.sampled_from([1, 16, 256]))
def test_planes_of_any_size_are_as_alike_as_scikit_image_says(
    height: int, width: int, seed: int, levels: int
) -> None:
    random = np.random.default_rng(seed)
    before, after = random.integers(0, levels, (2, height, width)).astype(np.uint8)
    assert ssim(before, after) == pytest.approx(theirs(before, after), abs=1e-3)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_a_plane_is_wholly_like_itself_and_likeness_goes_both_ways(seed: int) -> None:
    one, two = np.random.default_rng(seed).integers(0, 256, (2, 18, 32, 3)).astype(np.uint8)
    assert likeness(one, one) == pytest.approx(1.0)
    assert likeness(one, two) == pytest.approx(likeness(two, one))
    planes = [ssim(np.ascontiguousarray(one[..., c]), np.ascontiguousarray(two[..., c])) for c in range(3)]
    assert likeness(one, two) == pytest.approx(min(planes))


def test_grounds_of_the_same_brightness_and_other_colours_are_not_alike() -> None:
    red, green = np.zeros((2, 18, 32, 3), np.uint8)
    red[..., 0], green[..., 1] = 196, 100
    assert ssim(luma(red), luma(green)) > 0.99
    assert likeness(red, green) < 0.01


@pytest.mark.parametrize(
    ("before", "after"), [((18, 32), (18, 31)), ((10, 32), (10, 32)), ((32, 10), (32, 10))]
)
def test_planes_that_cannot_be_compared_are_refused(before: tuple[int, int], after: tuple[int, int]) -> None:
    with pytest.raises(ValueError, match="cannot be compared"):
        ssim(np.zeros(before, np.uint8), np.zeros(after, np.uint8))
