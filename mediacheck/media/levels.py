"""How much a stream asks of a decoder: the least level whose limits it keeps, and how levels compare.

It must not read files or judge: it is arithmetic on the tables of ITU-T H.264 and H.265.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, isqrt
from typing import TypeVar

from mediacheck.media.level_tables import (
    H264_FACTORS,
    H264_FIELD_LEVELS,
    H264_FRAMES_PER_S,
    H264_FRAMES_PER_S_FROM_6,
    H264_LEVELS,
    H264_WIDEST_FACTOR,
    H265_FRAMES_PER_S,
    H265_LEVEL_1_BUFFER,
    H265_LEVELS,
    MPEG2_LEVELS,
    H264Level,
    H265Level,
)

Row = TypeVar("Row", H264Level, H265Level)

NO_LEVEL = "none"
"""Stands for the level of a stream that no level of its standard allows; ranks above all of them."""

WORDS = {
    "H.264": tuple(row.name for row in H264_LEVELS),
    "H.265": tuple(row.name for row in H265_LEVELS),
    "MPEG-2": MPEG2_LEVELS,
}
NUMBERED = ("MPEG-4", "VP9", "AV1", "VC-1")
"""Codecs whose levels are plain numbers, such as 5.1; MPEG-4 also knows 0b and 3b."""


@dataclass(frozen=True, slots=True)
class LevelNeed:
    """The least level whose limits a stream keeps, or NO_LEVEL.

    `reason` says what rules out the level below ("489,600 macroblocks a second; level 4.1 allows
    245,760"), or for NO_LEVEL the highest one.
    """

    level: str
    reason: str


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a stream asks for. Sizes in the unit of its table."""

    unit: str
    columns: int
    rows: int
    frame_rate: Fraction | None
    frames_held: int | None
    bit_rate: int | None
    duration: Fraction | None


@dataclass(frozen=True, slots=True)
class _Allowed:
    """What one level allows a stream of this size. Bit rate in bit/s, buffer in bits."""

    level: str
    size: int
    size_per_s: int
    frames_per_s: int
    frames_held: int
    bit_rate: int
    buffer: int


def h264_level_needed(
    *,
    profile: str,
    width: int,
    height: int,
    frame_rate: Fraction | None,
    reference_frames: int | None,
    bit_rate: int | None,
    interlaced: bool = False,
    duration: Fraction | None = None,
) -> LevelNeed | None:
    """The least level of ITU-T H.264 Table A-1 that allows this stream; None without a picture size.

    `width` and `height` in pixels (made whole macroblocks here), `frame_rate` the nominal frames per second
    (a measured 30.0003 would rightly miss a limit that 30 just keeps), `bit_rate` in bit/s, `interlaced`
    means coded in fields (frame_mbs_only_flag = 0). The answer is a lower bound: the average bit rate over
    the clip hides its peaks, a profile without a factor in Table A-2 is given the widest, and what is None
    is not looked at. With `duration` in seconds, an average above the level's rate is let pass as far as
    the level's buffer, full at the start, can supply it: a short clip may do that and keep its level.
    """
    if width < 1 or height < 1:
        return None
    columns, rows = _macroblocks(width, height, interlaced)
    asked = _Asked("macroblocks", columns, rows, frame_rate, reference_frames, bit_rate, duration)
    levels = [row for row in H264_LEVELS if not interlaced or row.name in H264_FIELD_LEVELS]
    factor = H264_FACTORS.get(profile, H264_WIDEST_FACTOR)
    lowest = f"a picture coded in fields; level {levels[0].name} is the lowest that allows it"
    return _least(asked, [_h264_allowed(row, columns * rows, factor) for row in levels], lowest, interlaced)


def h265_level_needed(
    *,
    width: int,
    height: int,
    frame_rate: Fraction | None,
    dpb_frames: int | None,
    bit_rate: int | None,
    high_tier: bool,
    duration: Fraction | None = None,
) -> LevelNeed | None:
    """The least level of ITU-T H.265 Tables A.8 and A.9 that allows this stream; None without a picture size.

    Arguments and their limits as in `h264_level_needed`; sizes are made multiples of 8 (the smallest coding
    block), `dpb_frames` counts the current picture too (sps_max_dec_pic_buffering_minus1 + 1). The bit rates
    are those of the profiles Main and Main 10: for a wider profile leave `bit_rate` out. Levels below 4
    have no High tier.
    """
    if width < 1 or height < 1:
        return None
    columns, rows = _up(width, 8), _up(height, 8)
    asked = _Asked("luma samples", columns, rows, frame_rate, dpb_frames, bit_rate, duration)
    levels = [row for row in H265_LEVELS if not high_tier or row.high_bit_rate is not None]
    lowest = f"High tier; level {levels[0].name} is the lowest that has it"
    return _least(asked, [_h265_allowed(row, columns * rows, high_tier) for row in levels], lowest, high_tier)


def max_dpb_frames(codec: str, level: str, width: int, height: int, *, interlaced: bool = False) -> int:
    """How many frames of this size (pixels) the level lets a decoder hold; `codec` is H.264 or H.265.

    ITU-T H.264 clause A.3.1 (MaxDpbFrames), H.265 clause A.4.2 (MaxDpbSize, which counts the current
    picture). Raises ValueError for any other codec or level.
    """
    if codec == "H.264":
        columns, rows = _macroblocks(width, height, interlaced)
        return _h264_dpb(_row(H264_LEVELS, level), columns * rows)
    if codec == "H.265":
        return _h265_dpb(_row(H265_LEVELS, level), _up(width, 8) * _up(height, 8))
    raise ValueError(f"no table of levels for {codec}")


def level_order(codec: str, level: str) -> int | None:
    """A rank that compares levels of one codec; None for a level that the codec does not have.

    Ranks of different codecs do not compare. NO_LEVEL ranks above all.
    """
    if level == NO_LEVEL:
        return 10_000
    level = level.removesuffix(".0")
    if codec in WORDS:
        return WORDS[codec].index(level) if level in WORDS[codec] else None
    numbers = re.fullmatch(r"(\d{1,2})(?:\.(\d))?(b?)", level)
    if codec not in NUMBERED or numbers is None:
        return None
    major, minor, between = numbers.groups()
    return int(major) * 20 + int(minor or 0) * 2 + (between == "b")


def has_levels(codec: str) -> bool:
    """Whether the codec's standard knows levels."""
    return codec in WORDS or codec in NUMBERED


def _h264_allowed(row: H264Level, macroblocks: int, factor: int) -> _Allowed:
    return _Allowed(
        level=row.name,
        size=row.macroblocks,
        size_per_s=row.macroblocks_per_s,
        frames_per_s=H264_FRAMES_PER_S_FROM_6 if row.name.startswith("6") else H264_FRAMES_PER_S,
        frames_held=_h264_dpb(row, macroblocks),
        bit_rate=row.bit_rate * factor,
        buffer=row.buffer * factor,
    )


def _h265_allowed(row: H265Level, samples: int, high_tier: bool) -> _Allowed:
    bit_rate = row.high_bit_rate if high_tier and row.high_bit_rate else row.main_bit_rate
    return _Allowed(
        level=row.name,
        size=row.samples,
        size_per_s=row.samples_per_s,
        frames_per_s=H265_FRAMES_PER_S,
        frames_held=_h265_dpb(row, samples),
        bit_rate=bit_rate * 1000,
        buffer=(H265_LEVEL_1_BUFFER if row.name == "1" else bit_rate) * 1000,
    )


def _least(asked: _Asked, levels: Sequence[_Allowed], lowest: str, starts_here: bool) -> LevelNeed:
    """The first level that nothing asked for goes beyond, and what went beyond the one before it."""
    reason = lowest if starts_here else "it keeps every limit of the lowest level"
    for allowed in levels:
        beyond = next(_beyond(asked, allowed), None)
        if beyond is None:
            return LevelNeed(allowed.level, reason)
        reason = beyond
    return LevelNeed(NO_LEVEL, reason)


def _beyond(asked: _Asked, allowed: _Allowed) -> Iterator[str]:
    """Each limit of the level that the stream goes beyond, in words."""
    level, size = allowed.level, asked.columns * asked.rows
    longer = max(asked.columns, asked.rows)
    if size > allowed.size:
        yield f"{size:,} {asked.unit} in the picture; level {level} allows {allowed.size:,}"
    if longer**2 > 8 * allowed.size:
        side = isqrt(8 * allowed.size)
        yield f"{longer:,} {asked.unit} along the longer side; level {level} allows {side:,}"
    if asked.frame_rate is not None:
        yield from _beyond_in_a_second(asked, allowed, size * asked.frame_rate, asked.frame_rate)
    if asked.frames_held is not None and asked.frames_held > allowed.frames_held:
        yield (
            f"{asked.frames_held} frames held for reference; "
            f"level {level} allows {allowed.frames_held} of this size"
        )
    if asked.bit_rate is not None:
        yield from _beyond_in_bits(asked.bit_rate, allowed, asked.duration)


def _beyond_in_a_second(
    asked: _Asked, allowed: _Allowed, size_per_s: Fraction, frame_rate: Fraction
) -> Iterator[str]:
    level = allowed.level
    if size_per_s > allowed.size_per_s:
        yield f"{ceil(size_per_s):,} {asked.unit} a second; level {level} allows {allowed.size_per_s:,}"
    if frame_rate > allowed.frames_per_s:
        yield f"{float(frame_rate):g} frames a second; level {level} allows {allowed.frames_per_s}"


def _beyond_in_bits(bit_rate: int, allowed: _Allowed, duration: Fraction | None) -> Iterator[str]:
    most = Fraction(allowed.bit_rate)
    if duration is not None and duration > 0:
        most += Fraction(allowed.buffer) / duration
    if bit_rate > most:
        kbit, most_kbit = ceil(Fraction(bit_rate, 1000)), int(most / 1000)
        yield f"{kbit:,} kbit/s on average; level {allowed.level} allows {most_kbit:,}"


def _h264_dpb(row: H264Level, macroblocks: int) -> int:
    return min(row.dpb_macroblocks // macroblocks, 16)


def _h265_dpb(row: H265Level, samples: int) -> int:
    """Six frames of the greatest size, more of smaller ones, never over 16 (H.265 clause A.4.2)."""
    if 4 * samples <= row.samples:
        return 16
    if 2 * samples <= row.samples:
        return 12
    return 8 if 4 * samples <= 3 * row.samples else 6


def _macroblocks(width: int, height: int, interlaced: bool) -> tuple[int, int]:
    """Columns and rows of 16x16 pixels; a picture coded in fields has an even number of rows."""
    rows = _up(height, 32 if interlaced else 16) // 16
    return _up(width, 16) // 16, rows


def _up(pixels: int, step: int) -> int:
    return -(-pixels // step) * step


def _row(rows: Sequence[Row], level: str) -> Row:
    for row in rows:
        if row.name == level:
            return row
    raise ValueError(f"no level {level}")
