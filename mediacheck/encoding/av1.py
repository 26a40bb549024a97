"""How a picture is packed as AV1, with SVT-AV1.

It must not decide what the player takes: that is in the target.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.encoding.h264 import keyframes
from mediacheck.encoding.model import Part, Target, Tools, part

TOOLS = (
    Tools("Main", (), "yuv420p"),
    Tools("Main", (), "yuv420p10le", "4:2:0", 10),
)


def settings(target: Target) -> Iterator[Part]:
    """libsvtav1 at constant quality: on the way to an average rate it fails at noise (seen in 1.4)."""
    yield part("-c:v", "libsvtav1", "-preset", "8", why="AV1, at a bearable speed.")
    yield part("-crf", "30", why="So good that the eye finds no fault.")
    yield keyframes(target)
