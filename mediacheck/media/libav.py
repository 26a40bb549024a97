"""The first reader: what libavformat (through PyAV) and our own walkers say of a moving picture.

It must not compare with the second reader or judge; it opens files for reading only.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from mediacheck.media import codecs, colour, ebml, h264, h265, levels, packets
from mediacheck.media.facts import (
    AudioFacts,
    FrameRateMode,
    MediaFacts,
    PacketFacts,
    Unreadable,
    VideoFacts,
)
from mediacheck.media.layout import Layout, layout_of
from mediacheck.media.opening import SKIM, SKIM_INDEXED, Location, open_container, size_of
from mediacheck.names import Chroma, Scan

if TYPE_CHECKING:
    from av.audio.stream import AudioStream
    from av.container import InputContainer
    from av.video.codeccontext import VideoCodecContext
    from av.video.stream import VideoStream

CHROMA: dict[tuple[int, int], Chroma] = {
    (1, 1): "4:2:0",
    (1, 0): "4:2:2",
    (0, 0): "4:4:4",
    (2, 0): "4:1:1",
    (0, 1): "4:4:0",
}
TRACKS_BYTES = 1 << 16
"""As much of a Matroska file as its tracks usually take."""
RATE_DENOMINATOR_MAX = 100_000
INTERLACED_ORDERS = (2, 3, 4, 5)
"""AVFieldOrder: top or bottom field first, coded or shown (libavcodec/defs.h)."""


def container_name(container: InputContainer, promised: str | None) -> str:
    """The container by libavformat's word; MP4 and MOV, MKV and WebM are told apart by our walkers."""
    name = container.format.name
    if name.startswith("mov,"):
        return "MP4"
    if name.startswith("matroska"):
        return promised if promised in ("MKV", "WebM") else "MKV"
    return codecs.CONTAINERS.get(name, name.upper())


def read(location: Location, promised: str | None) -> MediaFacts | Unreadable:
    """Facts of a video or sound file. Raises av.error.FFmpegError or OSError."""
    with open_container(location, SKIM_INDEXED if promised in ("MP4", "MOV") else SKIM) as container:
        if _tells_all(container):
            return _facts(container, location, promised)
    with open_container(location) as container:
        return _facts(container, location, promised)


def _tells_all(container: InputContainer) -> bool:
    """Whether every stream was described without decoding anything.

    The bit rate of sound must come from the index there, where no packets are counted.
    """
    indexed = container.format.name.startswith("mov,")
    contexts = [sound.codec_context for sound in container.streams.audio]
    return all(_is_described(stream) for stream in container.streams.video) and all(
        context is not None and context.sample_rate and (context.bit_rate or not indexed)
        for context in contexts
    )


def _is_described(stream: VideoStream) -> bool:
    context = stream.codec_context
    if context is None or not context.width:
        return False
    if context.format is not None:
        return True
    codec = codecs.video_codec(context.codec.canonical_name)
    return codec == "H.264" and _sequence(codec, context.extradata) is not None


def _facts(container: InputContainer, location: Location, promised: str | None) -> MediaFacts | Unreadable:
    with location.open("rb") as file:
        layout = layout_of(file, size_of(file), container_name(container, promised))
    pictures = [stream for stream in container.streams.video if not _is_cover(stream)]
    stream = pictures[0] if pictures else None
    if stream is not None and stream.codec_context is None:
        return Unreadable("video", "its picture is coded in a way that no reader knows", layout.facts)
    demuxed = _packets(container, layout, stream)
    sound = tuple(_audio(track, demuxed) for track in container.streams.audio)
    video = None
    if stream is not None:
        waits_s = _waits_s(container, stream, demuxed)
        video = _video(stream, demuxed.picture, waits_s, _rotation(layout, stream, location))
    lengths = [part.duration for part in (video, *sound) if part and part.duration]
    return MediaFacts(
        kind="video" if video or not sound else "audio",
        container=layout.facts,
        video=video,
        audio=sound,
        extra_video_streams=max(0, len(pictures) - 1),
        other_streams=_others(container),
        duration=max(lengths, default=None),
    )


def _packets(container: InputContainer, layout: Layout, stream: VideoStream | None) -> packets.Demuxed:
    """From the index where it is complete, else from one pass over the data."""
    listed = packets.from_table(layout.table) if layout.table else None
    sound_only = stream is None and layout.facts.name in ("MP4", "MOV") and not layout.facts.fragmented
    if listed or sound_only:
        return packets.Demuxed(listed, {}, {})
    return packets.demux(container, stream.index if stream else None)


