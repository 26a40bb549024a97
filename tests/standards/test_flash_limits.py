"""Flashing pictures just under and just over each limit.

Sources: WCAG 2.2, SC 2.3.1 and its definitions "general flash and red flash thresholds" and "relative
luminance"; ITU-R BT.1702-3 for the distance of flashes in time (quoted second-hand). The numbers here are
worked from the published formulas, apart from the gauge's own tables.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from mediacheck.measure.flash import FlashGauge
from mediacheck.measure.model import Flash

Picture = NDArray[np.uint8]
Shape = Callable[[float], NDArray[np.bool_]]
Colour = int | tuple[int, int, int]
RATES = (24, 25, 30, 50, 60)
HEIGHT, WIDTH = 90, 160
ALL = np.ones((9, 16), np.bool_)
"""A small picture, for what is the same all over."""


def luminance(code: int) -> float:
    """Relative luminance of a grey, by the formula of WCAG 2.2."""
    share = code / 255
    return share / 12.92 if share <= 0.04045 else float(((share + 0.055) / 1.055) ** 2.4)


def grey_of(wanted: float) -> int:
    """The grey whose relative luminance comes nearest."""
    return min(range(256), key=lambda code: abs(luminance(code) - wanted))


def picture(colour: Colour, area: NDArray[np.bool_] = ALL, ground: Colour = 0) -> Picture:
    """The ground, with a colour where the area is."""
    drawn = np.empty((*area.shape, 3), np.uint8)
    drawn[:], drawn[area] = ground, colour
    return drawn


def measured(pictures: Iterable[Picture], rate: float = 25) -> Flash:
    gauge, count = FlashGauge(), 0
    for one in pictures:
        gauge.see(count / rate, one)
        count += 1
    return gauge.result(count / rate)


def pulses(starts: Iterable[int], length: int, frames: int, lit: Picture, unlit: Picture) -> list[Picture]:
    """So many frames, lit for `length` frames from each start on."""
    bright = {start + offset for start in starts for offset in range(length)}
    return [lit if frame in bright else unlit for frame in range(frames)]


def evenly(count: int, rate: int, lit: Picture, unlit: Picture) -> list[Picture]:
    """`count` flashes spread over one second, between a second each of the unlit picture."""
    still = [unlit] * rate
    starts = [round(number * rate / count) for number in range(count)]
    return [*still, *pulses(starts, max(1, rate // (2 * count)), rate, lit, unlit), *still]


def one_flash(dark: Colour, bright: Colour, area: NDArray[np.bool_] = ALL, ground: Colour = 0) -> Flash:
    unlit, lit = picture(dark, area, ground), picture(bright, area, ground)
    return measured([unlit] * 5 + [lit] * 5 + [unlit] * 5)


class TestCount:
    """Not more than three in any one-second period."""

    @pytest.mark.parametrize("rate", RATES)
    @pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 8])
    def test_flashes_in_a_second_are_counted(self, count: int, rate: int) -> None:
        found = measured(evenly(count, rate, picture(255), picture(0)), rate)
        first_end_s = (rate + max(1, rate // (2 * count))) / rate
        assert found == Flash(count, first_end_s, 0, None)

    @pytest.mark.parametrize("rate", RATES)
    @pytest.mark.parametrize("count", [2, 3, 4])
    def test_dark_flashes_in_a_bright_picture_are_counted_alike(self, count: int, rate: int) -> None:
        found = measured(evenly(count, rate, picture(0), picture(255)), rate)
        assert found.general_max == count

    @pytest.mark.parametrize(("rate", "frames"), [(25, 9), (50, 18), (30, 10), (60, 20)])
    def test_leading_edges_that_bt_1702_accepts_are_three_in_any_second(self, rate: int, frames: int) -> None:
        """360 ms apart at 50 Hz (9 frames at 25 frames/s), 334 ms at 60 Hz (10 frames at 30 frames/s)."""
        lit, unlit = picture(255), picture(0)
        series = pulses(range(3, 6 * rate, frames), frames // 2, 6 * rate, lit, unlit)
        assert measured(series, rate).general_max == 3

    @pytest.mark.parametrize(("rate", "frames"), [(25, 8), (50, 16), (30, 9), (60, 19)])
    def test_one_frame_less_between_them_is_four(self, rate: int, frames: int) -> None:
        lit, unlit = picture(255), picture(0)
        series = pulses(range(3, 6 * rate, frames), frames // 2, 6 * rate, lit, unlit)
        assert measured(series, rate).general_max == 4

    def test_times_rounded_to_milliseconds_leave_three_at_three(self) -> None:
        """Matroska's time stamps; a third of a second is 333, 333 and 334 ms there."""
        gauge = FlashGauge()
        for frame in range(180):
            gauge.see(round(frame / 30, 3), picture(255 if frame % 10 < 5 else 0))
        assert gauge.result(6.0).general_max == 3

    def test_four_flashes_over_more_than_a_second_are_three_in_any_second(self) -> None:
        series = pulses([0, 9, 18, 26], 2, 60, picture(255), picture(0))
        assert measured([picture(0), *series]).general_max == 3

    def test_the_busiest_second_is_found_and_named(self) -> None:
        """Two flashes at the start, five from the fourth second on."""
        series = pulses([5, 15, 100, 105, 110, 115, 120], 2, 200, picture(255), picture(0))
        assert measured(series) == Flash(5, 102 / 25, 0, None)

    @pytest.mark.parametrize("rate", RATES)
    def test_a_picture_that_changes_with_every_frame_flashes_at_half_the_rate(self, rate: int) -> None:
        series = [picture(255 * (frame % 2)) for frame in range(3 * rate)]
        assert measured(series, rate).general_max in (rate // 2, rate // 2 + 1)


class TestStep:
    """A tenth of the greatest luminance, the darker of the two below 0.80."""

    @pytest.mark.parametrize("dark", [0.0, 0.2, 0.5, 0.7])
    @pytest.mark.parametrize(("step", "count"), [(0.09, 0), (0.11, 1)])
    def test_nine_percent_is_none_and_eleven_is_one(self, dark: float, step: float, count: int) -> None:
        dark_code, bright_code = grey_of(dark), grey_of(dark + step)
        real_step = luminance(bright_code) - luminance(dark_code)
        assert abs(real_step - step) < 0.006
        assert one_flash(dark_code, bright_code).general_max == count

    @pytest.mark.parametrize(("grey", "count"), [(89, 0), (90, 1)])
    def test_from_black_grey_90_is_the_first(self, grey: int, count: int) -> None:
        """Relative luminance 0.09990 and 0.10224."""
        assert one_flash(0, grey).general_max == count

    @pytest.mark.parametrize(("wanted", "grey", "count"), [(0.79, 230, 1), (0.80, 231, 1), (0.81, 232, 0)])
    def test_a_darker_state_of_eight_tenths_is_no_flash(self, wanted: float, grey: int, count: int) -> None:
        """Grey 231 has 0.79910 and grey 232 has 0.80695; the brighter state is white."""
        assert abs(luminance(grey) - wanted) < 0.005
        assert one_flash(grey, 255).general_max == count

    @given(st.integers(0, 255), st.integers(0, 255))
    def test_for_any_two_greys_the_formula_decides(self, one: int, other: int) -> None:
        dark, bright = sorted((luminance(one), luminance(other)))
        assume(abs(bright - dark - 0.1) > 1e-5)
        assert one_flash(one, other).general_max == int(bright - dark >= 0.1 and dark < 0.8)

    def test_small_steps_one_way_add_up_to_one_change(self) -> None:
        levels = [grey_of(level) for level in (0.1, 0.13, 0.16, 0.19, 0.22, 0.19, 0.16, 0.13, 0.1)]
        assert measured(picture(level) for level in levels).general_max == 1

    def test_small_steps_that_turn_before_the_limit_never_add_up(self) -> None:
        levels = [grey_of(level) for level in (0.1, 0.13, 0.16, 0.19, 0.16, 0.13)] * 20
        assert measured(picture(level) for level in levels).general_max == 0

    def test_white_to_a_bright_grey_counts_once_it_goes_on_below_the_limit(self) -> None:
        """1.0 to 0.85 does not count, and 1.0 to 0.79 does, however it gets there."""
        levels = [grey_of(level) for level in (0.6, 1.0, 0.85, 0.79, 0.6)]
        assert measured(picture(level) for level in levels).general_max == 1
        levels = [grey_of(level) for level in (0.6, 1.0, 0.85, 1.0, 0.85)]
        assert measured(picture(level) for level in levels).general_max == 0

    def test_a_rise_from_above_the_limit_is_no_half_of_a_flash(self) -> None:
        """0.807 to 1.0 and down to 0.799: only the second change has a darker state below 0.80."""
        assert measured(map(picture, (232, 255, 231))).general_max == 0
        assert measured(map(picture, (231, 255, 231))).general_max == 1


def columns(percent: float) -> NDArray[np.bool_]:
    """The leftmost columns that make up at most so much of the picture."""
    area = np.zeros((HEIGHT, WIDTH), np.bool_)
    area[:, : int(WIDTH * percent / 100)] = True
    return area


def block(percent: float, top: int = 11, left: int = 23) -> NDArray[np.bool_]:
    """A block of the picture's own shape, on odd pixels, of so much of the picture."""
    area = np.zeros((HEIGHT, WIDTH), np.bool_)
    side = math.sqrt(percent / 100)
    area[top : top + round(HEIGHT * side), left : left + round(WIDTH * side)] = True
    return area


def scattered(percent: float) -> NDArray[np.bool_]:
    """Single pixels all over the picture."""
    chosen = np.zeros(HEIGHT * WIDTH, np.bool_)
    order = np.random.default_rng(9).permutation(chosen.size)
    chosen[order[: round(chosen.size * percent / 100)]] = True
    return chosen.reshape(HEIGHT, WIDTH)


class TestArea:
    """More than a quarter of the screen, all that flashes at the same time taken together."""

    @pytest.mark.parametrize("shape", [columns, block, scattered])
    @pytest.mark.parametrize(("percent", "count"), [(24, 0), (26.3, 3)])
    def test_24_percent_is_none_and_26_counts(self, shape: Shape, percent: float, count: int) -> None:
        area = shape(percent)
        assert abs(area.mean() * 100 - percent) < 0.5
        lit, unlit = picture(255, area, 60), picture(0, area, 60)
        assert measured(evenly(3, 25, lit, unlit)).general_max == count

    @pytest.mark.parametrize(("pixels", "count"), [(3600, 0), (3601, 1)])
    def test_exactly_a_quarter_is_allowed(self, pixels: int, count: int) -> None:
        """A quarter of 160 x 90 is 3,600."""
        area = np.arange(HEIGHT * WIDTH).reshape(HEIGHT, WIDTH) < pixels
        assert one_flash(0, 255, area).general_max == count

    def test_two_places_that_flash_together_are_added(self) -> None:
        area = columns(14) | columns(14)[:, ::-1]
        assert one_flash(0, 255, area).general_max == 1

    def test_two_places_that_flash_one_after_the_other_are_not(self) -> None:
        left, right = columns(20), columns(20)[:, ::-1]
        dark = picture(0, columns(0))
        series = [dark] * 5 + [picture(255, left)] * 5 + [dark] * 5 + [picture(255, right)] * 5 + [dark] * 5
        assert measured(series).general_max == 0

    def test_two_halves_in_turn_count_as_often_as_each_of_them(self) -> None:
        """Each half flashes twice a second: bright for six frames and dark for six, of 24 in a second."""
        halves = picture(255, columns(50)), picture(255, ~columns(50))
        series = [halves[frame // 6 % 2] for frame in range(96)]
        assert measured(series, 24).general_max == 2

    @pytest.mark.parametrize(("percent", "count"), [(22, 0), (28, 3)])
    def test_red_has_the_same_limit_to_within_a_cell_at_the_edge(self, percent: float, count: int) -> None:
        for area in (columns(percent), block(percent)):
            lit, unlit = picture((255, 0, 0), area, 60), picture(0, area, 60)
            assert measured(evenly(3, 25, lit, unlit)).red_max == count

    @given(st.integers(0, 90), st.integers(0, 160), st.integers(0, 89), st.integers(0, 159))
    def test_for_any_block_the_number_of_pixels_decides(self, h: int, w: int, top: int, left: int) -> None:
        area = np.zeros((HEIGHT, WIDTH), np.bool_)
        area[top : top + h, left : left + w] = True
        found = one_flash((0, 0, 0), (255, 0, 0), area)
        assert found.general_max == int(area.sum() > 3600)
        if abs(area.mean() - 0.25) > 0.02:
            assert found.red_max == int(area.sum() > 3600)


def uv(colour: tuple[int, int, int]) -> tuple[float, float]:
    """CIE 1976 u', v' of an sRGB colour; the matrix is that of IEC 61966-2-1."""
    r, g, b = (luminance(code) for code in colour)
    x, y = 0.4124 * r + 0.3576 * g + 0.1805 * b, 0.2126 * r + 0.7152 * g + 0.0722 * b
    z = 0.0193 * r + 0.1192 * g + 0.9505 * b
    return 4 * x / (x + 15 * y + 3 * z), 9 * y / (x + 15 * y + 3 * z)


RED = (255, 0, 0)


class TestRed:
    """To or from R / (R + G + B) >= 0.8, the two states more than 0.2 apart in u'v'."""

    @pytest.mark.parametrize("rate", RATES)
    @pytest.mark.parametrize("count", [1, 3, 4])
    def test_red_flashes_in_a_second_are_counted(self, count: int, rate: int) -> None:
        series = evenly(count, rate, picture(RED), picture((0, 0, 255)))
        assert measured(series, rate).red_max == count

    @pytest.mark.parametrize(("other", "distance"), [((255, 255, 255), 0.259), ((0, 255, 0), 0.328)])
    def test_white_and_green_are_far_enough_from_red(
        self, other: tuple[int, int, int], distance: float
    ) -> None:
        assert math.dist(uv(RED), uv(other)) == pytest.approx(distance, abs=0.001)
        assert one_flash(other, RED).red_max == 1

    @pytest.mark.parametrize(("code", "share", "count"), [(99, 0.8003, 1), (100, 0.7969, 0)])
    def test_four_fifths_of_the_light_is_the_limit(self, code: int, share: float, count: int) -> None:
        red = (255, code, code)
        r, g, b = (luminance(one) for one in red)
        assert r / (r + g + b) == pytest.approx(share, abs=5e-5)
        assert math.dist(uv(red), uv((0, 0, 255))) > 0.3
        assert one_flash((0, 0, 255), red).red_max == count

    @pytest.mark.parametrize(("code", "far"), [(160, False), (168, False), (169, True), (180, True)])
    def test_two_tenths_in_the_diagram_is_the_limit(self, code: int, far: bool) -> None:
        """Red and pink: 0.1915, 0.1997, 0.2007 and 0.2109 apart."""
        distance = math.dist(uv(RED), uv((255, code, code)))
        assert 0.2 < distance < 0.211 if far else 0.191 < distance < 0.2
        assert one_flash((255, code, code), RED).red_max == int(far)

    @given(st.tuples(*[st.integers(0, 255)] * 3), st.tuples(*[st.integers(0, 255)] * 3))
    def test_for_any_two_bright_colours_the_formula_decides(
        self, one: tuple[int, int, int], other: tuple[int, int, int]
    ) -> None:
        assume(max(one) > 180 and max(other) > 180)
        shares = [luminance(c[0]) / sum(luminance(code) for code in c) for c in (one, other)]
        distance = math.dist(uv(one), uv(other))
        assume(abs(distance - 0.2) > 1e-5 and all(abs(share - 0.8) > 1e-4 for share in shares))
        assert one_flash(one, other).red_max == int(max(shares) >= 0.8 and distance > 0.2)

    def test_red_on_a_colour_of_the_same_luminance_is_a_red_flash_alone(self) -> None:
        blue = (60, 83, 255)
        weights = (0.2126, 0.7152, 0.0722)
        lights = [sum(w * luminance(code) for w, code in zip(weights, c, strict=True)) for c in (RED, blue)]
        assert abs(lights[0] - lights[1]) < 0.1
        assert measured(evenly(4, 25, picture(RED), picture(blue))) == Flash(0, None, 4, 28 / 25)

    @pytest.mark.parametrize(("code", "count"), [(20, 0), (30, 0), (60, 1), (150, 1), (255, 1)])
    def test_red_on_black_is_seen_from_a_dim_red_on(self, code: int, count: int) -> None:
        """ "Whatever the luminance" (BT.1702); what a screen's own black outshines has no colour."""
        found = one_flash((0, 0, 0), (code, 0, 0))
        assert (found.red_max, found.general_max) == (count, int(0.2126 * luminance(code) >= 0.1))

    def test_shades_of_red_are_no_red_flash(self) -> None:
        assert one_flash((180, 0, 0), RED).red_max == 0

    def test_no_flash_without_red_is_a_red_flash(self) -> None:
        assert one_flash((0, 0, 255), (0, 255, 0)).red_max == 0
        assert one_flash(0, 255).red_max == 0

    def test_a_fade_to_red_and_back_counts_by_its_ends(self) -> None:
        """Through paler reds, none of which is 0.2 from the next."""
        steps = [(255, code, code) for code in (255, 230, 200, 170, 140, 110, 70, 0)]
        assert measured(picture(step) for step in [steps[4], *steps, *steps[::-1]]).red_max == 1

    def test_the_deepest_red_is_what_the_state_after_it_is_compared_with(self) -> None:
        """The last pink is 0.215 from pure red, and less than 0.2 from the red that came first."""
        colours = ((0, 0, 255), (255, 99, 99), RED, (255, 185, 185))
        assert math.dist(uv(colours[2]), uv(colours[3])) > 0.21
        assert math.dist(uv(colours[1]), uv(colours[3])) < 0.19
        assert measured(map(picture, colours)).red_max == 1

    def test_other_colours_that_flash_beside_something_red_are_no_red_flash(self) -> None:
        area = columns(10)
        lit, unlit = (picture(RED, area, ground) for ground in ((0, 255, 0), (0, 0, 255)))
        assert measured(evenly(4, 25, lit, unlit)) == Flash(4, 28 / 25, 0, None)


class TestHarmless:
    """What is no flash."""

    @pytest.mark.parametrize("period_s", [2.5, 4, 8])
    @pytest.mark.parametrize("rate", RATES)
    def test_slow_fades_never_flash(self, rate: int, period_s: float) -> None:
        wave = (0.5 - 0.5 * math.cos(2 * math.pi * frame / rate / period_s) for frame in range(8 * rate))
        assert measured((picture(grey_of(level)) for level in wave), rate).general_max == 0

    @pytest.mark.parametrize("rate", RATES)
    def test_fades_as_quick_as_flashes_are_flashes(self, rate: int) -> None:
        wave = (0.5 - 0.5 * math.cos(2 * math.pi * 4 * frame / rate) for frame in range(3 * rate))
        assert measured((picture(grey_of(level)) for level in wave), rate).general_max == 4

    def test_a_photographers_flash_is_one(self) -> None:
        scene = np.random.default_rng(5).integers(20, 160, (*ALL.shape, 3), dtype=np.uint8)
        assert measured([scene] * 20 + [picture(255)] + [scene] * 20) == Flash(1, 21 / 25, 0, None)

    def test_a_cut_between_scenes_is_none(self) -> None:
        assert measured([picture(0)] * 20 + [picture(255)] * 20).general_max == 0

    def test_cuts_there_and_back_are_none_when_they_are_over_a_second_apart(self) -> None:
        assert measured(picture(255 * (frame // 26 % 2)) for frame in range(200)).general_max == 0

    def test_text_that_scrolls_is_none(self) -> None:
        """White lines of 3 pixels in 10, broken up as words are, two pixels further with every frame."""
        page = np.zeros((HEIGHT * 3, WIDTH), np.bool_)
        for top in range(0, len(page), 10):
            page[top : top + 3] = np.random.default_rng(top).random(WIDTH) < 0.5
        series = (picture(255, np.roll(page, -2 * frame, axis=0)[:HEIGHT]) for frame in range(75))
        assert measured(series).general_max == 0

    def test_a_checkerboard_that_glides_is_none(self) -> None:
        y, x = np.indices((HEIGHT, WIDTH))
        series = (picture(255, (y // 8 + (x + frame) // 8) % 2 == 0) for frame in range(75))
        assert measured(series).general_max == 0

    @pytest.mark.parametrize(("percent", "count"), [(45, 0), (60, 5)])
    def test_a_checkerboard_that_jumps_is_judged_by_its_area(self, percent: float, count: int) -> None:
        """Half of its fields become brighter together: 22.5 % and 30 %. A field has a period of 6 frames."""
        y, x = np.indices((HEIGHT, WIDTH))
        board, area = (y // 8 + x // 8) % 2 == 0, columns(percent)
        series = (picture(255, area & (board ^ (frame // 3 % 2 == 1)), 0) for frame in range(75))
        assert measured(series).general_max == count

    def test_the_exact_opposite_of_a_flash_two_ramps_the_same_way_is_none(self) -> None:
        levels = [0.1, 0.3, 0.3, 0.5, 0.5, 0.7]
        assert measured(picture(grey_of(level)) for level in levels).general_max == 0
