"""The least rate at which a player's buffer lasts through a clip.

It must not judge: it asks the same bucket that the rule about peaks asks.
"""

from __future__ import annotations

from math import ceil

from mediacheck.media.facts import PacketFacts
from mediacheck.profile import Player
from mediacheck.rules.bucket import first_dry

BUFFER_SECONDS: float = Player().buffer_seconds
"""As in a profile that says nothing of it."""
STEP_BIT_S = 1000
MOST_BIT_S = 10**13


def least_fill_rate(packets: PacketFacts) -> int | None:
    """In whole kbit/s, as bit/s; None where the packets carry no usable times.

    A greater rate fills a larger bucket faster, so that the least one can be closed in on. It is never below
    the clip's own average: a short clip may live on the full bucket that it began with, a loop does not.
    """
    try:
        least = _closed_in(packets)
    except ValueError:
        return None
    return None if least is None else max(least, _average(packets))


def _average(packets: PacketFacts) -> int:
    if not packets.duration_s:
        return 0
    return ceil(8 * packets.total_bytes / packets.duration_s / STEP_BIT_S) * STEP_BIT_S


def _closed_in(packets: PacketFacts) -> int | None:
    low, high = 0, 1_000 * STEP_BIT_S
    while _runs_dry(packets, high):
        low, high = high, 2 * high
        if high > MOST_BIT_S:
            return None
    while high - low > STEP_BIT_S:
        middle = (low + high) // (2 * STEP_BIT_S) * STEP_BIT_S
        low, high = (middle, high) if _runs_dry(packets, middle) else (low, middle)
    return high


def _runs_dry(packets: PacketFacts, bit_s: int) -> bool:
    bucket = bit_s * BUFFER_SECONDS
    return first_dry(packets.decode_times_s, packets.sizes_bytes, bit_s, bucket) is not None
