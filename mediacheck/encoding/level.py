"""The level of H.264 and H.265 that a picture needs, and what a level carries.

It must not pick sizes or rates: it says whether they fit.
"""

from __future__ import annotations

from fractions import Fraction

from mediacheck.encoding.model import Frame, Tools
from mediacheck.media.level_tables import H264_FACTORS, H264_LEVELS, H264_WIDEST_FACTOR, H265_LEVELS
from mediacheck.media.levels import NO_LEVEL, h264_level_needed, h265_level_needed, level_order
from mediacheck.names import LEVELS, VideoCodec

LEVELLED: tuple[VideoCodec, ...] = ("H.264", "H.265")
"""Codecs whose levels are reckoned here from the tables of their standards."""


def needed_level(codec: str, tools: Tools, frame: Frame, rate: Fraction) -> str:
    """The least level for this size and rate, NO_LEVEL where none is enough."""
    if codec == "H.264":
        need = h264_level_needed(
            profile=tools.profile or "",
            width=frame.width,
            height=frame.height,
            frame_rate=rate,
            reference_frames=1,
            bit_rate=None,
        )
    else:
        need = h265_level_needed(
            width=frame.width,
            height=frame.height,
            frame_rate=rate,
            dpb_frames=None,
            bit_rate=None,
            high_tier=False,
        )
    return need.level if need else NO_LEVEL


def within(codec: str, level: str, most: str | None) -> bool:
    """Whether a level is one, and not above the highest allowed."""
    if level == NO_LEVEL or most is None:
        return level != NO_LEVEL
    return (level_order(codec, level) or 0) <= (level_order(codec, most) or 0)


def carries(codec: str, level: str, tools: Tools) -> tuple[int, int]:
    """bit/s and bits of buffer that a level carries.

    ITU-T H.264 Tables A-1 and A-2; ITU-T H.265 Table A.9, Main tier, where the buffer holds one second.
    """
    if codec == "H.264":
        row = next(row for row in H264_LEVELS if row.name == level)
        factor = H264_FACTORS.get(tools.profile or "", H264_WIDEST_FACTOR)
        return row.bit_rate * factor, row.buffer * factor
    rate = next(row.main_bit_rate for row in H265_LEVELS if row.name == level) * 1000
    return rate, rate


def marked_level(codec: VideoCodec, tools: Tools, need: str, most: str | None, wanted_bit_s: float) -> str:
    """The least level, from the one needed up to the highest allowed, that carries the bits wanted."""
    allowed = [level for level in LEVELS[codec] if within(codec, level, most)]
    enough = allowed[allowed.index(need) :]
    return next((level for level in enough if carries(codec, level, tools)[0] >= wanted_bit_s), enough[-1])
