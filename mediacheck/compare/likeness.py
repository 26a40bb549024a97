"""Which videos may show the same picture, found fast among thousands: no pair that is near is left out.

It must not decide whether two show the same: what it lets through is measured in full elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.fingerprint import FLAT_BIT, HASH_BYTES, RECORD_BYTES, UNRELATED

ROUNDING = 1e-4
"""Means are kept in 32 bits."""


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
