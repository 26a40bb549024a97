"""What the decode hands to the gauges, taken from a clip in process: small pictures, columns, rows.

It must not measure anything.
"""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import av
import numpy as np
from av.video.reformatter import Interpolation
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
SMALL_SIDE = 160
COLUMNS, ROWS = 32, 18
FULL_RANGE = np.clip(np.round((np.arange(256) - 16) * 255 / 219), 0, 255).astype(np.uint8)
"""Luma of limited range (ITU-R BT.709, table 4) as ffmpeg's format "gray" has it."""


@dataclass(frozen=True, slots=True)
class Frame:
    """One decoded frame: its second, and its luma in full range, black 0 and white 255 (height, width)."""

    second: float
    luma: Bytes
    source: av.VideoFrame

    @property
    def columns(self) -> Bytes:
        """(height, 32), by nearest neighbour."""
        return np.ascontiguousarray(self.luma[:, _spread(self.luma.shape[1], COLUMNS)])

    @property
    def rows(self) -> Bytes:
        """(18, width), by nearest neighbour."""
        return np.ascontiguousarray(self.luma[_spread(self.luma.shape[0], ROWS)])

    @property
    def small(self) -> Bytes:
        """RGB (height, width, 3), averaged over areas; the longer side is 160."""
        matrix = "ITU709" if max(self.luma.shape) >= 1280 else "ITU601"
        height, width = (
            max(2, round(s * SMALL_SIDE / max(self.luma.shape) / 2) * 2) for s in self.luma.shape
        )
        small = self.source.reformat(
            width, height, format="rgb24", src_colorspace=matrix, interpolation=Interpolation.AREA
        )
        return np.ascontiguousarray(small.to_ndarray())


def _spread(size: int, count: int) -> NDArray[np.int64]:
    return ((np.arange(count) + 0.5) * size / count).astype(np.int64)


def frames(clip: Path) -> Iterator[Frame]:
    """All frames of a clip, in the order in which they are shown."""
    with av.open(str(clip)) as container:
        container.streams.video[0].thread_type = "AUTO"
        for frame in container.decode(video=0):
            plane = frame.planes[0]
            luma = np.frombuffer(bytes(plane), np.uint8).reshape(plane.height, plane.line_size)[
                :, : plane.width
            ]
            yield Frame(frame.time or 0.0, FULL_RANGE[luma], frame)


@lru_cache(maxsize=8)
def smalls(clip: Path) -> tuple[tuple[float, Bytes], ...]:
    """Second and small picture of every frame."""
    return tuple((frame.second, frame.small) for frame in frames(clip))


def make(path: Path, source: str, *options: str, rate: int = 25) -> Path:
    """A clip from a lavfi source, in H.264 unless `options` say otherwise."""
    encode = ["-r", str(rate), "-pix_fmt", "yuv420p", "-preset", "ultrafast", "-threads", "1", *options]
    command = ["ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", source, *encode, str(path)]
    subprocess.run(command, check=True, timeout=60)
    return path


def told_by(clip: Path, picture_filter: str) -> str:
    """What one of ffmpeg's own detecting filters logs about a clip."""
    command = ["ffmpeg", "-hide_banner", "-nostdin", "-nostats", "-i", str(clip), "-vf", picture_filter]
    command += ["-an", "-f", "null", "-"]
    return subprocess.run(command, check=True, timeout=60, capture_output=True, text=True).stderr
