"""The first reader: what libavformat (through PyAV) and our own walkers say of a moving picture.

It must not compare with the second reader or judge; it opens files for reading only.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from mediacheck.media import boxes, codecs, colour, ebml, h264, h265, levels, packets, riff
from mediacheck.media.facts import AudioFacts, ContainerFacts, IndexPlace, MediaFacts, VideoFacts
from mediacheck.media.sniff import HEAD_BYTES
from mediacheck.names import Chroma, Scan

if TYPE_CHECKING:
    from av.audio.stream import AudioStream
    from av.container import InputContainer
    from av.video.stream import VideoStream

FORMATS = (
    "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,asf,mp3,wav,flac,ogg,aac,ac3,h264,hevc,m4v,"
    "mpegvideo,flv,dv,ivf,rm,mxf,av1,obu,vc1,w64,aiff"
)
"""Formats that hold media by themselves: playlists and scripts, which open other files, are left out."""
OPTIONS = {"format_whitelist": FORMATS, "protocol_whitelist": "file"}
CHROMA: dict[tuple[int, int], Chroma] = {
    (1, 1): "4:2:0",
    (1, 0): "4:2:2",
    (0, 0): "4:4:4",
    (2, 0): "4:1:1",
    (0, 1): "4:4:0",
}
INTERLACED_ORDERS = (2, 3, 4, 5)
"""AVFieldOrder: top or bottom field first, coded or shown (libavcodec/defs.h)."""


@dataclass(frozen=True, slots=True)
class Layout:
    """What the container itself says, and what it lists of the first picture stream."""

    facts: ContainerFacts
    table: boxes.SampleTable | None = None
    rotation: int | None = None


def layout_of(file: BinaryIO, size: int, name: str) -> Layout:
    """Walk the container called `name` ("MP4", "AVI", ...) in a file of `size` bytes."""
    if name in ("MP4", "MOV"):
        return _movie_layout(boxes.read_movie(file, size))
    if name == "AVI":
        avi = riff.read_avi(file, size)
        return Layout(ContainerFacts(name, "first" if avi.has_index else "missing", avi.truncated))
    if name in ("MKV", "WebM"):
        file.seek(0)
        matroska = ebml.read_matroska(file.read(HEAD_BYTES), size)
        kind = "WebM" if matroska.doc_type == "webm" else "MKV"
        return Layout(ContainerFacts(kind, truncated=matroska.truncated))
    return Layout(ContainerFacts(name))


def _movie_layout(movie: boxes.Movie) -> Layout:
    index: IndexPlace | None = None
    if not movie.has_index:
        index = "missing"
    elif movie.index_first is not None:
        index = "first" if movie.index_first else "last"
    picture = next((track for track in movie.tracks if track.handler == b"vide"), None)
    return Layout(
        ContainerFacts(
            "MOV" if movie.brand in (None, b"qt  ") else "MP4",
            index,
            movie.truncated,
            movie.fragmented,
            movie.encrypted,
        ),
        None if movie.fragmented else picture,
        picture.rotation if picture else 0,
    )


def container_name(container: InputContainer, promised: str | None) -> str:
    """The container by libavformat's word; MP4 and MOV, MKV and WebM are told apart by our walkers."""
    name = container.format.name
    if name.startswith("mov,"):
        return "MP4"
    if name.startswith("matroska"):
        return promised if promised in ("MKV", "WebM") else "MKV"
    return codecs.CONTAINERS.get(name, name.upper())


def open_container(location: Path) -> InputContainer:
    """Open a file with libavformat. Raises av.error.FFmpegError where it makes no sense of it.

    A name that is not valid Unicode is handed over as an open file, since the library takes text.
    """
    import av

    name: str | BinaryIO = f"file:{location}"
    try:
        str(location).encode("utf-8")
    except UnicodeEncodeError:
        name = location.open("rb")
    return av.open(name, mode="r", options=OPTIONS)


def read(location: Path, promised: str | None) -> MediaFacts:
    """Facts of a video or sound file. Raises av.error.FFmpegError or OSError."""
    size = location.stat().st_size
    with open_container(location) as container, location.open("rb") as file:
        layout = layout_of(file, size, container_name(container, promised))
        pictures = [stream for stream in container.streams.video if not _is_cover(stream)]
        stream = pictures[0] if pictures else None
        demuxed = _packets(container, layout, stream)
        sound = tuple(_audio(track, demuxed) for track in container.streams.audio)
        video = _video(stream, demuxed.picture, _rotation(layout, stream, location)) if stream else None
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
    if listed:
        return packets.Demuxed(listed, {}, {})
    return packets.demux(container, stream.index if stream else None)


