"""The busiest second of a clip, counted from its packets.

It must not judge: how much a player can take is for the rules.
"""

from __future__ import annotations

import numpy as np

from mediacheck.media.facts import PacketFacts


def greatest_second_bits(packets: PacketFacts) -> int | None:
    """Most bits of picture in any one second (half open, by decode time); None without packets."""
    times = np.frombuffer(packets.decode_times_s, "<f8")
    sizes = np.frombuffer(packets.sizes_bytes, "<u4").astype(np.int64)
    if not times.size or times.size != sizes.size:
        return None
    order = np.argsort(times, kind="stable")
    times, until = times[order], np.concatenate(([0], np.cumsum(sizes[order])))
    ends = np.searchsorted(times, times + 1.0 - 1e-9, side="left")
    return int(8 * (until[ends] - until[: times.size]).max())
