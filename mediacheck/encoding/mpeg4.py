"""How a picture is packed as MPEG-4 (Part 2), with ffmpeg's own encoder.

It must not decide what the player takes: that is in the target.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.encoding.h264 import keyframes
from mediacheck.encoding.model import Part, Target, Tools, part

TOOLS = (
    Tools("Simple", ("-profile:v", "0", "-bf", "0"), "yuv420p"),
    Tools("Advanced Simple", ("-profile:v", "15", "-bf", "0"), "yuv420p"),
)
"""profile numbers as ffmpeg's encoders take them (ISO/IEC 14496-2 Table G.1, from memory).

No pictures out of order: in AVI they lose their times.
"""
AIM_SHARE = 0.6
"""This encoder aims at an average; the rest is room for its overshoot (measured with noise)."""


def settings(target: Target) -> Iterator[Part]:
    """One pass towards an average rate, held down by the limits."""
    yield part("-c:v", "mpeg4", why="MPEG-4 Part 2.")
    yield averaged_rate(target)
    yield part(*target.tools.arguments, why=f"Profile {target.tools.profile}, with all pictures in order.")
    yield keyframes(target)


def averaged_rate(target: Target) -> Part:
    """For encoders that need a rate to aim at."""
    rate, buffer = target.budget.rate_kbit_s, target.budget.buffer_kbit
    aim = max(1, int(rate * AIM_SHARE))
    return part(
        *("-b:v", f"{aim}k", "-maxrate:v", f"{rate}k", "-bufsize:v", f"{buffer}k", "-qmin", "2"),
        why=f"{aim:,} kbit/s on average and never more than {rate:,}, counted over a buffer of "
        f"{buffer:,} kbit: the player keeps up at busy places.",
    )
