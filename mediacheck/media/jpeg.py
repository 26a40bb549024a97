"""The marker segments of a JPEG file up to the picture data.

It must not decode. Source: ITU-T T.81 Annex B (markers); the Adobe APP14 transform byte as Pillow reads it.
"""

from __future__ import annotations

from dataclasses import dataclass

FRAME_MARKERS = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
"""SOF0 to SOF15; C4, C8 and CC are tables and an extension, not frames."""
PROGRESSIVE_MARKERS = frozenset((0xC2, 0xC6, 0xCA, 0xCE))
ALONE = frozenset((0x01, *range(0xD0, 0xD9)))
"""Markers with no length after them (TEM, RSTn, SOI)."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The frame header: how the picture is coded."""

    marker: int
    bit_depth: int
    components: int
    adobe_transform: int | None

    @property
    def progressive(self) -> bool:
        """Coded in several passes over the whole picture, which simple decoders cannot unpack."""
        return self.marker in PROGRESSIVE_MARKERS


def frame_of(data: bytes) -> Frame | None:
    """The first frame header in the beginning of a JPEG file; None where there is none."""
    at, adobe = 2, None
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            return None
        marker = data[at + 1]
        if marker == 0xFF or marker in ALONE:
            at += 1 if marker == 0xFF else 2
            continue
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        body = data[at + 4 : at + 2 + length]
        if marker == 0xEE and body.startswith(b"Adobe") and len(body) >= 12:
            adobe = body[11]
        if marker in FRAME_MARKERS and len(body) >= 6:
            return Frame(marker, body[0], body[5], adobe)
        at += 2 + max(length, 2)
    return None
