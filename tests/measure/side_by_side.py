"""One clip, two observers: a detecting filter of ffmpeg's own, and the small pictures that our gauges get.

It must not compare them.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.model import Span
from tests.media.footage import real_footage

WIDTH, HEIGHT = 160, 90
LIMIT_S = 60
Pictures = NDArray[np.uint8]
"""(count, height, width, 3), RGB."""


class Gauge(Protocol):
    """What looks for stretches."""

    def see(self, second: float, picture: NDArray[np.uint8]) -> None: ...

    def result(self, end_s: float) -> tuple[Span, ...]: ...


@dataclass(frozen=True, slots=True)
class Clip:
    """A moving picture of 10 frames/s from a lavfi source; with `encode`, it goes through an encoder."""

    name: str
    source: str
    encode: str = ""
    rate: Fraction = Fraction(10)

    def inputs(self, ffmpeg: str, folder: Path) -> list[str]:
        """ffmpeg's arguments that open the clip; it is made in `folder` if it needs a file."""
        if Path(self.source).is_file():
            return ["-i", self.source]
        lavfi = ["-f", "lavfi", "-i", f"{self.source},format=yuv420p"]
        if not self.encode:
            return lavfi
        place = str(folder / f"{self.name.replace(' ', '-')}.mkv")
        run([ffmpeg, "-v", "error", "-y", *lavfi, "-threads", "1", *self.encode.split(), place])
        return ["-i", place]


FOOTAGE = tuple(
    Clip(path.stem, str(path), rate=Fraction(30000, 1001) if "carphone" in path.stem else Fraction(25))
    for path in real_footage()
)


def run(command: list[str]) -> subprocess.CompletedProcess[bytes]:
    """Run ffmpeg; its complaint in the failure where it cannot."""
    done = subprocess.run(command, capture_output=True, timeout=LIMIT_S, check=False)
    assert done.returncode == 0, done.stderr.decode(errors="replace")[-2000:]
    return done


def watched(ffmpeg: str, clip: Clip, folder: Path, detector: str) -> tuple[Pictures, str]:
    """The small pictures of a clip, and what the detecting filter logged, both from one decode."""
    graph = f"[0:v]split[a][b];[a]{detector}[seen];[b]scale={WIDTH}:{HEIGHT}:flags=area,format=rgb24[small]"
    outputs = ["-map", "[seen]", "-f", "null", "-", "-map", "[small]", "-f", "rawvideo", "pipe:1"]
    start = [ffmpeg, "-hide_banner", "-nostdin", "-nostats", "-threads", "1"]
    done = run([*start, *clip.inputs(ffmpeg, folder), "-filter_complex", graph, *outputs])
    pictures = np.frombuffer(done.stdout, np.uint8).reshape(-1, HEIGHT, WIDTH, 3)
    assert len(pictures) >= 10, f"{clip.name} has only {len(pictures)} frames"
    return pictures, done.stderr.decode(errors="replace")


def seen_by(gauge: Gauge, pictures: Iterable[NDArray[np.uint8]], rate: Fraction) -> tuple[Span, ...]:
    """What a gauge makes of pictures at a constant rate."""
    count = 0
    for picture in pictures:
        gauge.see(float(count / rate), picture)
        count += 1
    return gauge.result(float(count / rate))


def spans_in(log: str, start: str, end: str, end_s: float) -> tuple[Span, ...]:
    """Stretches in a log, by the words before their numbers; one that never ends goes to the clip's end."""
    starts, ends = (re.findall(rf"{word}: ?([0-9.]+)", log) for word in (start, end))
    assert len(starts) - len(ends) in (0, 1), log
    return tuple(Span(float(a), float(b)) for a, b in zip(starts, [*ends, end_s], strict=False))


def alike(ours: tuple[Span, ...], theirs: tuple[Span, ...], frame_s: Fraction) -> bool:
    """Whether the same stretches were seen, to within one frame at either end."""
    near = float(frame_s) * 1.01
    return len(ours) == len(theirs) and all(
        abs(a.start_s - b.start_s) <= near and abs(a.end_s - b.end_s) <= near
        for a, b in zip(ours, theirs, strict=True)
    )


def _part(top: float, bottom: float, left: float, right: float) -> Callable[[Pictures], Pictures]:
    def cut(pictures: Pictures) -> Pictures:
        height, width = pictures.shape[1:3]
        rows = slice(round(height * top), round(height * bottom))
        return pictures[:, rows, round(width * left) : round(width * right)]

    return cut


CUTS: dict[str, Callable[[Pictures], Pictures]] = {
    "whole": lambda pictures: pictures,
    "left half": _part(0, 1, 0, 0.5),
    "right third": _part(0, 1, 0.67, 1),
    "top half": _part(0, 0.5, 0, 1),
    "lower strip": _part(0.7, 1, 0, 1),
    "middle": _part(0.25, 0.75, 0.25, 0.75),
    "small corner": _part(0.6, 0.9, 0.6, 0.9),
    "mirrored": lambda pictures: pictures[:, :, ::-1],
    "turned": lambda pictures: pictures.transpose(0, 2, 1, 3),
    "every other picture": lambda pictures: pictures[::2],
}
"""Ten ways to cut real footage; each result is scaled to small pictures again."""


def cut_footage(ffmpeg: str, clip: Clip) -> Iterator[tuple[str, Pictures]]:
    """Real footage, cut and scaled in ten ways, each with its name. One decode, at twice the small size."""
    size = (2 * WIDTH, 2 * HEIGHT)
    scale = f"scale={size[0]}:{size[1]}:flags=area,format=rgb24"
    done = run([ffmpeg, "-v", "error", "-i", clip.source, "-vf", scale, "-f", "rawvideo", "pipe:1"])
    pictures = np.frombuffer(done.stdout, np.uint8).reshape(-1, size[1], size[0], 3)
    for name, cut in CUTS.items():
        parts = cut(pictures)
        assert parts.size, name
        yield name, np.stack([_scaled(part) for part in parts])


def _scaled(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    whole = np.ascontiguousarray(picture)
    return cv2.resize(whole, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA).astype(np.uint8, copy=False)
