"""What one file says of itself, as plain frozen values.

It must not read files: the readers beside it fill these in.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from mediacheck.names import Chroma, FileKind, Scan

FrameRateMode = Literal["constant", "variable"]
IndexPlace = Literal["first", "last", "missing"]


@dataclass(frozen=True, slots=True)
class PacketFacts:
    """What one pass over the packets of the picture says, without decoding.

    `decode_times_s` (little-endian float64) and `sizes_bytes` (uint32) are packed arrays, one value per
    packet in decode order, so that a rule can run a leaky bucket for any limit; see `media.packets`.
    """

    count: int
    duration_s: Fraction
    total_bytes: int
    keyframes: int
    starts_with_keyframe: bool
    longest_gop_s: float
    shortest_interval_s: float
    longest_interval_s: float
    decode_times_s: bytes = field(default=b"", repr=False)
    sizes_bytes: bytes = field(default=b"", repr=False)
    leading: int = 0
    """How many are shown before the first keyframe: a decoder that starts with this file may skip them."""
    begins_s: float = 0.0
    """When the first picture that can be decoded is shown, from the earliest time in the file (sound may come
    before it)."""


@dataclass(frozen=True, slots=True)
class VideoFacts:
    """The picture stream that a player would show. None means that the file does not say.

    `codec` and `profile` use the names of the profile file; a codec without such a name keeps the
    reader's own. `level` is written as in the standard ("4.1", "1b"; "Main", "High" for MPEG-2).
    `rotation` is in degrees clockwise, as a player that honours it would turn the picture.
    """

    codec: str
    profile: str | None
    level: str | None
    width: int
    height: int
    pixel_aspect: Fraction
    rotation: int
    frame_rate: Fraction | None
    frame_rate_mode: FrameRateMode | None
    bit_depth: int | None
    chroma: Chroma | None
    scan: Scan | None
    bit_rate: int | None
    """bit/s over the whole clip, from the packets where they were counted."""
    duration: Fraction | None
    """Seconds."""
    colour_primaries: str | None = None
    """Name as in ITU-T H.273 wording used by ffmpeg: bt709, bt2020, smpte432, ..."""
    colour_transfer: str | None = None
    """bt709, smpte2084 (PQ), arib-std-b67 (HLG), ..."""
    level_needed: str | None = None
    """The least level whose limits the stream keeps (H.264 Table A-1, H.265 Tables A.8 and A.9)."""
    level_reason: str | None = None
    """Which limit makes that level necessary, in plain words."""
    reference_frames: int | None = None
    packets: PacketFacts | None = None


@dataclass(frozen=True, slots=True)
class AudioFacts:
    """One sound stream. Sample rate in Hz, bit rate in bit/s, duration in seconds."""

    codec: str
    profile: str | None
    sample_rate: int | None
    channels: int | None
    bit_rate: int | None
    duration: Fraction | None


@dataclass(frozen=True, slots=True)
class ContainerFacts:
    """The wrapping of the streams. `truncated` says in one sentence what is cut off, or is None."""

    name: str
    index: IndexPlace | None = None
    truncated: str | None = None
    fragmented: bool = False
    encrypted: bool = False


@dataclass(frozen=True, slots=True)
class StillFacts:
    """A single picture. `colour` is "grey", "RGB", "RGBA", "palette", "CMYK" or "YCCK".

    `orientation` is the EXIF value 1 to 8 (1 where there is none).
    `damaged` says in one sentence what could not be decoded, or is None.
    """

    format: str
    width: int
    height: int
    progressive: bool
    colour: str
    bit_depth: int
    orientation: int = 1
    frames: int = 1
    damaged: str | None = None


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One fact on which the two readers differ; the values are ready to print."""

    fact: str
    libavformat: str
    libmediainfo: str


@dataclass(frozen=True, slots=True)
class MediaFacts:
    """All that the readers found in one file.

    `extra_video_streams` counts picture streams beyond the first (cover art not counted);
    `other_streams` names what else is inside ("subtitle", "data").
    """

    kind: FileKind
    container: ContainerFacts | None = None
    video: VideoFacts | None = None
    audio: tuple[AudioFacts, ...] = ()
    extra_video_streams: int = 0
    other_streams: tuple[str, ...] = ()
    still: StillFacts | None = None
    duration: Fraction | None = None
    """Seconds that the item plays: the longest of picture and sound; None for stills."""
    disagreements: tuple[Disagreement, ...] = ()


@dataclass(frozen=True, slots=True)
class Unreadable:
    """No reader could make sense of the file. `kind` is what its name or first bytes promise."""

    kind: FileKind
    reason: str
    """Half a sentence for a person: "the file ends before the picture does"."""
    container: ContainerFacts | None = None
    """What the container still says, where its beginning could be walked."""
