"""The times of exFAT: three fields that together are one moment.

It must not judge: what is no time is None. Names and numbers follow the "exFAT file system specification",
revision 1.00, sections in brackets.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.unsignedinteger]

_TEN_MS_MAX = 199
"""[7.4.9]"""
_DAYS = np.array([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31, 0, 0, 0])
"""Of each month that four bits can name."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """A time as it is stored [7.4.8 to 7.4.10]: two-second steps, 10 ms steps on top, quarters from UTC."""

    timestamp: int = 0
    increment_10ms: int = 0
    utc_offset: int = 0

    @classmethod
    def of(cls, moment: datetime) -> Stamp:
        """Local time with its offset where the moment has a zone, without where it has none.

        Years 1980 to 2107; what is finer than 10 ms is cut off. An offset that is not a whole quarter is
        turned to UTC, as [7.4.10.1] says.
        """
        offset = moment.utcoffset()
        quarters, odd = divmod(offset or timedelta(), timedelta(minutes=15))
        if odd or not -64 <= quarters <= 63:
            return cls.of(moment.astimezone(UTC))
        date = (moment.year - 1980) << 9 | moment.month << 5 | moment.day
        time = moment.hour << 11 | moment.minute << 5 | moment.second // 2
        increment = moment.second % 2 * 100 + moment.microsecond // 10_000
        return cls(date << 16 | time, increment, 0 if offset is None else 0x80 | quarters & 0x7F)

    @property
    def moment(self) -> datetime | None:
        """None where it is no time, as on a device with no clock: the month or day 0, the hour 25."""
        return moment_of(self.timestamp, self.increment_10ms, self.utc_offset)


NO_TIME = Stamp()
"""All fields zero: month 0, day 0."""


def moment_of(timestamp: int, increment_10ms: int, utc_offset: int) -> datetime | None:
    """The time that the three fields stand for; with a zone where they tell one."""
    try:
        return datetime(
            1980 + (timestamp >> 25),
            timestamp >> 21 & 15,
            timestamp >> 16 & 31,
            timestamp >> 11 & 31,
            timestamp >> 5 & 63,
            (timestamp & 31) * 2 + increment_10ms // 100,
            increment_10ms % 100 * 10_000,
            _ZONES[utc_offset],
        )
    except ValueError:
        return moment_of(timestamp, 0, utc_offset) if increment_10ms > _TEN_MS_MAX else None


def moments_of(timestamps: Numbers, increments_10ms: Numbers, utc_offsets: Numbers) -> list[datetime | None]:
    """`moment_of` for many; what is no time at first sight, and 29 February, by that itself."""
    stamp, tens = timestamps.astype(np.int64), increments_10ms.astype(np.int64)
    month, day = stamp >> 21 & 15, stamp >> 16 & 31
    hour, minute, second = stamp >> 11 & 31, stamp >> 5 & 63, (stamp & 31) * 2 + tens // 100
    sound = (day > 0) & (day <= _DAYS[month]) & (hour < 24) & (minute < 60) & (second < 60)
    parts = ((stamp >> 25) + 1980, month, day, hour, minute, second, tens % 100 * 10_000)
    columns = (np.where(sound, part, 1).tolist() for part in parts)
    zones = map(_ZONES.__getitem__, utc_offsets.tolist())
    found: list[datetime | None] = list(map(datetime, *columns, zones))
    for row in np.flatnonzero(~sound).tolist():
        found[row] = moment_of(int(stamp[row]), int(tens[row]), int(utc_offsets[row]))
    return found


def _zone(utc_offset: int) -> timezone | None:
    """[7.4.10] bit 7: whether the offset is known; the rest: signed quarters of an hour."""
    if not utc_offset & 0x80:
        return None
    quarters = (utc_offset & 0x3F) - (utc_offset & 0x40)
    return timezone(timedelta(minutes=15 * quarters))


_ZONES = tuple(_zone(offset) for offset in range(256))
