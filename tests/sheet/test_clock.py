"""Times as people read them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.sheet.clock import clock, length


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0:00"),
        (12, "0:12"),
        (Fraction(3599, 300), "0:12"),
        (59.96, "1:00"),
        (92.4, "1:32"),
        (3600, "1:00:00"),
        (3750.2, "1:02:30"),
        (-1, "0:00"),
    ],
)
def test_whole_seconds(seconds: float, text: str) -> None:
    assert clock(seconds) == text


@pytest.mark.parametrize(("seconds", "text"), [(0.04, "0:00.0"), (4.5, "0:04.5"), (59.96, "1:00.0")])
def test_tenths(seconds: float, text: str) -> None:
    assert clock(seconds, tenths=True) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (Fraction(6), "0:06"),
        (Fraction(13, 2), "0:06.5"),
        (Fraction(25, 2), "0:12"),
        (Fraction(1, 2), "0:00.5"),
    ],
)
def test_short_lengths_show_tenths(seconds: Fraction, text: str) -> None:
    assert length(seconds) == text


@settings(deadline=None)
@given(st.floats(0, 100_000), st.booleans())
def test_reading_the_clock_gives_the_time_back(seconds: float, tenths: bool) -> None:
    *hours, minutes, rest = clock(seconds, tenths=tenths).split(":")
    read = sum(int(hour) for hour in hours) * 3600 + int(minutes) * 60 + float(rest)
    assert abs(read - seconds) <= (0.0501 if tenths else 0.501)
