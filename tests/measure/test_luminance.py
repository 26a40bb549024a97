"""Light from code values, against worked values of sRGB, of WCAG 2.2 and of CIE 1976."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from mediacheck.measure.luminance import (
    LINEAR,
    RED_U,
    RED_V,
    chromaticity,
    linear_light,
    relative_luminance,
)

Triple = tuple[int, int, int]


def pixel(*colour: int) -> NDArray[np.uint8]:
    """A picture of one pixel; one number is a grey."""
    return np.full((1, 1, 3), colour if len(colour) == 3 else colour[0], np.uint8)


@pytest.mark.parametrize(
    ("colour", "luminance"),
    [
        ((0, 0, 0), 0.0),
        ((255, 255, 255), 1.0),
        ((255, 0, 0), 0.2126),
        ((0, 255, 0), 0.7152),
        ((0, 0, 255), 0.0722),
        ((128, 128, 128), 0.215861),
        ((89, 89, 89), 0.09990),
        ((90, 90, 90), 0.10224),
        ((231, 231, 231), 0.79910),
        ((232, 232, 232), 0.80695),
    ],
)
def test_relative_luminance_has_the_worked_values(colour: Triple, luminance: float) -> None:
    """The formula of WCAG 2.2, "relative luminance", worked by hand."""
    assert float(relative_luminance(pixel(*colour))[0, 0]) == pytest.approx(luminance, abs=6e-6)


def test_the_knee_lies_between_codes_ten_and_eleven() -> None:
    """0.04045 x 255 = 10.3: below it light is in proportion, above it follows the power."""
    assert float(LINEAR[10]) == pytest.approx(10 / 255 / 12.92, rel=1e-6)
    assert float(LINEAR[11]) == pytest.approx(((11 / 255 + 0.055) / 1.055) ** 2.4, rel=1e-6)
    assert float(LINEAR[11]) != pytest.approx(11 / 255 / 12.92, rel=1e-4)


def test_light_rises_with_every_code_from_nothing_to_all() -> None:
    assert (float(LINEAR[0]), float(LINEAR[255])) == (0.0, 1.0)
    assert (np.diff(LINEAR) > 0).all()


def test_channels_keep_their_places() -> None:
    assert linear_light(pixel(255, 0, 128))[0, 0].tolist() == [1.0, 0.0, float(LINEAR[128])]


def test_shapes_are_kept() -> None:
    picture = np.arange(90, dtype=np.uint8).reshape(5, 6, 3)
    assert relative_luminance(picture).shape == (5, 6)
    assert [part.shape for part in chromaticity(picture)] == [(5, 6)] * 3


def uv(*colour: int) -> tuple[float, float]:
    u, v, _ = chromaticity(pixel(*colour))
    return float(u[0, 0]) + RED_U, float(v[0, 0]) + RED_V


@pytest.mark.parametrize(
    ("colour", "place"),
    [
        ((255, 0, 0), (0.4507, 0.5229)),
        ((0, 255, 0), (0.1250, 0.5625)),
        ((0, 0, 255), (0.1754, 0.1579)),
        ((255, 255, 255), (0.1978, 0.4683)),
    ],
)
def test_the_primaries_and_white_stand_where_the_standard_has_them(
    colour: Triple, place: tuple[float, float]
) -> None:
    """IEC 61966-2-1: x, y of the primaries and of D65, turned into u'v' (CIE 15). From memory."""
    assert uv(*colour) == pytest.approx(place, abs=0.0002)


@pytest.mark.parametrize(
    ("colour", "distance"), [((255, 255, 255), 0.259), ((0, 255, 0), 0.328), ((0, 0, 255), 0.457)]
)
def test_distances_from_red_have_the_worked_values(colour: Triple, distance: float) -> None:
    """Worked from the same primaries."""
    assert math.dist(uv(255, 0, 0), uv(*colour)) == pytest.approx(distance, abs=0.0006)


def test_black_has_the_colour_of_the_screens_white() -> None:
    assert uv(0, 0, 0) == pytest.approx(uv(255, 255, 255), abs=1e-4)
    assert math.dist(uv(8, 0, 0), uv(0, 0, 0)) < 0.1


@pytest.mark.parametrize(
    ("colour", "red"),
    [
        ((255, 0, 0), True),
        ((255, 99, 99), True),  # R / (R + G + B) = 0.8003
        ((255, 100, 100), False),  # 0.7969
        ((255, 136, 0), True),  # 0.8024
        ((255, 137, 0), False),  # 0.7999
        ((60, 0, 0), True),
        ((4, 1, 0), True),  # 0.8 exactly, both on the straight part of the curve
        ((4, 1, 1), False),
        ((0, 0, 0), False),
        ((255, 255, 255), False),
        ((0, 0, 255), False),
    ],
)
def test_saturated_red_is_four_fifths_of_the_light(colour: Triple, red: bool) -> None:
    """WCAG 2.2: R / (R + G + B) is 0.8 or more; the shares beside the colours were worked by hand."""
    assert chromaticity(pixel(*colour))[2].tolist() == [[red]]
