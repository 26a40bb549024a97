"""How a picture is packed as VP9, with libvpx.

It must not decide what the player takes: that is in the target.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.encoding.h264 import keyframes
from mediacheck.encoding.model import Part, Target, Tools, part

TOOLS = (
    Tools("Profile 0", ("-profile:v", "0"), "yuv420p"),
    Tools("Profile 2", ("-profile:v", "2"), "yuv420p10le", "4:2:0", 10),
)
AIM_SHARE = 0.5
"""The rest is room for its overshoot (measured with noise)."""


def settings(target: Target) -> Iterator[Part]:
    """libvpx-vp9 towards an average rate, at a bearable speed."""
    yield part(
        *("-c:v", "libvpx-vp9", "-deadline", "good", "-cpu-used", "4", "-row-mt", "1"),
        why="VP9, at a bearable speed.",
    )
    aim = f"{max(1, int(target.budget.rate_kbit_s * AIM_SHARE))}k"
    yield part(
        *("-b:v", aim, "-minrate:v", aim, "-maxrate:v", aim, "-bufsize:v", f"{target.budget.buffer_kbit}k"),
        why=f"{aim[:-1]} kbit/s all along, the way in which this encoder overshoots least.",
    )
    yield part(*target.tools.arguments, why=f"{target.tools.profile}: what players decode.")
    yield keyframes(target)
