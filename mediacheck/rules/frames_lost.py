"""Frames that a file lists and that never came out of the decoder, and what of that is no damage.

It must not open files: it holds the packets of the headers against the times of the decoded pictures.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass

from mediacheck.measure.model import Measurements
from mediacheck.media.facts import PacketFacts, VideoFacts
from mediacheck.rules.model import NotChecked

ONE_EACH = frozenset(("H.264", "H.265", "AV1", "MPEG-2", "MPEG-1", "MJPEG", "ProRes"))
"""In these each packet is a picture that is shown, unless it is coded in fields (for AV1: AV1 bitstream
specification, 7.5, temporal units; the others from memory). VP8 and VP9 may have packets that are never shown
themselves, and MPEG-4 has some that say "the same again"."""
SAME_AGAIN_BYTES_MAX = 16
"""A picture of MPEG-4 that is not coded (ISO/IEC 14496-2, vop_coded; from memory) has 7 or 8 bytes."""
SHORT_SHARE = 0.01
"""Share of the frames that may stay away without a word: the ends of a cut (common practice, no source)."""
SHORT_MIN = 2
LEADING_MAX = 16
"""Most pictures that a decoder holds back to put them in order (H.264, A.3.1; H.265, A.4.2; from memory): a
wait at the very start may stand for these where a file keeps no times of its own."""
FIELDS = 0.75
"""Packets that come this much faster than frames are half frames."""


@dataclass(frozen=True, slots=True)
class Lost:
    """How many frames are missing, how long that is, and at which seconds, as far as their times tell."""

    frames: int
    seconds: float
    places_s: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Hole:
    start_s: float
    frames: int


def lost_frames(video: VideoFacts, measured: Measurements) -> Lost | NotChecked | None:
    """What is certainly lost; None where all is there, or what is not there has a cause that is no damage.

    Certain is a wait between two pictures that is longer than any between two packets, and, where each packet
    makes a picture, any that is missing besides those shown before the first keyframe.
    """
    packets = video.packets
    if packets is None:
        return None
    frame_s = _frame_s(video, packets)
    one_each = _one_each(video, packets, frame_s)
    short = packets.count - measured.frames
    holes = tuple(_holes(measured, packets, frame_s, one_each))
    inside = min(sum(hole.frames for hole in holes), short - same_again(video, packets))
    if inside <= SHORT_MIN:
        inside, holes = 0, ()
    besides = short - packets.leading - inside
    tolerated = max(SHORT_MIN, SHORT_SHARE * packets.count)
    if inside or (one_each and besides > tolerated):
        lost = inside + (max(0, besides) if one_each else 0)
        return Lost(lost, lost * frame_s, tuple(hole.start_s for hole in holes))
    if packets.count // 2 - measured.frames > tolerated:
        return _unexplained(packets.count, measured.frames)
    return None


def complaints_of_the_lead(video: VideoFacts, measured: Measurements) -> int:
    """How many of the decoder's complaints came before its first picture and are explained by the cut.

    That is: frames before the first keyframe need others that were cut off, and none of them was shown.
    """
    leading = video.packets.leading if video.packets else 0
    if not video.packets or not leading or video.packets.count - measured.frames < leading:
        return 0
    if len(measured.decode_errors) < measured.decode_error_count:
        return 0
    return sum(error.second is None for error in measured.decode_errors)


def _unexplained(listed: int, frames: int) -> NotChecked:
    return NotChecked(
        f"the file lists {listed:,} frames or half frames, and {frames:,} frames came out of the decoder, "
        "which did not say why",
        expected=False,
    )


def _frame_s(video: VideoFacts, packets: PacketFacts) -> float:
    """How long a frame stays as a rule, in seconds."""
    if video.frame_rate:
        return float(1 / video.frame_rate)
    return float(packets.duration_s) / packets.count


def _one_each(video: VideoFacts, packets: PacketFacts, frame_s: float) -> bool:
    """Whether each packet makes one frame: some writers give each slice or each half frame a packet."""
    in_fields = video.scan != "progressive" or packets.longest_interval_s < FIELDS * frame_s
    return video.codec in ONE_EACH and not in_fields and packets.shortest_interval_s > 0


def _holes(measured: Measurements, packets: PacketFacts, frame_s: float, one_each: bool) -> Iterator[_Hole]:
    """Waits for a picture while packets came. Of half frames, two packets may make one."""
    longest_s = packets.longest_interval_s * (1 if one_each else 2)
    for gap in measured.gaps or ():
        frames = round((gap.end_s - gap.start_s - longest_s) / frame_s) if frame_s else 0
        if frames > _excused(gap.start_s, packets.leading, frame_s):
            yield _Hole(gap.start_s, frames)


def _excused(start_s: float, leading: int, frame_s: float) -> int:
    """How many frames may be left out there, since they lead up to the first keyframe."""
    led = leading if start_s <= leading * frame_s else 0
    return max(led, LEADING_MAX) if start_s == 0 else led


def same_again(video: VideoFacts, packets: PacketFacts) -> int:
    """How many packets of MPEG-4 only say that the picture stays."""
    if video.codec != "MPEG-4":
        return 0
    return sum(size <= SAME_AGAIN_BYTES_MAX for (size,) in struct.iter_unpack("<I", packets.sizes_bytes))
