"""What comes out of the one ffmpeg process, piece by piece, each with its time.

It must not measure. The process writes NUT, a container that carries raw pictures and sound with exact
time stamps through one pipe; PyAV unwraps it.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, BinaryIO, Literal

import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.graph import Plan

if TYPE_CHECKING:
    from av.container import InputContainer

PieceKind = Literal["small", "columns", "rows", "thumbnail", "sound"]
BUFFER_BYTES = 1 << 20
HELD_MAX = 10_000
"""Blocks of sound that wait for the first picture: minutes of it. Beyond, there will hardly be a picture."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One picture (height, width[, 3], uint8) or one block of sound (samples, channels, float32)."""

    kind: PieceKind
    second: float
    """From the first picture of the clip; sound may begin before it."""
    data: NDArray[Any]
    sample_rate: int = 0
    """Hz; of sound only."""


def kinds_of(plan: Plan) -> tuple[PieceKind, ...]:
    """Which stream of the output is which, in their order."""
    kinds: list[PieceKind] = ["small", "columns", "rows"]
    kinds += ["thumbnail"] if plan.thumbnails else []
    kinds += ["sound"] if plan.has_sound else []
    return tuple(kinds)


def pieces(pipe: BinaryIO, plan: Plan) -> Iterator[Piece]:
    """All pieces in the order in which they come, timed from the first picture.

    Ends early, without an error, where the process did. Without any picture there is nothing to time by, and
    no piece.
    """
    import av

    try:
        with av.open(pipe, mode="r", format="nut", buffer_size=BUFFER_BYTES) as container:
            yield from _from_first_picture(_unwrapped(container, kinds_of(plan)))
    except (av.error.FFmpegError, EOFError):
        return


def _from_first_picture(stamped: Iterator[Piece]) -> Iterator[Piece]:
    """Sound that comes first waits for the picture, so that its time is counted from there."""
    held = deque[Piece](maxlen=HELD_MAX)
    first_s: float | None = None
    for piece in stamped:
        if first_s is None:
            held.append(piece)
            if piece.kind == "small":
                first_s = piece.second
                yield from (replace(kept, second=kept.second - first_s) for kept in held)
                held.clear()
        else:
            yield replace(piece, second=piece.second - first_s)


def _unwrapped(container: InputContainer, kinds: tuple[PieceKind, ...]) -> Iterator[Piece]:
    shapes = [_shape(stream) for stream in container.streams]
    rates = [_rate(stream) for stream in container.streams]
    for packet in container.demux():
        if not packet.size or packet.pts is None:
            continue
        number = packet.stream_index
        kind, shape = kinds[number], shapes[number]
        unit_bytes = 4 * shape[1] if kind == "sound" else math.prod(shape)
        if packet.size % unit_bytes or (kind != "sound" and packet.size != unit_bytes):
            return  # the process was cut short in the middle of it
        data = np.frombuffer(memoryview(packet), np.float32 if kind == "sound" else np.uint8)
        yield Piece(kind, float(packet.pts * packet.time_base), data.reshape(shape), rates[number])


def _rate(stream: Any) -> int:
    return int(stream.codec_context.sample_rate) if stream.type == "audio" else 0


def _shape(stream: Any) -> tuple[int, ...]:
    if stream.type == "audio":
        return -1, stream.codec_context.channels
    width, height = stream.codec_context.width, stream.codec_context.height
    return (height, width) if stream.codec_context.pix_fmt == "gray" else (height, width, 3)
