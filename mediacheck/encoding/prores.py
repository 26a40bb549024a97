"""How a picture is packed as ProRes, an editing format, with ffmpeg's encoder.

It must not decide what the player takes: that is in the target.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.encoding.model import Part, Target, Tools, part

TOOLS = (
    Tools("Standard", ("-profile:v", "2"), "yuv422p10le", "4:2:2", 10),
    Tools("HQ", ("-profile:v", "3"), "yuv422p10le", "4:2:2", 10),
    Tools("LT", ("-profile:v", "1"), "yuv422p10le", "4:2:2", 10),
    Tools("Proxy", ("-profile:v", "0"), "yuv422p10le", "4:2:2", 10),
)


def settings(target: Target) -> Iterator[Part]:
    """Every picture is a keyframe, and the profile alone sets the bit rate."""
    yield part(
        *("-c:v", "prores_ks", *target.tools.arguments),
        why=f"ProRes {target.tools.profile}; its bit rate follows from its profile, size and frame rate.",
    )
