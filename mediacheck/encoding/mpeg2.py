"""How a picture is packed as MPEG-2 or MPEG-1, with ffmpeg's own encoders.

It must not decide what the player takes: that is in the target.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from mediacheck.encoding.h264 import keyframes
from mediacheck.encoding.model import Part, Target, Tools, part
from mediacheck.encoding.mpeg4 import averaged_rate

TOOLS_2 = (Tools("Main", ("-profile:v", "4"), "yuv420p"),)
"""4 is profile_and_level_indication of Main (ITU-T H.262 Table 8-2, from memory)."""
TOOLS_1 = (Tools(None, (), "yuv420p"),)
RATES = frozenset(
    Fraction(*pair)
    for pair in ((24000, 1001), (24, 1), (25, 1), (30000, 1001), (30, 1), (50, 1), (60000, 1001), (60, 1))
)
"""ITU-T H.262 Table 6-4 (frame_rate_code): no other rates can be written."""
USUAL_KEYFRAMES = 15
"""Half a second, as in broadcasts and on DVDs (common practice, no source)."""
LEVEL_LIMITS = {
    "Main": (720, 576, 10_368_000, 15_000_000, 1_835_008),
    "High-1440": (1440, 1152, 47_001_600, 60_000_000, 7_340_032),
    "High": (1920, 1152, 62_668_800, 80_000_000, 9_781_248),
}
"""Width, height, samples a second, bit/s, bits of buffer (ITU-T H.262 Tables 8-11 to 8-14), lowest first.

The encoder marks the lowest by size; Low is never marked by it.
"""
BUFFER_1_KBIT = 327
"""MPEG-1: the buffer of the constrained parameters, 40 KiB (ISO/IEC 11172-2, from memory)."""


def settings_2(target: Target) -> Iterator[Part]:
    """MPEG-2, marked with the level of its size by the encoder itself."""
    yield part("-c:v", "mpeg2video", *target.tools.arguments, why="MPEG-2, Main profile.")
    yield from _rest(target)


def settings_1(target: Target) -> Iterator[Part]:
    """MPEG-1."""
    yield part("-c:v", "mpeg1video", why="MPEG-1.")
    yield from _rest(target)


def _rest(target: Target) -> Iterator[Part]:
    yield averaged_rate(target)
    yield part("-bf", "2", why="Two pictures out of order at most, as every MPEG decoder expects.")
    yield keyframes(replace(target, keyframe_frames=min(target.keyframe_frames, USUAL_KEYFRAMES)))
    yield part(
        *("-flags", "+cgop", "-sc_threshold", "1000000000"),
        why="Each group of pictures stands alone, so that the loop starts clean; this encoder asks for the "
        "second setting with the first.",
    )
