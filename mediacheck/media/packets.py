"""One look at the packets of a file, without decoding: rhythm, keyframes and sizes.

It must not judge. MP4 and MOV tell all this in their index, so that their data need not be read.
"""

from __future__ import annotations

import sys
from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import islice, pairwise
from typing import TYPE_CHECKING, Any

from mediacheck.media.boxes import SampleTable
from mediacheck.media.facts import FrameRateMode, PacketFacts

if TYPE_CHECKING:
    from av import Packet
    from av.container import InputContainer

JITTER = 0.05
"""Share of a picture's time by which intervals may differ and still count as constant.

Players keep an even rhythm over such differences (common practice, no source); one tick of the
container's clock is allowed besides, since Matroska rounds times to 1 ms.
"""
COARSE = 0.5
"""A clock with ticks of more than this share of a picture counts pictures (AVI does): it rounds nothing."""
PACKETS_MAX = 20_000_000
Row = tuple[float | None, float | None, int, bool]
"""One packet of the picture: decode time and show time in seconds, bytes, whether it is a keyframe."""


@dataclass(frozen=True, slots=True)
class Packets:
    """Packets of one picture stream in decode order; times in seconds."""

    decode_s: array[float]
    show_s: array[float]
    sizes: array[int]
    keys: tuple[int, ...]
    """Numbers of the keyframes, from 0."""
    tick_s: float
    end_s: Fraction
    """From the first picture's time to the end of the last."""


@dataclass(frozen=True, slots=True)
class Demuxed:
    """What one pass over all packets of a file gave: the picture's packets, and each stream's size."""

    picture: Packets | None
    lengths: dict[int, Fraction]
    """Seconds by stream number."""
    sizes: dict[int, int]
    """Bytes by stream number."""
    starts: dict[int, Fraction] = field(default_factory=dict)
    """Earliest time by stream number, in seconds."""


@dataclass(slots=True)
class _Tally:
    """What was counted of one stream so far; times in ticks, since fractions are slow to reckon with."""

    tick_s: Fraction
    start: int
    end: int
    size_bytes: int = 0

    def add(self, start: int, end: int, size_bytes: int) -> None:
        self.start, self.end = min(self.start, start), max(self.end, end)
        self.size_bytes += size_bytes

    @property
    def length_s(self) -> Fraction:
        return (self.end - self.start) * Fraction(self.tick_s)


def from_table(table: SampleTable) -> Packets | None:
    """The packets that an MP4 index lists; None where the index is incomplete."""
    count = len(table.decode_ticks)
    if not count or count != len(table.sizes):
        return None
    scale = table.timescale
    keys = range(count) if table.keys is None else sorted(key for key in table.keys if key < count)
    return Packets(
        array("d", (tick / scale for tick in table.decode_ticks)),
        array("d", (tick / scale for tick in table.show_ticks)),
        table.sizes,
        tuple(keys),
        1 / scale,
        Fraction(table.total_ticks, scale),
    )


def demux(container: InputContainer, video_index: int | None) -> Demuxed:
    """Read every packet of an open file once. Errors of the reader end the pass; what came counts."""
    tallies: dict[int, _Tally] = {}
    rows: list[Row] = []
    tick = Fraction(1, 1000)
    for packet in islice(_packets(container), PACKETS_MAX):
        base = packet.time_base or tick
        at = packet.pts if packet.pts is not None else packet.dts
        if at is not None:
            end = at + (packet.duration or 0)
            tallies.setdefault(packet.stream_index, _Tally(base, at, end)).add(at, end, packet.size)
        if packet.stream_index == video_index and packet.size:
            tick = Fraction(base)
            times = _seconds(packet.dts, base), _seconds(packet.pts, base)
            rows.append((*times, packet.size, packet.is_keyframe))
    lengths = {number: tally.length_s for number, tally in tallies.items()}
    sizes = {number: tally.size_bytes for number, tally in tallies.items()}
    starts = {number: tally.start * tally.tick_s for number, tally in tallies.items()}
    length = lengths.get(video_index) if video_index is not None else None
    return Demuxed(_picture(rows, tick, length), lengths, sizes, starts)


