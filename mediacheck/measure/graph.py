"""The one ffmpeg process of a full check: which pictures and sounds it hands over, as a command.

It must not run anything. The graph is written with ffmpeg-python.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from mediacheck.media.facts import MediaFacts, VideoFacts

SMALL_SIDE_PX = 160
STRIP_COLUMNS = 32
STRIP_ROWS = 18
STRIP_EVERY = 7
"""Strips are taken once in so many pictures, columns of two neighbours: film pulled down from 24 to 30
repeats every 5, and a step of 5 would see the same phase each time."""
LINES_A_CELL_MIN = 6
"""Lines of the picture that are averaged into one of the small picture, at least."""
PAIRS_OF_LINES = "4*trunc(ih/4)"
"""Two fields of equal height, in colour of half the lines too. Up to three lines at the foot stay out."""
THUMBNAIL_SIDE_PX = 360
START = ("-hide_banner", "-nostdin", "-nostats", "-loglevel", "repeat+level+verbose")
"""At this level the graph says how large the pictures are that enter it, each time that this changes."""
ONE_THREAD = ("-filter_complex_threads", "1")
"""The decoder has the cores: filters that share out small pictures cost more than they save (a tenth)."""
DECODERS_A_CORE, DECODERS_MAX = 3, 16
"""ffmpeg's own choice is one thread more than cores; then they stand still while the filters have a core, and
a check of 1080p takes a tenth longer (measured on 2 cores; four a core are no faster). Sixteen are the most
that it takes. Each holds a picture."""
A_PICTURE_A_THREAD = ("H.264", "H.265", "MPEG-4", "ProRes")
HEADERS_TELL_ALL = ("H.264", "H.265")
"""In an MP4 or MOV with one index: how many pictures have to wait for others stands there or in the headers.
ffmpeg need not decode the first picture to find out, which takes a hundredth of a check of 1080p."""
HD_WIDTH_PX = 1280
LOUDNESS = "ebur128=peak=true"
"""A graph of its own: one with both would keep all pictures in memory, whole, until the sound begins."""
PATIENCE = {"max_error_rate": 1, "max_muxing_queue_size": 10_000}
"""Otherwise ffmpeg hands over nothing where most of a stream is damaged, or where the sound begins late: then
small pictures wait for it, at 30 a second for five minutes at most."""
AS_IT_COMES = {"threads": 1, "flush_packets": 0, "write_index": 0}
"""Nothing is encoded, and to hand each small picture to a thread for that costs more than the picture (a
hundredth of a check). What fits into a write goes together. An index is of no use in a pipe, and the muxer
complains of it."""
MARK = "mediacheck.seen"
PROTOCOLS = "file,pipe,subfile"
TIME_BASE = "1/90000"
"""Pictures of a variable rate keep their times: on its own, ffmpeg rounds them to the usual rate."""


@dataclass(frozen=True, slots=True)
class Alongside:
    """What else the one process does with the pictures, so that nobody has to decode them again."""

    address: str
    """Of a second file."""
    graph: str
    """Takes pictures of the clip as [0:V:0] and those of the second file as [1:V:0], and gives [beside]; what
    comes of it is written by one of its filters."""


@dataclass(frozen=True, slots=True)
class Plan:
    """A command, and which stream of its output is which."""

    command: tuple[str, ...]
    small_px: tuple[int, int]
    has_sound: bool
    thumbnails: int
    ahead_s: float = 0.0
    """How far the picture that the decoder begins is ahead of the one that it hands over."""


def plan(
    ffmpeg: Path, address: str, facts: MediaFacts, thumbnails: int, beside: Alongside | None = None
) -> Plan:
    """How to decode one video: every picture once, small, with strips, thumbnails and sound beside it.

    `address` is where ffmpeg finds it (`measure.address`).

    Streams of the output, in order: small pictures, columns, rows, thumbnails if any, sound if any.
    """
    import ffmpeg as graph

    video = facts.video
    if video is None:
        raise ValueError("only a file with a picture can be decoded")
    options = _input_options(facts)
    if beside:  # who compares pictures wants all of them
        del options["skip_loop_filter"]
    source = graph.input(address, **options)
    parts = source["V:0"].filter_multi_output("split", 4 if thumbnails else 3)
    small_px = fitted(video.width, video.height, SMALL_SIDE_PX)
    streams = [
        _small_rgb(parts.stream(0), video, small_px),
        _strip(parts.stream(1).filter("select", f"lt(mod(n,{STRIP_EVERY}),2)"), STRIP_COLUMNS, "ih"),
        _strip(_telling(parts.stream(2).filter("select", f"not(mod(n,{STRIP_EVERY}))")), "iw", STRIP_ROWS),
    ]
    if thumbnails:
        streams.append(_thumbnails(parts.stream(3), video, thumbnails))
    encoded = {"c:v": "rawvideo", "fps_mode": "passthrough", "enc_time_base:v": TIME_BASE, **PATIENCE}
    if facts.audio:
        streams.append(source["a:0"])
        encoded |= {"c:a": "pcm_f32le", "filter:a": LOUDNESS}
    output = graph.output(*streams, "pipe:1", format="nut", **encoded, **AS_IT_COMES)
    arguments = tuple(graph.get_args(output))
    if beside:
        arguments = _with(beside, arguments)
    command = (str(ffmpeg), *START, *ONE_THREAD, *arguments)
    return Plan(command, small_px, bool(facts.audio), thumbnails, _ahead_s(facts))


def _with(beside: Alongside, arguments: tuple[str, ...]) -> tuple[str, ...]:
    """A second input, and a second output that goes nowhere but keeps the graph running."""
    behind_input = arguments.index("-i") + 2
    second = ("-protocol_whitelist", PROTOCOLS, "-i", beside.address)
    out = ("-filter_complex", beside.graph, "-map", "[beside]", "-fps_mode", "passthrough")
    nowhere = ("-enc_time_base:v", TIME_BASE, "-f", "null", "-")
    return (*arguments[:behind_input], *second, *arguments[behind_input:], *out, *nowhere)


def _decoders(facts: MediaFacts) -> int:
    """How many threads decode the picture.

    Each is one picture ahead. Where a clip begins with frames that nobody can decode, what is complained of
    before the first picture is put down to these: damage to one of the next sixteen must not be among it.
    """
    if facts.video and facts.video.packets and facts.video.packets.leading:
        return 1
    return min(DECODERS_A_CORE * (os.cpu_count() or 1), DECODERS_MAX)


def _ahead_s(facts: MediaFacts) -> float:
    """Each thread has a picture of its own under way; with other codecs they share one, or are not used."""
    video, threads = facts.video, _decoders(facts)
    if video is None or not video.frame_rate or video.codec not in A_PICTURE_A_THREAD or threads == 1:
        return 0.0
    return float(threads / video.frame_rate)


def _input_options(facts: MediaFacts) -> dict[str, Any]:
    """The picture as it is stored: edit lists hide pictures and rotation flags turn them.

    Pictures that no other is made from go without the loop filter of H.264 and H.265: it smooths the edges of
    blocks, costs a tenth of the decode, and does not show in averages over a hundred pixels. What is told
    from the strips came out the same with it (measured).
    """
    options: dict[str, Any] = {"protocol_whitelist": PROTOCOLS, "noautorotate": None}
    options["skip_loop_filter"] = "noref"
    options["threads"] = _decoders(facts)
    if facts.container and facts.container.name in ("MP4", "MOV"):
        options["ignore_editlist"] = 1
        if facts.video and facts.video.codec in HEADERS_TELL_ALL and not facts.container.fragmented:
            options["nofind_stream_info"] = None
    return options


def fitted(width: int, height: int, long_side_px: int) -> tuple[int, int]:
    """Even sides with the picture's shape, the longer one `long_side_px`; square where the shape is unknown.

    The headers of a stream that was cut off may give no size.
    """
    if width < 1 or height < 1:
        return long_side_px, long_side_px
    scale = Fraction(long_side_px, max(width, height))
    across, down = (max(2, round(side * scale / 2) * 2) for side in (width, height))
    return across, down


def _small_rgb(stream: Any, video: VideoFacts, size: tuple[int, int]) -> Any:
    """Made small first and turned into RGB then: the other way round costs twice as much.

    Where the file does not say, HD sizes are BT.709 and others BT.601 (common practice, no source).
    """
    matrix = {} if video.colour_primaries else {"in_color_matrix": _usual_matrix(video)}
    kept = {} if video.colour_primaries else {**matrix, "out_color_matrix": _usual_matrix(video)}
    small = _fewer_lines(stream, video.height // size[1]).filter("scale", *size, flags="area", **kept)
    small = small.filter("format", "yuv420p")
    return small.filter("scale", *size, **matrix).filter("format", "rgb24")


def _fewer_lines(stream: Any, lines_a_cell: int) -> Any:
    """Every other line while enough remain in a cell, and of what remains the mean of each two lines.

    The scaler sums up along a line first, which is most of its work; a mean of whole lines costs a third.
    """
    from ffmpeg import filter as joined

    if lines_a_cell < LINES_A_CELL_MIN:
        return stream
    while lines_a_cell >= 2 * LINES_A_CELL_MIN:
        stream, lines_a_cell = stream.filter("field", type="top"), lines_a_cell // 2
    parts = stream.filter("crop", "iw", PAIRS_OF_LINES, 0, 0).filter_multi_output("split", 2)
    pair = (parts.stream(place).filter("field", type=line) for place, line in enumerate(("top", "bottom")))
    return joined(tuple(pair), "blend", all_mode="average", repeatlast=0)


def _usual_matrix(video: VideoFacts) -> str:
    return "bt709" if max(video.width, video.height) >= HD_WIDTH_PX else "bt601"


def _telling(stream: Any) -> Any:
    """The log says how far the decoder has come, since the pipe may lie 10 s behind.

    Not by the filter that shows all of a picture: it logs one line in several calls, and a complaint of the
    decoder's threads that falls between two of them comes out without the decoder's name and its level.
    """
    return stream.filter("metadata", mode="add", key=MARK, value=1).filter("metadata", mode="print", key=MARK)


def _strip(stream: Any, across: int | str, down: int | str) -> Any:
    return stream.filter("scale", across, down, flags="neighbor").filter("format", "gray")


def _thumbnails(stream: Any, video: VideoFacts, count: int) -> Any:
    """The first picture at or after the middle of each of `count` equal shares of the length.

    Of a clip whose last picture begins before the first middle, the first ones: a stream without any picture
    ends a new ffmpeg with an error.
    """
    length_s, picture_s = float(video.duration or 0), float(1 / video.frame_rate) if video.frame_rate else 0.0
    wanted = f"lt(selected_n,{count})"
    if length_s / (2 * count) <= length_s - picture_s:
        wanted += f"*gte(t-start_t,(2*selected_n+1)*{length_s:.6f}/{2 * count})"
    size = fitted(video.width, video.height, THUMBNAIL_SIDE_PX)
    return _small_rgb(stream.filter("select", wanted), video, size)