def _others(container: InputContainer) -> tuple[str, ...]:
    return tuple(stream.type for stream in container.streams if stream.type not in ("video", "audio"))


def _is_cover(stream: VideoStream) -> bool:
    import av.stream

    return bool(stream.disposition & av.stream.Disposition.attached_pic)


def _rotation(layout: Layout, stream: VideoStream | None, location: Location) -> int:
    """Degrees clockwise: from the track's matrix in MP4 and MOV, else from the first picture's side data."""
    if layout.rotation is not None:
        return layout.rotation
    if stream is None or layout.facts.name not in ("MKV", "WebM"):
        return 0
    with location.open("rb") as file:
        if not ebml.may_be_turned(file.read(TRACKS_BYTES)):
            return 0
    return _rotation_of_first_picture(location)


def _rotation_of_first_picture(location: Location) -> int:
    import av.error

    with open_container(location) as container:
        try:
            frame = next(container.decode(video=0), None)
        except av.error.FFmpegError:
            return 0
    return -frame.rotation % 360 if frame is not None else 0


def _video(stream: VideoStream, listed: packets.Packets | None, waits_s: float, rotation: int) -> VideoFacts:
    context = stream.codec_context
    codec = codecs.video_codec(context.codec.canonical_name)
    counted = packets.packet_facts(listed, waits_s) if listed else None
    mode = packets.frame_rate_mode(listed) if listed else None
    bit_rate = round(8 * counted.total_bytes / counted.duration_s) if counted and counted.duration_s else None
    profile = codecs.codec_profile(codec, context.profile)
    sequence = _sequence(codec, context.extradata)
    video = VideoFacts(
        codec=codec,
        profile=profile,
        level=sequence.level if sequence else codecs.header_level(codec, profile, context.level),
        width=context.width,
        height=context.height,
        pixel_aspect=stream.sample_aspect_ratio or Fraction(1),
        rotation=rotation,
        frame_rate=_rate(stream, counted, mode),
        frame_rate_mode=mode,
        bit_depth=context.format.components[0].bits if context.format else None,
        chroma=_chroma(context),
        scan=_scan(context.field_order, sequence),
        bit_rate=bit_rate or context.bit_rate,
        duration=_shown_seconds(stream, counted),
        colour_primaries=colour.PRIMARIES.get(int(context.color_primaries)),
        colour_transfer=colour.TRANSFERS.get(int(context.color_trc)),
        reference_frames=_reference_frames(sequence),
        packets=counted,
    )
    if isinstance(sequence, h264.H264Sequence):
        video = _by_its_own_header(video, sequence, stream.sample_aspect_ratio)
    need = _need(video, isinstance(sequence, h265.H265Sequence) and sequence.high_tier)
    return replace(video, level_needed=need.level, level_reason=need.reason) if need else video


def _waits_s(container: InputContainer, stream: VideoStream, demuxed: packets.Demuxed) -> float:
    """How long the picture waits for the file to begin: by its packets, or as the reader takes the edit lists
    of MP4."""
    played = {part.index for part in (*container.streams.video, *container.streams.audio)}
    starts = {number: start for number, start in demuxed.starts.items() if number in played}
    if stream.index in starts:
        return float(starts[stream.index] - min(starts.values()))
    first_us, start = container.start_time, stream.start_time
    if first_us is None or start is None or stream.time_base is None:
        return 0.0
    return max(0.0, float(start * stream.time_base) - first_us / 1_000_000)


def _by_its_own_header(video: VideoFacts, sequence: h264.H264Sequence, said: Fraction | None) -> VideoFacts:
    """What an H.264 decoder would find: the stream's own header goes before what its container says.

    Only the pixel shape is the container's where it says one (`said`), as in ffmpeg's players.
    """
    primaries, transfer = video.colour_primaries, video.colour_transfer
    if sequence.primaries is not None and sequence.transfer is not None:
        primaries = colour.PRIMARIES.get(sequence.primaries)
        transfer = colour.TRANSFERS.get(sequence.transfer)
    return replace(
        video,
        width=sequence.width,
        height=sequence.height,
        pixel_aspect=said or sequence.pixel_aspect or Fraction(1),
        bit_depth=sequence.bit_depth,
        chroma=sequence.chroma,
        colour_primaries=primaries,
        colour_transfer=transfer,
    )


