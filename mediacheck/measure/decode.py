"""One decode of a file: every picture looked at, every sound heard, by one ffmpeg process.

It must not hold opinions. The process hands over small pictures and sound as they are decoded; each gauge
watches them go by, so that a new question never costs a second decode.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from mediacheck import programs
from mediacheck.card.within import Within
from mediacheck.errors import ProgramError
from mediacheck.measure.address import address_of
from mediacheck.measure.calm import CalmReader
from mediacheck.measure.graph import Alongside, Plan, plan
from mediacheck.measure.log import Listener
from mediacheck.measure.model import DecodeError, Measurements, Picture, Sound
from mediacheck.media.facts import MediaFacts, VideoFacts

if TYPE_CHECKING:
    from mediacheck.measure.pieces import Piece
    from mediacheck.measure.watch import Watch

OnSeconds = Callable[[float], None]
"""Told how many seconds of the clip are decoded."""
TELL_EVERY_S = 0.2
"""As often as an eye follows a number that runs."""
NICER_BY = 12
"""A fifteenth of the share that others have: beside one busy program on each core, looking keeps up."""


@dataclass(frozen=True, slots=True)
class Measured:
    """The numbers, and the pictures that were asked for besides."""

    measurements: Measurements
    pictures: tuple[Picture, ...]


def measure(
    ffmpeg: Path,
    location: Path | Within,
    facts: MediaFacts,
    pictures: int,
    time_limit_s: float,
    on_seconds: OnSeconds = lambda _: None,
    beside: Alongside | None = None,
) -> Measured:
    """Decode a video from its first picture to its last, and bring back `pictures` frames of it.

    `on_seconds` is told now and then how many seconds are decoded, and once at the end; `beside` is done by
    the same process.
    Raises ProgramError if ffmpeg cannot run, or takes longer than `time_limit_s`; OSError if a file that is
    in pieces on its medium cannot be copied from it.
    """
    ends_s = time.monotonic() + time_limit_s
    with address_of(location) as address:
        run = _run(plan(ffmpeg, address, facts, pictures, beside), time_limit_s, on_seconds)
        if facts.audio and run.may_be_stopped_by_sound:
            mute = plan(ffmpeg, address, replace(facts, audio=()), pictures, beside)
            heard = run.listener.sound
            run = _run(mute, ends_s - time.monotonic(), on_seconds)
            run.listener.sound = heard
    measurements = _measurements(run, facts)
    on_seconds(measurements.seconds)
    return Measured(measurements, tuple(run.watch.pictures[:pictures]))


@dataclass(frozen=True, slots=True)
class _Run:
    """What came of one ffmpeg process."""

    watch: Watch
    listener: Listener
    exit_code: int

    @property
    def may_be_stopped_by_sound(self) -> bool:
        """Whether it ended badly, and not over the picture: sound that makes no sense must not hide that."""
        return bool(self.exit_code) and not (self.watch.frames and self.listener.picture.count)


def _run(work: Plan, time_limit_s: float, on_seconds: OnSeconds) -> _Run:
    listener = Listener(work.ahead_s)
    with (
        ThreadPoolExecutor(1, "mediacheck-looking", _step_back) as beside,
        programs.start(work.command, time_limit_s=time_limit_s, on_line=listener.hear) as running,
    ):
        # Loaded while ffmpeg opens the file: both take about as long.
        from mediacheck.measure.pieces import pieces
        from mediacheck.measure.watch import Watch

        watch, reader = Watch(), CalmReader(running.stdout)
        looking = beside.submit(_look, reader, pieces(reader, work), watch)
        try:
            while wait((looking,), TELL_EVERY_S).not_done:
                on_seconds(watch.last_s)
        finally:
            reader.leave()
        looking.result()
        exit_code = running.wait()
    return _Run(watch, listener, exit_code)


def _look(reader: CalmReader, pieces: Iterable[Piece], watch: Watch) -> None:
    with reader:
        for piece in pieces:
            watch.take(piece)


def _step_back() -> None:
    """Linux: this thread works while the decoder leaves it a core, which it does often enough.

    Its threads wait for each other all the time, and the system moves none of them at once to a core that has
    become free. There looking goes on; with an equal share it would be through by then, and the core stand
    still (4 % of all time). A thread cannot become less nice again: so this is one of its own.
    """
    if sys.platform == "linux":
        with suppress(OSError):
            os.nice(NICER_BY)


def _measurements(run: _Run, facts: MediaFacts) -> Measurements:
    """Only what was seen is measured: with no picture decoded, every gauge stays without an answer."""
    from mediacheck.measure.rate import greatest_second_bits

    watch, listener = run.watch, run.listener
    if run.exit_code and not listener.picture.count:
        if not watch.frames:  # nothing was said of the picture: the fault is the program's
            raise ProgramError(f"ffmpeg ended with code {run.exit_code} before its first picture")
        listener.picture.add(f"the decoder ended with code {run.exit_code}", listener.second)
    counted = Measurements(
        watch.frames,
        0.0,
        decode_errors=_within(listener.picture.kept, watch.last_s),
        decode_error_count=listener.picture.count,
        sound_errors=_within(listener.sound.kept, watch.last_s),
        sound_error_count=listener.sound.count,
    )
    if not watch.frames or facts.video is None:
        return counted
    end_s = watch.last_s + _picture_s(facts.video, watch)
    black = watch.black.result(end_s)
    width, height = _size_px(watch, listener, facts.video)
    return replace(
        counted,
        seconds=end_s,
        width=width,
        height=height,
        black=black,
        frozen=watch.frozen.result(end_s),
        bars=watch.bars.result(),
        leader=watch.leader.result(end_s),
        flash=watch.flash.result(end_s),
        combed=watch.comb.result(),
        seam=watch.seam.result(end_s, black),
        sound=_sound(watch, listener),
        bit_rate_peak=greatest_second_bits(facts.video.packets) if facts.video.packets else None,
        fingerprint=watch.fingerprint.result().hex(),
        gaps=watch.gaps.result(),
    )


def _within(complaints: Sequence[DecodeError], last_s: float) -> tuple[DecodeError, ...]:
    """Near the end the decoder has no picture in each of its threads any more."""
    return tuple(
        one if one.second is None else replace(one, second=min(one.second, last_s)) for one in complaints
    )


def _size_px(watch: Watch, listener: Listener, video: VideoFacts) -> tuple[int | None, int | None]:
    """Width and height as `Measurements` has them."""
    others = (size_px for size_px in listener.sizes_px if size_px != (video.width, video.height))
    return next(others, watch.size_px)


def _picture_s(video: VideoFacts, watch: Watch) -> float:
    """How long the last picture stays: as long as one usually does."""
    if video.frame_rate:
        return float(1 / video.frame_rate)
    return watch.last_s / (watch.frames - 1) if watch.frames > 1 else 0.0


def _sound(watch: Watch, listener: Listener) -> Sound | None:
    if watch.sound is None:
        return None
    from mediacheck.measure.sound import parse_ebur128_summary

    return watch.sound.result(*parse_ebur128_summary(tuple(listener.last_lines)))
