"""How many bits the picture may take, so that the average, the peaks and the level all keep their limits.

It must not know codecs: what a level carries comes in as a cap.
"""

from __future__ import annotations

from mediacheck.encoding.model import Budget, Frame, Refused
from mediacheck.profile import CodecLimits, Player

AVERAGE_SHARE = 0.8
AVERAGE_BUFFER_S = 0.2
"""A buffer that is full at the start is spent on top of the rate: 0.8 s + 0.2 s in a clip of one second,
so clips of one second and longer keep the average (arithmetic)."""
FLOW_SHARE = 0.8
"""Encoders overshoot a little, and containers count time a little differently (common practice)."""
BUFFER_SECONDS = 1.0


def flow_of(limits: CodecLimits, player: Player) -> float | None:
    """bit/s at which the player's buffer fills, as rule video-bit-rate-peak counts it; None: not limited."""
    read = None if player.read_mbit_s is None else player.read_mbit_s * 1e6
    flows = [flow for flow in (limits.bit_rate_peak_max, read) if flow is not None]
    return float(min(flows)) if flows else None


def budget_for(
    limits: CodecLimits, player: Player, wanted_bit_s: float, cap: tuple[int, int] | None
) -> Budget:
    """`wanted_bit_s` is as much as the picture can use; `cap` is bit/s and bits of the level's buffer."""
    rates, buffers = [wanted_bit_s], [wanted_bit_s * BUFFER_SECONDS]
    if limits.bit_rate_max is not None:
        rates.append(limits.bit_rate_max * AVERAGE_SHARE)
        buffers.append(limits.bit_rate_max * AVERAGE_BUFFER_S)
    flow = flow_of(limits, player)
    if flow is not None:
        rates.append(flow * FLOW_SHARE)
        buffers.append(flow * player.buffer_seconds * FLOW_SHARE)
    if cap is not None:
        rates.append(cap[0])
        buffers.append(cap[1])
    return Budget(int(min(rates) / 1000), int(min(buffers) / 1000))


def enough(budget: Budget, frame: Frame, rate: float, bits_per_pixel: float) -> Refused | None:
    """Whether a picture of this size can be squeezed in, at the coarsest that the encoder goes."""
    least = bits_per_pixel * frame.width * frame.height * rate / 1000
    if budget.rate_kbit_s >= max(1, least) and budget.buffer_kbit >= max(1, least / rate):
        return None
    return Refused(
        f"it leaves {budget.rate_kbit_s} kbit/s for a picture of {frame.width}x{frame.height} "
        "pixels, which is too little for this codec"
    )
