"""A leaky bucket: does what the player reads ahead last through the busy places of a clip.

It must not know of profiles or files: it is arithmetic on times and sizes.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from math import isfinite

ROUNDING_BITS = 1.0
"""Shortfalls up to this are rounding of decimal time stamps, not bits."""


@dataclass(frozen=True, slots=True)
class Dry:
    """The first frame whose bits are not all there at its decode time."""

    second: float
    """Its decode time, counted from the first frame."""
    short_bits: float


def first_dry(decode_times_s: bytes, sizes_bytes: bytes, rate_bit_s: float, bucket_bits: float) -> Dry | None:
    """Where a bucket that is full at the start first runs dry; None where it never does.

    `decode_times_s` are little-endian float64 and `sizes_bytes` little-endian uint32, one of each per frame
    in decode order (`PacketFacts`). The bucket fills at `rate_bit_s`, holds no more than `bucket_bits`, and
    each frame's bits leave at once at its decode time; a time before the one it follows counts as equal
    to it. One pass only: what the player has left when the loop starts again depends on the player, so a
    pass counts from a full bucket each time. Raises ValueError where the arrays are empty, differ in length
    or hold no usable times.

    Common practice, after the hypothetical reference decoder of ITU-T H.264 Annex C (from memory).
    """
    times, sizes = _unpacked("d", decode_times_s), _unpacked("I", sizes_bytes)
    if not times or len(times) != len(sizes) or not all(map(isfinite, times)):
        raise ValueError("no usable decode times for the frames")
    held, latest = bucket_bits, times[0]
    for time, size in zip(times, sizes, strict=True):
        gained = rate_bit_s * max(0.0, time - latest)
        held, latest = min(bucket_bits, held + gained) - 8 * size, max(latest, time)
        if held < -ROUNDING_BITS:
            return Dry(latest - times[0], -held)
    return None


def _unpacked(code: str, packed: bytes) -> tuple[float, ...]:
    """Little-endian values of one struct code. Raises ValueError for a broken last value."""
    count, rest = divmod(len(packed), struct.calcsize(f"<{code}"))
    if rest:
        raise ValueError("a broken array of times or sizes")
    return struct.unpack(f"<{count}{code}", packed)
