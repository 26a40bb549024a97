"""How a fingerprint is written, and whether one can tell anything.

It must not compute with them, and stays light: the rules ask it, and most cards need no more.

Format, version 1: one byte 1, then 20 bytes for each half second of the clip, in order:

- 8 bytes: which cells are brighter than their left neighbours, in a grid of 9 x 8 cells;
- 8 bytes: which cells are brighter than those above them, in a grid of 8 x 9 cells;
- 3 bytes: mean red, green and blue;
- 1 byte: contrast of the cells' luma (standard deviation, 0 to 127). The highest bit is set where the picture
  is flat; then the first 16 bytes are 0, since they would hold noise.

Bits go row by row from the top, the first one is the most significant: dhash and dhash_vertical of the
imagehash library 4.3, with cells that are averages, and with a margin below which two cells are equal. Half
second N is told by the picture that is on the screen in its middle, at N / 2 + 0.25 s; a clip that is too
short for that has its last picture in one record.
"""

from __future__ import annotations

VERSION = 1
STEP_S = 0.5
RECORD_BYTES = 20
HASH_BYTES = 16
FLAT_BIT, CONTRAST_BITS = 0x80, 0x7F


def telling(fingerprint: bytes) -> bool:
    """Whether a clip can be known again by it: it has pictures, and most of them are not plain.

    Plain pictures are told apart by nothing but their colour, so two black clips would be one.
    """
    if fingerprint[:1] != bytes((VERSION,)) or len(fingerprint) % RECORD_BYTES != 1:
        return False
    contrasts = fingerprint[RECORD_BYTES::RECORD_BYTES]
    plain = sum(contrast & FLAT_BIT != 0 for contrast in contrasts)
    return bool(contrasts) and 2 * plain <= len(contrasts)
