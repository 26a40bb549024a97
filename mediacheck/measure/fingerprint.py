"""A compact signature of what an item shows, by which it is known again after encoding, scaling or cropping.

It must not decide whether two items are the same: it gives a distance. How it is written:
`measure.fingerprint_format`.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.fingerprint_format import (
    CONTRAST_BITS,
    FLAT_BIT,
    HASH_BYTES,
    RECORD_BYTES,
    STEP_S,
    VERSION,
)

CELLS = 8
BRIGHTER_BY = 1.0
"""Levels of 256. Noise of the encoder averages out in a cell and stays below (own measurements)."""
FLAT_CONTRAST = 2.0
UNRELATED = 0.5
"""Share of bits that differ by chance, between pictures that have nothing to do with each other."""


class FingerprintGauge:
    """Reads one picture out of each half second; a clip of an hour takes 144 kB."""

    def __init__(self) -> None:
        self._records: list[bytes] = []
        self._shown: NDArray[np.uint8] | None = None

    def see(self, second: float, picture: NDArray[np.uint8]) -> None:
        """Take the next picture: uint8 (height, width, 3), RGB, averaged over areas. It is kept as it is."""
        if self._shown is not None and self._middle_s() < second:
            record = _record(self._shown)
            while self._middle_s() < second:
                self._records.append(record)
        self._shown = picture

    def result(self) -> bytes:
        """The fingerprint; of a clip without pictures, the version byte alone."""
        if not self._records and self._shown is not None:
            return bytes((VERSION,)) + _record(self._shown)
        return bytes((VERSION,)) + b"".join(self._records)

    def _middle_s(self) -> float:
        """Of the half second that comes next."""
        return (len(self._records) + 0.5) * STEP_S


def distance(one: bytes, other: bytes) -> float:
    """How far two fingerprints are apart, both read from their starts: 0 is the same, 1 the greatest.

    The mean over the half seconds. Pictures that have nothing to do with each other are about 0.5 apart, and
    more where their colours differ. A half second that only one of them has counts as 1, except for one:
    lengths are rounded. Raises ValueError for what is no fingerprint of this version.
    """
    ours, others = _parsed(one), _parsed(other)
    common = min(len(ours), len(others))
    alone = max(0, abs(len(ours) - len(others)) - 1)
    if common == 0:
        return float(len(ours) != len(others))
    return float(_apart(ours[:common], others[:common]).sum() + alone) / (common + alone)


def _parsed(fingerprint: bytes) -> NDArray[np.uint8]:
    """One row of 20 numbers for each half second."""
    if not fingerprint or fingerprint[0] != VERSION or len(fingerprint) % RECORD_BYTES != 1:
        raise ValueError("this is no fingerprint of version 1")
    return np.frombuffer(fingerprint, np.uint8, offset=1).reshape(-1, RECORD_BYTES)


def _apart(ours: NDArray[np.uint8], others: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Share of the bits that differ plus the difference of the mean colours (0 to 1), up to 1."""
    bits = np.unpackbits(ours[:, :HASH_BYTES] ^ others[:, :HASH_BYTES], axis=1).mean(axis=1)
    flat, other_flat = (records[:, -1] & FLAT_BIT != 0 for records in (ours, others))
    pattern = np.where(flat | other_flat, UNRELATED * (flat ^ other_flat), bits)
    means, other_means = (records[:, HASH_BYTES:-1].astype(float) for records in (ours, others))
    colour = np.abs(means - other_means).mean(axis=1) / 255
    return np.asarray(np.minimum(1.0, pattern + colour))


def _record(picture: NDArray[np.uint8]) -> bytes:
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY).astype(np.float32)
    across = cv2.resize(grey, (CELLS + 1, CELLS), interpolation=cv2.INTER_AREA)
    down = cv2.resize(grey, (CELLS, CELLS + 1), interpolation=cv2.INTER_AREA)
    contrast = min(CONTRAST_BITS, round(float(across.std())))
    colour = bytes(round(mean) for mean in cv2.mean(picture)[:3])
    if across.std() < FLAT_CONTRAST:
        return bytes(HASH_BYTES) + colour + bytes((contrast | FLAT_BIT,))
    return _bits(np.diff(across, axis=1)) + _bits(np.diff(down, axis=0)) + colour + bytes((contrast,))


def _bits(rise: NDArray[np.floating]) -> bytes:
    return np.packbits(rise > BRIGHTER_BY).tobytes()
