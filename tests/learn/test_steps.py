"""Steps that values are rounded up to, against the tables that they come from."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.learn.peak import least_fill_rate
from mediacheck.learn.steps import (
    CTA_861_RATES,
    half_seconds,
    nominal_gb,
    picture_bit_rate,
    sound_bit_rate,
    standard_rate,
    tenth_seconds,
    whole_seconds,
    written_rate,
)
from mediacheck.media.facts import PacketFacts
from mediacheck.profile_values import parse_rate
from mediacheck.rules.bucket import first_dry
from mediacheck.rules.video_rate import RATE_TOLERANCE
from tests.rules import make

CTA_861_TIMINGS = (
    (Fraction(148_500_000), 2200, 1125, 60),
    (Fraction(148_500_000), 2640, 1125, 50),
    (Fraction(74_250_000), 2750, 1125, 24),
    (Fraction(74_250_000), 2640, 1125, 25),
    (Fraction(74_250_000), 2200, 1125, 30),
)
"""Pixel clock in Hz, whole line and whole frame of VIC 16, 31, 32, 33 and 34 (CTA-861, through Linux
drm_edid.c), and the rate. 24, 30 and 60 also stand for the clock divided by 1.001 (from memory)."""


def test_the_standard_rates_are_those_of_the_cta_861_timings() -> None:
    whole = {clock / (across * down): written for clock, across, down, written in CTA_861_TIMINGS}
    slowed = {rate / Fraction("1.001") for rate in whole if rate in (24, 30, 60)}
    assert dict(whole) == {rate: text for rate, text in CTA_861_RATES.items() if rate.denominator == 1}
    assert slowed == {rate for rate in CTA_861_RATES if rate.denominator != 1}


@pytest.mark.parametrize(
    ("found", "standard", "written"),
    [
        ("30000/1001", "30000/1001", 29.97),
        ("29.97", "30000/1001", 29.97),
        ("2997003/100000", "30000/1001", 29.97),
        ("23.98", "24000/1001", 23.976),
        ("60.001", "60", 60),
        ("59.94", "60000/1001", 59.94),
        ("12.5", None, 12.5),
        ("15", None, 15),
        ("29.9", None, 29.9),
        ("1/3", None, "1/3"),
        ("97/7", None, 13.857),
    ],
)
def test_a_rate_near_a_standard_one_is_that_and_any_other_is_itself(
    found: str, standard: str | None, written: float | str
) -> None:
    exact = standard_rate(Fraction(found))
    assert (exact, written_rate(exact or Fraction(found))) == (standard and Fraction(standard), written)


@given(st.fractions(min_value=Fraction(1, 100), max_value=1000, max_denominator=2000))
def test_a_written_rate_stands_for_the_rate_that_it_was_written_for(rate: Fraction) -> None:
    written = written_rate(standard_rate(rate) or rate)
    assert written is not None
    read = parse_rate(written)
    assert abs(rate - read) <= read * RATE_TOLERANCE


@pytest.mark.parametrize("rate", [Fraction(0), Fraction(1001)])
def test_a_rate_that_no_profile_states_is_not_written(rate: Fraction) -> None:
    assert written_rate(rate) is None


@pytest.mark.parametrize(
    ("size_bytes", "gb"),
    [
        (64_000_000, 1),
        (1_970_000_000, 2),
        (3_965_190_144, 4),
        (4_000_000_001, 4.1),
        (15_931_539_456, 16),
        (16_000_000_000, 16),
        (16_004_194_304, 16.1),
        (31_914_983_424, 32),
        (32_641_000_000, 64),
        (63_864_569_856, 64),
        (127_865_454_592, 128),
        (400_000_000_000, 512),
    ],
)
def test_a_card_is_of_the_size_that_it_is_sold_under(size_bytes: int, gb: float) -> None:
    assert nominal_gb(size_bytes) == gb


@pytest.mark.parametrize(
    ("bit_s", "step"),
    [
        (0, 10_000),
        (10_001, 20_000),
        (200_000, 200_000),
        (200_001, 500_000),
        (999_999, 1_000_000),
        (1_000_001, 2_000_000),
        (18_300_000, 19_000_000),
        (20_000_000, 20_000_000),
        (101_000_001, 102_000_000),
    ],
)
def test_bit_rates_of_pictures_go_in_1_2_5_and_then_in_whole_mbit(bit_s: int, step: int) -> None:
    assert picture_bit_rate(bit_s) == step


@pytest.mark.parametrize(
    ("bit_s", "step"),
    [
        (1, 64_000),
        (64_001, 80_000),
        (127_999, 128_000),
        (128_001, 160_000),
        (300_000, 320_000),
        (320_001, 384_000),
        (640_000, 640_000),
        (640_001, 704_000),
        (1_411_200, 1_472_000),
        (1_536_000, 1_536_000),
    ],
)
def test_bit_rates_of_sound_are_those_of_layer_3_and_of_ac_3(bit_s: int, step: int) -> None:
    """ISO/IEC 11172-3 and ATSC A/52 Table 5.18, through FFmpeg; stereo PCM of 48 kHz: 1,536 kbit/s."""
    assert sound_bit_rate(bit_s) == step


@given(st.integers(1, 10**9))
def test_no_step_lies_below_its_value_and_none_is_rounded_twice(value: int) -> None:
    for step in (picture_bit_rate, sound_bit_rate):
        assert step(value) >= value
        assert step(step(value)) == step(value)
    assert Fraction(str(nominal_gb(value))) * 10**9 >= value


def test_seconds_go_up_to_halves_tenths_and_wholes() -> None:
    assert [half_seconds(seconds) for seconds in (0.0, 0.4, 1.0, 1.0000000002, 2.01)] == [0.5, 0.5, 1, 1, 2.5]
    assert [tenth_seconds(seconds) for seconds in (0.0, 0.11, 2.0)] == [0.0, 0.2, 2.0]
    assert whole_seconds(Fraction("9.96"), Fraction("20.04")) == (9, 21)


@given(st.lists(st.integers(0, 5_000_000), min_size=1, max_size=40), st.sampled_from((24, 25, 60)))
def test_a_buffer_lasts_at_the_least_rate_and_at_no_lower_step(sizes: list[int], rate: int) -> None:
    packets = make.packet_facts(rate=Fraction(rate), sizes_bytes=sizes)
    least = least_fill_rate(packets)
    assert least is not None
    average = Fraction(8 * sum(sizes) * rate, len(sizes))
    assert not runs_dry(packets, least)
    assert least - 1000 < average or runs_dry(packets, least - 1000) or least == 1000
    assert least >= average


def runs_dry(packets: PacketFacts, bit_s: int) -> bool:
    """With a buffer of one second."""
    return first_dry(packets.decode_times_s, packets.sizes_bytes, bit_s, bit_s) is not None


def test_a_short_clip_asks_for_its_average_though_a_full_buffer_would_last() -> None:
    packets = make.packet_facts(rate=Fraction(10), sizes_bytes=[12_500] * 5)
    assert not runs_dry(packets, 500_000)
    assert least_fill_rate(packets) == 1_000_000


def test_packets_without_usable_times_have_no_least_rate() -> None:
    assert least_fill_rate(make.packet_facts(decode_times_s=b"")) is None
