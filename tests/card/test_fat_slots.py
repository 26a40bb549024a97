"""Directory entries stand where the specification puts them; times and checksums follow its formulas.

Values: Microsoft FAT32 File System Specification 1.03; the checksums were worked by its formula, and those
marked "mtools" read back from images that mtools wrote.
"""

from __future__ import annotations

import struct
from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.fat_slots import (
    LONG_SLOTS,
    SHORT_SLOTS,
    LongEntry,
    ShortEntry,
    long_name_checksum,
    moments,
    words,
)

SLOTS = st.binary(min_size=32, max_size=32)


@given(SLOTS)
def test_any_slot_survives_parsing_and_composing(slot: bytes) -> None:
    assert ShortEntry.parse(slot).compose() == slot
    assert LongEntry.parse(slot).compose() == slot


def test_a_short_entry_stands_as_in_the_specification() -> None:
    entry = ShortEntry(
        b"PROMO   MP4", 0x21, 0x18, 0x63, 0x0102, 0x0304, 0x0506, 0x0708, 0x090A, 0x0B0C, 0x0D0E, 0x0F101112
    )
    wanted = b"PROMO   MP4" + struct.pack(
        "<BBBHHHHHHHI", 0x21, 0x18, 0x63, 0x0102, 0x0304, 0x0506, 0x0708, 0x090A, 0x0B0C, 0x0D0E, 0x0F101112
    )
    assert entry.compose() == wanted
    assert [wanted[place] for place in (11, 12, 13, 14, 16, 18, 20, 22, 24, 26, 28)] == [
        *(0x21, 0x18, 0x63, 0x02, 0x04, 0x06, 0x08, 0x0A, 0x0C, 0x0E, 0x12)
    ]


def test_a_piece_of_a_long_name_stands_as_in_the_specification() -> None:
    units = bytes(range(1, 27))
    slot = LongEntry.holding(0x41, 0x99, units).compose()
    assert (slot[0], slot[11], slot[12], slot[13], slot[26:28]) == (0x41, 0x0F, 0, 0x99, bytes(2))
    assert slot[1:11] + slot[14:26] + slot[28:32] == units


@given(SLOTS)
def test_a_whole_folder_is_seen_as_its_single_entries_are(slot: bytes) -> None:
    short, long = (np.frombuffer(slot, kind)[0] for kind in (SHORT_SLOTS, LONG_SLOTS))
    one, piece = ShortEntry.parse(slot), LongEntry.parse(slot)
    assert bytes(short["name"]) == one.name
    assert (short["attributes"], short["nt_case"]) == (one.attributes, one.nt_case)
    assert (short["cluster_high"], short["cluster_low"], short["size"]) == (
        *(one.cluster_high, one.cluster_low, one.size_bytes),
    )
    assert short["created"] == one.created_date << 16 | one.created_time
    assert short["written"] == one.written_date << 16 | one.written_time
    assert short["created_hundredths"] == one.created_hundredths
    assert (long["order"], long["attributes"], long["checksum"]) == (
        piece.order,
        piece.attributes,
        piece.checksum,
    )
    assert [long[name].tobytes() for name in ("units_1", "units_2", "units_3")] == [
        *(piece.units_1, piece.units_2, piece.units_3)
    ]


@pytest.mark.parametrize(
    ("name", "checksum"),
    [
        (b"FOO     BAR", 0x53),
        (b"README  TXT", 0x73),
        (b"VIDEO   MP4", 0xFC),
        (b"PICKLE  A  ", 0x32),
        (b"THEQUI~1FOX", 0x07),  # mtools
        (b"PROMO   MP4", 0x16),  # mtools
        (b"LOOP01~1MP4", 0x91),
        (b"PROMOL~1MP4", 0x80),  # mtools
        (b"LONGVI~1MP4", 0x4F),
    ],
)
def test_the_checksum_of_a_short_name_is_that_of_the_specification(name: bytes, checksum: int) -> None:
    assert long_name_checksum(name) == checksum


def read(date: int, time: int, hundredths: int = 0) -> datetime | None:
    (found,) = moments(np.array([date << 16 | time], np.uint32), np.array([hundredths], np.uint8))
    return found


@pytest.mark.parametrize(
    ("date", "time", "when"),
    [
        (0x585D, 0x6DBD, datetime(2024, 2, 29, 13, 45, 58)),
        (0x0021, 0x0000, datetime(1980, 1, 1)),
        (0xFF9F, 0xBF7D, datetime(2107, 12, 31, 23, 59, 58)),
    ],
)
def test_dates_and_times_are_those_of_the_specification(date: int, time: int, when: datetime) -> None:
    assert read(date, time) == when
    assert words(when) == (date, time, 0)


@pytest.mark.parametrize(
    ("date", "time"),
    [
        (0, 0),
        (0x0020, 0),  # day 0
        (0x0001, 0),  # month 0
        (0x01A1, 0),  # month 13
        (0x2A5D, 0),  # 29 February 2001
        (0x0021, 24 << 11),
        (0x0021, 60 << 5),
        (0x0021, 30),
    ],
)
def test_a_day_or_time_that_does_not_exist_is_none(date: int, time: int) -> None:
    assert read(date, time) is None


@given(st.integers(0, 0xFFFF), st.integers(0, 0xFFFF), st.integers(0, 255))
def test_every_word_is_read_as_the_calendar_of_python_reads_it(date: int, time: int, hundredths: int) -> None:
    parts = 1980 + (date >> 9), date >> 5 & 15, date & 31, time >> 11, time >> 5 & 63, (time & 31) * 2
    try:
        wanted = datetime(*parts) + timedelta(milliseconds=10 * (hundredths if hundredths < 200 else 0))
    except ValueError:
        assert read(date, time, hundredths) is None
    else:
        assert read(date, time, hundredths) == wanted


@given(st.datetimes(datetime(1980, 1, 1), datetime(2107, 12, 31, 23, 59, 59)))
def test_a_time_comes_back_to_the_hundredth_of_a_second(when: datetime) -> None:
    assert read(*words(when)) == when.replace(microsecond=when.microsecond // 10_000 * 10_000)


@pytest.mark.parametrize("when", [datetime(1979, 12, 31), datetime(2108, 1, 1)])
def test_a_year_that_fat_does_not_have_is_refused(when: datetime) -> None:
    with pytest.raises(ValueError, match="FAT has no year"):
        words(when)
