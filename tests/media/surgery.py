"""Changes to the finished bytes of a clip, for what ffmpeg cannot be told to write.

It must not use the walkers under test: bytes are found by their four letters.
"""

from __future__ import annotations

import struct
from collections.abc import Callable

MATRICES = {
    90: (0, 1, -1, 0),
    180: (-1, 0, 0, -1),
    270: (0, -1, 1, 0),
}
"""a, b, c, d of the display matrix by degrees clockwise (Apple's QuickTime File Format, matrices)."""
ONE = 0x10000
"""1.0 as a 16.16 fixed-point number."""
MATRIX_AT = 4 + 40
"""From the letters tkhd to the matrix in a version 0 box (ISO/IEC 14496-12 8.3.2)."""


def turned(degrees: int) -> Callable[[bytes], bytes]:
    """Sets the display matrix of the first track of an MP4 or MOV file, clockwise."""

    def patch(data: bytes) -> bytes:
        a, b, c, d = (ONE * value for value in MATRICES[degrees])
        at = data.index(b"tkhd") + MATRIX_AT
        assert data[at - MATRIX_AT + 4] == 0, "a version 1 track header has its matrix elsewhere"
        return data[:at] + struct.pack(">5i", a, b, 0, c, d) + data[at + 20 :]

    return patch


def rolled(degrees: int, spare: bytes) -> Callable[[bytes], bytes]:
    """Puts a projection with a roll, counter-clockwise, into the first picture track of a Matroska file.

    The file must carry a track name of 11 bytes, `spare`, whose element gives way: Projection (7670h) with
    ProjectionType rectangular (7671h) and ProjectionPoseRoll (7675h, a float) takes the same 14 bytes, so
    that no other element moves (Matroska specification, Video element).
    """
    roll = b"\x76\x75\x84" + struct.pack(">f", degrees)
    projection = b"\x76\x70" + bytes([0x80 | 4 + len(roll)]) + b"\x76\x71\x81\x00" + roll
    name = b"\x53\x6e\x8b" + spare

    def patch(data: bytes) -> bytes:
        assert len(name) == len(projection) == 14
        at = data.index(name)
        data = data[:at] + data[at + len(name) :]
        video = data.index(b"\xe0", at)
        size = data[video + 1] & 0x7F
        assert data[video + 1] & 0x80, "the Video element's size was expected in one byte"
        end = video + 2 + size
        longer = bytes([0x80 | size + len(projection)])
        return data[: video + 1] + longer + data[video + 2 : end] + projection + data[end:]

    return patch
