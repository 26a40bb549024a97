"""One decode of a file: every picture looked at, every sound heard, by one ffmpeg process.

It must not hold opinions. The graph yields small pictures through a pipe; a gauge is either a filter of
that graph or a watcher of the small pictures, so that a new question never costs a second decode.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from mediacheck import programs
from mediacheck.measure.model import DecodeError, Measurements
from mediacheck.media.facts import MediaFacts

SMALL_WIDTH_PX = 64
SMALL_HEIGHT_PX = 36
SMALL_BYTES = SMALL_WIDTH_PX * SMALL_HEIGHT_PX * 3
KEPT_ERRORS = 100
OWN_SIDE = re.compile(r"^\[(out#|vost#|aost#|vf#|af#|fc#|null|rawvideo|swscaler|auto_|Parsed_|graph)")
"""Complaints from the writing side of the process: they are about our outputs, not about the file."""
LEVEL = re.compile(r"\[(?P<level>warning|error|fatal|panic)\] ")
DAMAGE_WARNINGS = re.compile(r"corrupt|truncat|incomplete frame|invalid data", re.IGNORECASE)


@dataclass(slots=True)
class Listener:
    """Watches the decoder's messages while pictures are counted; `frames` is how far the pictures are."""

    frame_rate: float | None
    frames: int = 0
    count: int = 0
    kept: tuple[DecodeError, ...] = ()

    def hear(self, line: str) -> None:
        """Take one line of the log; the place in the clip is where the picture count stood."""
        if not is_complaint(line):
            return
        self.count += 1
        if len(self.kept) < KEPT_ERRORS:
            second = self.frames / self.frame_rate if self.frame_rate else None
            self.kept = (*self.kept, DecodeError(_plain(line), second))


def is_complaint(line: str) -> bool:
    """Whether a line of ffmpeg's log (with level words) tells of damage in the file."""
    level = LEVEL.search(line)
    if level is None or OWN_SIDE.match(line):
        return False
    return level["level"] != "warning" or bool(DAMAGE_WARNINGS.search(line))


def _plain(line: str) -> str:
    """The message without the program's own address tags."""
    return LEVEL.sub("", re.sub(r"\[[^\]]*@ 0x[0-9a-f]+\] ?", "", line)).strip()


def command(ffmpeg: Path, location: Path, facts: MediaFacts) -> tuple[str, ...]:
    """The ffmpeg command: small pictures to standard output, sound to nowhere, complaints to the log."""
    import ffmpeg as graph

    options = {"ignore_editlist": 1} if facts.container and facts.container.name in ("MP4", "MOV") else {}
    source = graph.input(f"file:{location}", protocol_whitelist="file,pipe", **options)
    small = source["V:0"].filter("scale", SMALL_WIDTH_PX, SMALL_HEIGHT_PX, flags="fast_bilinear")
    outputs = [graph.output(small, "pipe:1", format="rawvideo", pix_fmt="rgb24", fps_mode="passthrough")]
    if facts.audio:
        outputs.append(graph.output(source["a:0"], "-", format="null"))
    joined = graph.merge_outputs(*outputs) if len(outputs) > 1 else outputs[0]
    start = ("-hide_banner", "-nostdin", "-nostats", "-loglevel", "repeat+level+warning")
    return (str(ffmpeg), *start, *graph.get_args(joined))


def measure(ffmpeg: Path, location: Path, facts: MediaFacts, time_limit_s: float) -> Measurements:
    """Decode a video from its first picture to its last.

    Raises ProgramError if ffmpeg cannot run, or takes longer than `time_limit_s`.
    """
    rate = facts.video.frame_rate if facts.video else None
    listener = Listener(float(rate) if rate else None)
    call = command(ffmpeg, location, facts)
    with programs.start(call, time_limit_s=time_limit_s, on_line=listener.hear) as running:
        for _ in _small_pictures(running.stdout):
            listener.frames += 1
        exit_code = running.wait()
    if exit_code and not listener.count:
        listener.hear(f"[error] the decoder ended with code {exit_code}")
    seconds = listener.frames / listener.frame_rate if listener.frame_rate else 0.0
    return Measurements(listener.frames, seconds, listener.kept, listener.count)


def _small_pictures(pipe: BinaryIO) -> Iterator[bytes]:
    while len(picture := pipe.read(SMALL_BYTES)) == SMALL_BYTES:
        yield picture