def _packets(container: InputContainer) -> Iterator[Packet[Any]]:
    import av.error

    try:
        for packet in container.demux():
            if packet.dts is not None or packet.pts is not None or packet.size:
                yield packet
    except av.error.FFmpegError:
        return


def _seconds(ticks: int | None, base: Fraction) -> float | None:
    return None if ticks is None else float(ticks * base)


def _picture(rows: Sequence[Row], tick: Fraction, length: Fraction | None) -> Packets | None:
    if not rows:
        return None
    decode = _filled([dts if dts is not None else pts for dts, pts, _, _ in rows])
    known = [pts for _, pts, _, _ in rows if pts is not None]
    if len(known) == len(rows) and any(later < earlier for earlier, later in pairwise(decode)):
        decode = array("d", sorted(known))  # Matroska keeps no decode times; what stands there is a guess
    return Packets(
        decode,
        array("d", known) if len(known) == len(rows) else decode,
        array("I", (size for _, _, size, _ in rows)),
        tuple(number for number, row in enumerate(rows) if row[3]),
        float(tick),
        length or Fraction(0),
    )


def _filled(times: list[float | None]) -> array[float]:
    """Times that the container leaves out are put after the one before (program streams do this)."""
    filled: array[float] = array("d")
    steps = [b - a for a, b in pairwise(time for time in times if time is not None) if b > a]
    step = sorted(steps)[len(steps) // 2] if steps else 0.0
    for time in times:
        before = filled[-1] if filled else -step
        filled.append(before + step if time is None else time)
    return filled


def packet_facts(packets: Packets, waits_s: float = 0.0) -> PacketFacts:
    """The numbers that rules read. The picture's end is taken one usual interval after its last time.

    `waits_s`: how much later than the file the picture starts.
    """
    intervals = _intervals(packets)
    usual = sorted(intervals)[len(intervals) // 2] if intervals else 0.0
    start = min(packets.show_s)
    last = Fraction(max(packets.show_s) + usual - start).limit_denominator(1_000_000)
    duration = max(packets.end_s, last) if packets.end_s < last else packets.end_s
    marks = [packets.show_s[key] - start for key in packets.keys] + [float(duration)]
    return PacketFacts(
        count=len(packets.sizes),
        duration_s=duration,
        total_bytes=sum(packets.sizes),
        keyframes=len(packets.keys),
        starts_with_keyframe=bool(packets.keys) and packets.keys[0] == 0,
        longest_gop_s=max((b - a for a, b in pairwise(marks)), default=float(duration)),
        shortest_interval_s=min(intervals, default=0.0),
        longest_interval_s=max(intervals, default=0.0),
        decode_times_s=_little_endian(packets.decode_s),
        sizes_bytes=_little_endian(packets.sizes),
        leading=_leading(packets),
        begins_s=waits_s + _before_the_first_keyframe_s(packets),
    )


def _leading(packets: Packets) -> int:
    """Packets shown before the first keyframe: where a clip was cut out of a longer one, they may need
    pictures that are not there any more (H.265, 7.4.2.2: skipped leading pictures; clause from memory).
    """
    if not packets.keys:
        return 0
    first_s = packets.show_s[packets.keys[0]]
    return sum(show_s < first_s for show_s in packets.show_s)


def _before_the_first_keyframe_s(packets: Packets) -> float:
    """What is lost where the file does not begin with a keyframe."""
    if not packets.keys or packets.keys[0] == 0:
        return 0.0
    return max(0.0, packets.show_s[packets.keys[0]] - min(packets.show_s))


def _intervals(packets: Packets) -> list[float]:
    return [b - a for a, b in pairwise(sorted(packets.show_s))]


def _little_endian(values: array[float] | array[int]) -> bytes:
    if sys.byteorder == "big":
        values = array(values.typecode, values)
        values.byteswap()
    return values.tobytes()


def frame_rate_mode(packets: Packets) -> FrameRateMode | None:
    """Whether the pictures come evenly; None where there are too few to say."""
    intervals = _intervals(packets)
    if len(intervals) < 2:
        return None
    usual = sorted(intervals)[len(intervals) // 2]
    rounded = packets.tick_s * 1.01 if packets.tick_s < COARSE * usual else 0.0
    allowed = JITTER * usual + rounded
    return "constant" if all(abs(interval - usual) <= allowed for interval in intervals) else "variable"
