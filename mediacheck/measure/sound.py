"""What the sound shows besides its loudness: peaks, silence at the ends, the step at the seam, line-up tone.

It must not judge, and does not measure loudness: ffmpeg's ebur128 filter does, and its words are read here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.meeting import sound_step
from mediacheck.measure.model import Sound, SoundEdge
from mediacheck.measure.tone import ToneWatch

SILENCE = 0.001
"""-60 dBFS: what stays below counts as silence (common practice, no source)."""
SEAM_S = 0.05
TOGETHER_S = 1.0
AT_ONCE = 256
"""Samples in which sound that goes on is heard."""
GATE_LUFS = -70.0
"""Absolute gate of ITU-R BS.1770-5, annex 1: the filter gives this figure where nothing was louder."""
LINE = re.compile(
    r"^\s*(?P<name>I|Threshold|Peak):\s+(?P<value>-?(?:\d+(?:\.\d+)?|inf|nan)) (?:LUFS|dBFS)\s*$"
)

Samples = NDArray[np.float32]


class SoundGauge:
    """Hears blocks of samples in order. Full scale is 1.0."""

    def __init__(self, sample_rate: int, channels: int) -> None:
        """`sample_rate` in Hz."""
        self._rate = sample_rate
        self._start_s: float | None = None
        self._waiting: list[Samples] = []
        self._waiting_samples = 0
        self._heard = 0
        self._peaks = np.zeros(channels, np.float32)
        self._loud: tuple[int, int] | None = None
        """First and last sample that is no silence, counted from the first one heard."""
        self._near_samples = max(2, round(SEAM_S * sample_rate))
        self._head = np.empty((0, channels), np.float32)
        self._tail = np.empty((0, channels), np.float32)
        self._tone = ToneWatch(sample_rate, channels)

    def see(self, start_s: float, block: Samples) -> None:
        """Take the next block, (samples, channels) float32, whose first sample is heard at `start_s`.

        Blocks may have any length; they are kept and put together, since arithmetic on short ones is slow.
        """
        if self._start_s is None:
            self._start_s = start_s
        self._waiting.append(block)
        self._waiting_samples += len(block)
        if self._waiting_samples >= TOGETHER_S * self._rate:
            self._hear()

    def _hear(self) -> None:
        """Look at what was put together so far."""
        if not self._waiting_samples:
            return
        block = _finite(np.concatenate(self._waiting))
        self._waiting, self._waiting_samples = [], 0
        by_channel = np.ascontiguousarray(block.T)
        level = np.maximum(by_channel.max(axis=1), -by_channel.min(axis=1))
        self._peaks = np.maximum(self._peaks, level)
        if level.max() >= SILENCE:
            first, last = _ends_of_loud(by_channel[level >= SILENCE])
            self._loud = (self._loud[0] if self._loud else self._heard + first, self._heard + last)
        self._keep_ends(block)
        self._tone.see((self._start_s or 0.0) + self._heard / self._rate, by_channel)
        self._heard += len(block)

    def _keep_ends(self, block: Samples) -> None:
        if len(self._head) < self._near_samples:
            self._head = np.concatenate((self._head, block[: self._near_samples - len(self._head)]))
        near = block[-self._near_samples :]
        kept = self._tail[max(0, len(self._tail) + len(near) - self._near_samples) :]
        self._tail = np.concatenate((kept, near))

    def result(self, loudness_lufs: float | None = None, true_peak_dbtp: float | None = None) -> Sound:
        """All numbers, with the two that the ebur128 filter measured.

        Silence at the head is counted from the clip's first picture, so a sound that begins late has some;
        silence throughout is given at both ends.
        """
        self._hear()
        head, tail = self._silence_s()
        start, end = _edge(self._head, 0), _edge(self._tail, -1)
        return Sound(
            seconds=self._heard / self._rate,
            loudness_lufs=loudness_lufs,
            true_peak_dbtp=true_peak_dbtp,
            channel_peaks_dbfs=tuple(_decibels(float(peak)) for peak in self._peaks),
            silent_start_s=head,
            silent_end_s=tail,
            seam_step=sound_step(end, start) if start and end else None,
            tone=self._tone.result(),
            start=start,
            end=end,
        )

    def _silence_s(self) -> tuple[float, float]:
        late_s = max(0.0, self._start_s or 0.0)
        if self._loud is None:
            return late_s + self._heard / self._rate, self._heard / self._rate
        first, last = self._loud
        return late_s + first / self._rate, (self._heard - 1 - last) / self._rate


def _finite(block: Samples) -> Samples:
    """Files of floating-point samples may hold what is no number: silence, or full scale."""
    if math.isfinite(float(block.sum())):
        return block
    return np.nan_to_num(block, nan=0.0, posinf=1.0, neginf=-1.0)


def _ends_of_loud(by_channel: Samples) -> tuple[int, int]:
    """First and last place of what is no silence. Every channel has some."""
    firsts = (_first_loud(channel) for channel in by_channel)
    lasts = (len(channel) - 1 - _first_loud(channel[::-1]) for channel in by_channel)
    return min(firsts), max(lasts)


def _first_loud(channel: Samples) -> int:
    """The first place of what is no silence; mostly it is one of the very first."""
    near = np.abs(channel[:AT_ONCE]) >= SILENCE
    return int((near if near.any() else np.abs(channel) >= SILENCE).argmax())


def _decibels(level: float) -> float | None:
    return 20 * math.log10(level) if level > 0 else None


def _edge(near: Samples, place: int) -> SoundEdge | None:
    """One end of the sound, whose last or first sample stands at `place` of those near it."""
    if len(near) < 2:
        return None
    steps = np.abs(np.diff(near, axis=0)).max(axis=0)
    return SoundEdge(tuple(map(float, near[place])), tuple(map(float, steps)))


def parse_ebur128_summary(lines: Sequence[str]) -> tuple[float | None, float | None]:
    """Integrated loudness in LUFS and true peak in dBTP, from the summary that the ebur128 filter logs.

    Reads the log of ffmpeg 5.1 to 9 with `ebur128=peak=true`. None where nothing was above the gate, where
    all samples were zero, or where there is no summary. If the sound changes its form on the way, the filter
    starts anew and gives a summary for each part: the loudest counts.
    """
    loudness, peaks = list[float](), list[float]()
    before = math.nan
    for match in filter(None, map(LINE.match, lines)):
        name, value = match["name"], float(match["value"])
        if name == "Peak":
            peaks.append(value)
        elif name == "Threshold" and value < 0 and before > GATE_LUFS:
            loudness.append(before)
        # A threshold of 0.0 says that no block was measured, whatever the line above it claims.
        before = value if name == "I" else math.nan
    finite = [peak for peak in peaks if math.isfinite(peak)]
    return max(loudness, default=None), max(finite, default=None)