Sequence = h264.H264Sequence | h265.H265Sequence | None


def _sequence(codec: str, extradata: bytes | None) -> Sequence:
    if codec == "H.264":
        return h264.sequence_of(extradata)
    return h265.sequence_of(extradata) if codec == "H.265" else None


def _reference_frames(sequence: Sequence) -> int | None:
    if isinstance(sequence, h264.H264Sequence):
        return sequence.reference_frames
    return sequence.dpb_frames if sequence else None


def _rate(stream: VideoStream, counted: PacketFacts | None, mode: FrameRateMode | None) -> Fraction | None:
    """Pictures per second: the nominal rate, or where they come unevenly the average of those counted."""
    if mode == "variable" and counted and counted.duration_s:
        return Fraction(counted.count / counted.duration_s).limit_denominator(RATE_DENOMINATOR_MAX)
    rate = stream.guessed_rate or stream.average_rate
    return Fraction(rate) if rate else None


def _shown_seconds(stream: VideoStream, counted: PacketFacts | None) -> Fraction | None:
    """How long the picture is shown: less than all that is stored where an edit list leaves parts out.

    A difference of a picture or two is none: headers tend to leave out how long the last one stays.
    """
    said = _stream_seconds(stream)
    if counted is None:
        return said
    cut = said is not None and said < counted.duration_s - 2 * Fraction(counted.longest_interval_s)
    return said if cut and stream.container.format.name.startswith("mov,") else counted.duration_s


def _scan(order: int, sequence: Sequence) -> Scan | None:
    """libavformat's field order; a stream that may code fields is interlaced unless it says otherwise."""
    if order in INTERLACED_ORDERS:
        return "interlaced"
    if order == 1:
        return "progressive"
    if isinstance(sequence, h264.H264Sequence):
        return "progressive" if sequence.frames_only else None
    return sequence.scan if sequence else None


def _chroma(context: VideoCodecContext) -> Chroma | None:
    pixel = context.format
    if pixel is None:
        return None
    if pixel.is_rgb:
        return "4:4:4"
    if len(pixel.components) < 3:
        return "4:0:0"
    probe = 64
    across, down = pixel.chroma_width(probe), pixel.chroma_height(probe)
    return CHROMA.get(((probe // across).bit_length() - 1, (probe // down).bit_length() - 1))


def _need(video: VideoFacts, high_tier: bool) -> levels.LevelNeed | None:
    """The least level for the stream; the bit-rate factors of H.265 are those of Main and Main 10."""
    if video.codec == "H.264" and video.profile:
        return levels.h264_level_needed(
            profile=video.profile,
            width=video.width,
            height=video.height,
            frame_rate=video.frame_rate,
            reference_frames=video.reference_frames,
            bit_rate=video.bit_rate,
            interlaced=video.scan == "interlaced",
            duration=video.duration,
        )
    if video.codec == "H.265":
        return levels.h265_level_needed(
            width=video.width,
            height=video.height,
            frame_rate=video.frame_rate,
            dpb_frames=video.reference_frames,
            bit_rate=video.bit_rate if video.profile in ("Main", "Main 10") else None,
            high_tier=high_tier,
            duration=video.duration,
        )
    return None


def _stream_seconds(stream: VideoStream | AudioStream) -> Fraction | None:
    if stream.duration is None or stream.time_base is None:
        return None
    return stream.duration * stream.time_base


def _audio(stream: AudioStream, demuxed: packets.Demuxed) -> AudioFacts:
    """The bit rate is the stream's own where the file gives one, else what the packets came to.

    The frames of AAC do not say it: what libavformat has there is a guess from the first ones.
    """
    context = stream.codec_context  # None for a stream that no decoder is known for
    length = demuxed.lengths.get(stream.index) or _stream_seconds(stream)
    counted = round(8 * demuxed.sizes.get(stream.index, 0) / length) if length else 0
    if context is None:
        return AudioFacts("unknown", None, None, None, counted or None, length)
    codec = codecs.audio_codec(context.codec.canonical_name)
    return AudioFacts(
        codec=codec,
        profile=context.profile,
        sample_rate=context.sample_rate or None,
        channels=context.channels or None,
        bit_rate=(counted if codec == "AAC" else 0) or context.bit_rate or counted or None,
        duration=length,
    )
