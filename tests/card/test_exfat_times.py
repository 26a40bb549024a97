"""Times of exFAT are those of the specification, and survive composing and parsing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.exfat_times import Stamp, moments_of
from tests.card.test_exfat_entries import STAMPS

QUARTERS = st.integers(-64, 63).map(lambda count: timezone(timedelta(minutes=15 * count)))
MOMENTS = st.datetimes(datetime(1980, 1, 1), datetime(2107, 12, 31, 23, 59, 59))


@pytest.mark.parametrize(
    ("hours", "stored"),
    [
        (0.0, 0x80),
        (1.0, 0x84),
        (2.0, 0x88),
        (5.5, 0x96),
        (-5.0, 0xEC),
        (-8.0, 0xE0),
        (15.75, 0xBF),
        (-16.0, 0xC0),
    ],
)
def test_offsets_from_utc(hours: float, stored: int) -> None:
    """7.4.10, Table 31."""
    zone = timezone(timedelta(hours=hours))
    stamp = Stamp.of(datetime(2024, 2, 29, 13, 45, 58, tzinfo=zone))
    assert stamp == Stamp(0x585D6DBD, 0, stored)
    assert stamp.moment == datetime(2024, 2, 29, 13, 45, 58, tzinfo=zone)


def test_an_offset_that_is_no_whole_quarter_is_turned_to_utc() -> None:
    odd = datetime(2024, 2, 29, 12, 0, tzinfo=timezone(timedelta(minutes=7)))
    assert Stamp.of(odd) == Stamp.of(datetime(2024, 2, 29, 11, 53, tzinfo=UTC))


@given(MOMENTS, st.none() | QUARTERS)
def test_a_time_survives_to_ten_milliseconds(moment: datetime, zone: timezone | None) -> None:
    wanted = moment.replace(microsecond=moment.microsecond // 10_000 * 10_000, tzinfo=zone)
    found = Stamp.of(moment.replace(tzinfo=zone)).moment
    assert found == wanted
    assert found.utcoffset() == wanted.utcoffset()


@pytest.mark.parametrize(
    "value",
    [0, 0x581D6DBD, 0x58406DBD, 0x585F6DBD, 0x585DC800, 0x585D0780, 0x585D001E],
    ids=["nothing", "month 0", "day 0", "31 February", "hour 25", "minute 60", "second 60"],
)
def test_what_is_no_time_is_none(value: int) -> None:
    assert Stamp(value).moment is None


def test_too_many_ten_milliseconds_are_left_out() -> None:
    assert Stamp(0x585D6DBD, 199).moment == datetime(2024, 2, 29, 13, 45, 59, 990_000)
    assert Stamp(0x585D6DBD, 255).moment == datetime(2024, 2, 29, 13, 45, 58)


@given(STAMPS)
def test_no_stored_time_is_too_odd_to_read(stamp: Stamp) -> None:
    moment = stamp.moment
    assert moment is None or 1980 <= moment.year <= 2107


@given(st.lists(STAMPS | MOMENTS.map(Stamp.of), max_size=20))
def test_many_times_are_those_of_each(stamps: list[Stamp]) -> None:
    columns = ([stamp.timestamp for stamp in stamps], [stamp.increment_10ms for stamp in stamps])
    offsets = np.array([stamp.utc_offset for stamp in stamps], np.uint8)
    found = moments_of(np.array(columns[0], np.uint32), np.array(columns[1], np.uint8), offsets)
    assert found == [stamp.moment for stamp in stamps]
