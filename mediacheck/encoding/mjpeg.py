"""How a picture is packed as MJPEG, a row of whole JPEG pictures.

It must not decide what the player takes: that is in the target.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.encoding.model import Part, Target, Tools, part
from mediacheck.encoding.mpeg4 import averaged_rate

TOOLS = (
    Tools(None, (), "yuvj420p"),
    Tools(None, (), "yuvj422p", "4:2:2"),
)
"""JPEG has the full range of values (JFIF, ITU-T T.871)."""


def settings(target: Target) -> Iterator[Part]:
    """Every picture is a keyframe."""
    yield part("-c:v", "mjpeg", why="MJPEG: every picture is whole.")
    yield averaged_rate(target)
