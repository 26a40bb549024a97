"""The pen draws what it is told, where it is told, with clean edges."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.demo.sketch import Sketch, arc, drop, oval, petal, ribbon, turned

PLACES = st.tuples(st.floats(0.2, 0.8), st.floats(0.2, 0.8))
SIZES = st.floats(0.01, 0.2)


def test_turning_goes_clockwise_as_the_viewer_sees_it() -> None:
    assert turned([(0.5, 0.2)], (0.5, 0.5), 90)[0] == pytest.approx((0.8, 0.5))


def test_a_petal_grows_upwards_and_leans_to_the_right_when_turned() -> None:
    upright, leaning = petal((0.5, 0.9), 0.4, 0.2), petal((0.5, 0.9), 0.4, 0.2, 30)
    assert min(y for _, y in upright) == pytest.approx(0.5)
    assert sum(x for x, _ in upright) / len(upright) == pytest.approx(0.5)
    assert sum(x for x, _ in leaning) / len(leaning) > 0.55


@given(PLACES, SIZES)
def test_a_drop_is_as_high_as_it_was_ordered_pointed_above_and_round_below(
    at: tuple[float, float], size: float
) -> None:
    outline = drop(at, size)
    top, bottom = min(y for _, y in outline), max(y for _, y in outline)
    assert bottom - top == pytest.approx(size, rel=0.01)

    def width_at(share: float) -> float:
        near = [x for x, y in outline if abs(y - (top + share * size)) < 0.06 * size]
        return max(near) - min(near)

    assert width_at(0.15) < 0.5 * width_at(0.75)


@given(PLACES, SIZES, st.floats(0.005, 0.05))
def test_a_ribbon_is_half_its_width_away_from_its_curve(
    at: tuple[float, float], radius: float, width: float
) -> None:
    edge = ribbon(arc(at, (radius + width, radius + width), 0, 180), width)
    distances = [math.hypot(x - at[0], y - at[1]) - radius - width for x, y in edge]
    assert [abs(distance) for distance in distances] == pytest.approx([width / 2] * len(edge), rel=0.01)


def test_edges_are_half_transparent_and_keep_their_colour() -> None:
    pen = Sketch(60, 60)
    pen.shape(oval((0.5, 0.5), (0.41, 0.41)), "#ff8000")
    image = pen.finished()
    pixels = [image.getpixel((x, y)) for x in range(60) for y in range(60)]
    edge = [pixel for pixel in pixels if isinstance(pixel, tuple) and 40 < pixel[3] < 215]
    assert len(edge) > 50
    assert all(abs(red - 255) < 8 and abs(green - 128) < 8 and blue < 8 for red, green, blue, _ in edge)


def test_a_ground_fills_the_picture_and_no_ground_leaves_it_transparent() -> None:
    assert Sketch(4, 4, "#102030").finished().getcolors() == [(16, (16, 32, 48, 255))]
    assert Sketch(4, 4).finished().getcolors() == [(16, (0, 0, 0, 0))]