def _others(container: InputContainer) -> tuple[str, ...]:
    return tuple(stream.type for stream in container.streams if stream.type not in ("video", "audio"))


def _is_cover(stream: VideoStream) -> bool:
    import av.stream

    return bool(stream.disposition & av.stream.Disposition.attached_pic)


def _rotation(layout: Layout, stream: VideoStream | None, location: Path) -> int:
    """Degrees clockwise: from the track's matrix in MP4 and MOV, else from the first picture's side data."""
    if layout.rotation is not None:
        return layout.rotation
    if stream is None or layout.facts.name not in ("MKV", "WebM"):
        return 0
    return _rotation_of_first_picture(location)


def _rotation_of_first_picture(location: Path) -> int:
    import av.error

    with open_container(location) as container:
        try:
            frame = next(container.decode(video=0), None)
        except av.error.FFmpegError:
            return 0
    return -frame.rotation % 360 if frame is not None else 0


def _video(stream: VideoStream, listed: packets.Packets | None, rotation: int) -> VideoFacts:
    context = stream.codec_context
    codec = codecs.video_codec(context.codec.canonical_name)
    counted = packets.packet_facts(listed) if listed else None
    mode = packets.frame_rate_mode(listed) if listed else None
    duration = counted.duration_s if counted else _stream_seconds(stream)
    bit_rate = round(8 * counted.total_bytes / counted.duration_s) if counted and counted.duration_s else None
    rate = stream.average_rate if mode == "variable" else stream.guessed_rate or stream.average_rate
    sequence = _sequence(codec, context.extradata)
    video = VideoFacts(
        codec=codec,
        profile=codecs.codec_profile(codec, context.profile),
        level=_level(codec, context.level, sequence),
        width=context.width,
        height=context.height,
        pixel_aspect=stream.sample_aspect_ratio or Fraction(1),
        rotation=rotation,
        frame_rate=Fraction(rate) if rate else None,
        frame_rate_mode=mode,
        bit_depth=context.format.components[0].bits if context.format else None,
        chroma=_chroma(stream),
        scan=_scan(context.field_order, sequence),
        bit_rate=bit_rate or context.bit_rate,
        duration=duration,
        colour_primaries=colour.PRIMARIES.get(int(context.color_primaries)),
        colour_transfer=colour.TRANSFERS.get(int(context.color_trc)),
        reference_frames=_reference_frames(sequence),
        packets=counted,
    )
    need = _need(video, isinstance(sequence, h265.H265Sequence) and sequence.high_tier)
    return replace(video, level_needed=need.level, level_reason=need.reason) if need else video


Sequence = h264.H264Sequence | h265.H265Sequence | None


def _sequence(codec: str, extradata: bytes | None) -> Sequence:
    if codec == "H.264":
        return h264.sequence_of(extradata)
    return h265.sequence_of(extradata) if codec == "H.265" else None


def _reference_frames(sequence: Sequence) -> int | None:
    if isinstance(sequence, h264.H264Sequence):
        return sequence.reference_frames
    return sequence.dpb_frames if sequence else None


def _level(codec: str, number: int | None, sequence: Sequence) -> str | None:
    return sequence.level if sequence else codecs.header_level(codec, number)


def _scan(order: int, sequence: Sequence) -> Scan | None:
    """libavformat's field order; a stream that may code fields is interlaced unless it says otherwise."""
    if order in INTERLACED_ORDERS:
        return "interlaced"
    if order == 1:
        return "progressive"
    return "progressive" if isinstance(sequence, h264.H264Sequence) and sequence.frames_only else None


def _chroma(stream: VideoStream) -> Chroma | None:
    pixel = stream.codec_context.format
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
    """The bit rate is the stream's own where the file gives one, else what the packets came to."""
    context = stream.codec_context
    length = demuxed.lengths.get(stream.index) or _stream_seconds(stream)
    counted = round(8 * demuxed.sizes.get(stream.index, 0) / length) if length else 0
    return AudioFacts(
        codec=codecs.audio_codec(context.codec.canonical_name),
        profile=context.profile,
        sample_rate=context.sample_rate or None,
        channels=context.channels or None,
        bit_rate=context.bit_rate or counted or None,
        duration=length,
    )
