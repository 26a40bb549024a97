"""What comes out of the one ffmpeg process, piece by piece, each with its time.

It must not measure. The process writes NUT, a container that carries raw pictures and sound with exact
time stamps through one pipe; PyAV unwraps it.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, BinaryIO, Literal

import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.calm import CalmReader
from mediacheck.measure.graph import Plan

if TYPE_CHECKING:
    from av.container import InputContainer

PieceKind = Literal["small", "columns", "rows", "thumbnail", "sound"]
BUFFER_BYTES = 1 << 16
"""What is read at a time: little enough to stay in a core's own cache beside what the gauges need."""
HEADERS_SAY_ALL = {"probesize": "32", "analyzeduration": "0"}
"""Otherwise seconds of pictures are read first, to guess what each stream is."""
HELD_MAX = 10_000
"""Blocks of sound that wait for the first picture: minutes of it. Beyond, there will hardly be a picture."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One picture (height, width[, 3], uint8) or block of sound (samples, channels, float32), read-only."""

    kind: PieceKind
    second: float
    """From the first picture of the clip; sound may begin before it."""
    data: NDArray[Any]
    sample_rate: int = 0
    """Hz; of sound only."""


@dataclass(frozen=True, slots=True)
class _Stream:
    """What all packets of one stream have in common."""

    kind: PieceKind
    shape: tuple[int, ...]
    dtype: np.dtype[Any]
    unit_bytes: int
    """Of one picture, or of one sample of all channels."""
    tick: tuple[int, int]
    """The unit of its time stamps, in seconds: numerator and denominator."""
    rate: int = 0
    """Hz; of sound only."""


_BYTE, _FLOAT = np.dtype(np.uint8), np.dtype(np.float32)
_Stamped = tuple[_Stream, int, NDArray[Any]]
"""A packet: its stream, its time by the container's clock in the stream's ticks, what it holds."""


def kinds_of(plan: Plan) -> tuple[PieceKind, ...]:
    """Which stream of the output is which, in their order."""
    kinds: list[PieceKind] = ["small", "columns", "rows"]
    kinds += ["thumbnail"] if plan.thumbnails else []
    kinds += ["sound"] if plan.has_sound else []
    return tuple(kinds)


def pieces(pipe: BinaryIO | CalmReader, plan: Plan) -> Iterator[Piece]:
    """All pieces in the order in which they come, timed from the first picture.

    Ends early, without an error, where the process did. Without any picture there is nothing to time by, and
    no piece.
    """
    import av

    try:
        with av.open(
            pipe, mode="r", format="nut", buffer_size=BUFFER_BYTES, container_options=HEADERS_SAY_ALL
        ) as container:
            yield from _from_first_picture(_unwrapped(container, kinds_of(plan)))
    except (av.error.FFmpegError, EOFError):
        return


def _from_first_picture(stamped: Iterator[_Stamped]) -> Iterator[Piece]:
    """Sound that comes first waits for the picture, so that its time is counted from there."""
    held = deque[_Stamped](maxlen=HELD_MAX)
    for one in stamped:
        held.append(one)
        if one[0].kind == "small":
            break
    else:
        return
    first = one
    while held:
        yield _timed(held.popleft(), first)
    for one in stamped:
        yield _timed(one, first)


def _timed(one: _Stamped, first: _Stamped) -> Piece:
    """Whole numbers up to the end: so a second is the nearest to the true one, wherever the clock began."""
    stream, ticks, data = one
    (unit, a_second), (first_unit, first_a_second) = stream.tick, first[0].tick
    behind = ticks * unit * first_a_second - first[1] * first_unit * a_second
    return Piece(stream.kind, behind / (a_second * first_a_second), data, stream.rate)


def _unwrapped(container: InputContainer, kinds: tuple[PieceKind, ...]) -> Iterator[_Stamped]:
    streams = [_stream(one, kind) for one, kind in zip(container.streams, kinds, strict=False)]
    for packet in container.demux():
        size, ticks = packet.size, packet.pts
        if not size or ticks is None:
            continue
        stream = streams[packet.stream_index]
        if size % stream.unit_bytes or (stream.kind != "sound" and size != stream.unit_bytes):
            return  # the process was cut short in the middle of it
        data = np.frombuffer(memoryview(packet), stream.dtype).reshape(stream.shape)
        data.flags.writeable = False
        yield stream, ticks, data


def _stream(stream: Any, kind: PieceKind) -> _Stream:
    tick, context = (stream.time_base.numerator, stream.time_base.denominator), stream.codec_context
    if kind == "sound":
        sample_bytes = 4 * context.channels
        return _Stream(kind, (-1, context.channels), _FLOAT, sample_bytes, tick, int(context.sample_rate))
    pixel = () if context.pix_fmt == "gray" else (3,)
    shape = context.height, context.width, *pixel
    return _Stream(kind, shape, _BYTE, math.prod(shape), tick)
