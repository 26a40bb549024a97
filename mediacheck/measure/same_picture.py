"""Which fingerprints show the same picture: where the limit stands, and the search for such among thousands.

It must not know files or cards: what follows from an equal picture is for those who ask.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.fingerprint import UNRELATED, distance
from mediacheck.measure.fingerprint_format import FLAT_BIT, HASH_BYTES, RECORD_BYTES

SAME_PICTURE = 0.1
"""Fingerprints that are no further apart show the same picture. Measured (tests/compare): up to 0.07 for what
was encoded again, smaller or with another codec; from 0.14 on for other clips drawn in the same style and
colours, and over 0.4 for clips that have nothing to do with each other."""
LENGTHS_RATIO = 1 - SAME_PICTURE
"""A half second that only one clip has counts as 1: clips of more unequal lengths cannot be near."""
ROUNDING = 1e-4
"""Means are kept in 32 bits."""


def apart(ours: bytes, theirs: bytes) -> float:
    """How far two fingerprints are apart; 1 where their lengths alone say that they are not near."""
    short, long = sorted((len(ours), len(theirs)))
    return distance(ours, theirs) if short + RECORD_BYTES >= long * LENGTHS_RATIO else 1.0


def perhaps_near(prints: Sequence[bytes], others: Sequence[bytes], most: float) -> Iterator[tuple[int, int]]:
    """Index pairs of fingerprints that may be no further apart than `most`; all that are, are among them.

    The distance is a mean of differences over time, and such a mean is never less than the difference of the
    means over time; where one lasts longer, its mean may be off by the share that only it has.
    """
    if not prints or not others:
        return
    means = np.array([_mean(each) for each in others], np.float32)
    lengths = np.array([_records(each) for each in others])
    for index, each in enumerate(prints):
        apart = np.abs(means - _mean(each).astype(np.float32))
        length = _records(each)
        slack = np.abs(lengths - length) / np.maximum(lengths, length)
        bits, colour = apart[:, :-3].mean(axis=1), apart[:, -3:].mean(axis=1)
        for found in np.flatnonzero(np.maximum(bits, colour) <= most + slack + ROUNDING):
            yield index, int(found)


def _records(fingerprint: bytes) -> int:
    return len(fingerprint) // RECORD_BYTES


def _mean(fingerprint: bytes) -> NDArray[np.float64]:
    """131 numbers from 0 to 1: each bit of the pattern (half way where the picture is flat), then the colour.

    Half way, a flat picture is as far from any pattern as the distance says.
    """
    records = np.frombuffer(fingerprint, np.uint8, offset=1).reshape(-1, RECORD_BYTES)
    bits = np.unpackbits(records[:, :HASH_BYTES], axis=1).astype(float)
    bits[records[:, -1] & FLAT_BIT != 0] = UNRELATED
    return np.concatenate((bits.mean(axis=0), records[:, HASH_BYTES:-1].mean(axis=0) / 255))
