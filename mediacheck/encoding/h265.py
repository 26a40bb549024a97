"""How a picture is packed as H.265, with libx265.

It must not decide what the player takes: that is in the target.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.encoding.h264 import keyframes, rate_limit
from mediacheck.encoding.model import Part, Target, Tools, part

TOOLS = (
    Tools("Main", ("-profile:v", "main"), "yuv420p"),
    Tools("Main 10", ("-profile:v", "main10"), "yuv420p10le", "4:2:0", 10),
)
"""Eight bits first: ordinary screens show no more (common practice)."""


def settings(target: Target) -> Iterator[Part]:
    """libx265: constant quality, held down by the limits; the Main tier, whose bit rates players know."""
    yield part("-c:v", "libx265", "-crf", "20", why="H.265, so good that the eye finds no fault (x265's 20).")
    yield rate_limit(target)
    profile = target.tools.profile or ""
    yield part(*target.tools.arguments, why=f"Profile {profile}: what this player's chip decodes.")
    level = target.limits.level_max
    bound = f"level-idc={level}:high-tier=0:" if level else "high-tier=0:"
    yield part(
        *("-x265-params", f"{bound}open-gop=0:log-level=error"),
        why="Within the highest level, in its Main tier; each group of pictures stands alone, so that "
        "the loop starts clean.",
    )
    yield keyframes(target)
    if target.container in ("MP4", "MOV"):
        yield part("-tag:v", "hvc1", why="The mark by which players in the MP4 family know H.265.")
