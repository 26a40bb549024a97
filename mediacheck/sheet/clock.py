"""Writes times as people read them off a clock: 0:12, 1:02:30, 0:04.5.

It must not know what the times are of.
"""

from __future__ import annotations

from fractions import Fraction


def clock(seconds: Fraction | float, *, tenths: bool = False) -> str:
    """Minutes and seconds, with hours where there are any, to the nearest second or tenth."""
    whole, tenth = divmod(max(0, round(seconds * 10)), 10) if tenths else (max(0, round(seconds)), 0)
    minutes, second = divmod(whole, 60)
    hours, minute = divmod(minutes, 60)
    text = f"{hours}:{minute:02}:{second:02}" if hours else f"{minute}:{second:02}"
    return f"{text}.{tenth}" if tenths else text


def length(seconds: Fraction) -> str:
    """How long something lasts; under ten seconds to the tenth where it is not a whole number."""
    return clock(seconds, tenths=seconds < 10 and seconds.denominator != 1)
