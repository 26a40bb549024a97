"""Line-up tone: a single steady sine, as test material carries beside its colour bars.

It must not take music for it: a tone that has overtones, swells, dies away or bends is none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.model import Span

BLOCK_S = 0.125
TONE_MIN_BLOCKS = 7
"""So many whole blocks a tone of 1 s has, wherever it begins."""
NEAR_AN_END_S = 15.0
LOWEST_HZ, HIGHEST_HZ = 380.0, 1050.0
"""Line-up tone is 1 kHz (EBU R 68, SMPTE RP 155: from memory), or 997, 900, 440, 400 Hz (common practice)."""
PURE_SHARE_MIN = 0.98
"""Share of the energy in the tone itself: overtones and noise 17 dB below it are allowed."""
NEAR_BINS = 2
"""A Hann window spreads a sine over two bins to each side."""
STEADY_HZ, STEADY_DB = 3.0, 1.0
"""Range over the whole stretch."""
LEVEL_MIN_DBFS = -50.0
"""Peak of the sine: nobody would line up anything with less."""
EDGE_SHARE_MIN = 0.1
"""Share of a tone in the block in which it begins or ends."""
# All limits without a source above: common practice and own measurements.

Samples = NDArray[np.float32]


class _Line(NamedTuple):
    """The strongest line of a spectrum."""

    bin: float
    """Its place among the bins, between them if need be."""
    level_db: float
    share: float
    """Of the energy, 0 to 1."""


@dataclass(frozen=True, slots=True)
class _Block:
    """One eighth of a second and the strongest line of its spectrum."""

    start_s: float
    hz: float
    level_db: float
    share: float
    """Of the energy of the block in that line, 0 to 1."""

    @property
    def is_tone(self) -> bool:
        loud_enough = self.level_db >= LEVEL_MIN_DBFS
        return loud_enough and self.share >= PURE_SHARE_MIN and LOWEST_HZ <= self.hz <= HIGHEST_HZ

    def carries(self, other: _Block) -> bool:
        """Whether the other block's tone begins or ends inside this one."""
        return self.share >= EDGE_SHARE_MIN and abs(self.hz - other.hz) <= 1 / BLOCK_S


@dataclass(frozen=True, slots=True)
class _Run:
    """Blocks in a row of one tone: the ranges that they keep to."""

    start_s: float
    last: _Block
    blocks: int
    hz: tuple[float, float]
    level_db: tuple[float, float]

    def with_next(self, block: _Block) -> _Run | None:
        """The longer run; None where the tone is another one or wavers."""
        hz = min(self.hz[0], block.hz), max(self.hz[1], block.hz)
        level = min(self.level_db[0], block.level_db), max(self.level_db[1], block.level_db)
        if not block.is_tone or hz[1] - hz[0] > STEADY_HZ or level[1] - level[0] > STEADY_DB:
            return None
        return _Run(self.start_s, block, self.blocks + 1, hz, level)


class ToneWatch:
    """Cuts the sound into eighths of a second and looks at the louder channel of each."""

    def __init__(self, sample_rate: int, channels: int) -> None:
        """`sample_rate` in Hz."""
        self._rate = sample_rate
        self._window = np.hanning(max(16, round(BLOCK_S * sample_rate))).astype(np.float32)
        self._rest: Samples = np.empty((channels, 0), np.float32)
        self._before: _Block | None = None
        self._run: _Run | None = None
        self._found: list[Span] = []
        self._end_s = 0.0

    def see(self, start_s: float, by_channel: Samples) -> None:
        """Take the next samples, (channels, samples) float32, heard from `start_s` on."""
        begins_s = start_s - self._rest.shape[1] / self._rate
        samples = np.concatenate((self._rest, by_channel), axis=1)
        size = len(self._window)
        count = samples.shape[1] // size
        blocks = samples[:, : count * size].reshape(len(samples), count, size)
        for place, line in enumerate(_strongest_lines(blocks, self._window)):
            at_s = begins_s + place * size / self._rate
            self._take(_Block(at_s, line.bin * self._rate / size, line.level_db, line.share))
        self._rest = samples[:, count * size :].copy()
        self._end_s = start_s + by_channel.shape[1] / self._rate

    def result(self) -> tuple[Span, ...]:
        """Tones of a second or more that stand in the first or last 15 s, known to 1/8 s."""
        if self._run is not None:
            self._keep(self._run, self._end_s)
            self._run = None
        last_s = self._end_s - NEAR_AN_END_S
        return tuple(s for s in self._found if s.start_s < NEAR_AN_END_S or s.end_s > last_s)

    def _take(self, block: _Block) -> None:
        before, self._before, run = self._before, block, self._run
        self._run = run.with_next(block) if run is not None else None
        if run is not None and self._run is None:
            self._keep(run, block.start_s + (BLOCK_S if block.carries(run.last) else 0.0))
        if self._run is None and block.is_tone:
            start_s = before.start_s if before is not None and before.carries(block) else block.start_s
            levels = block.level_db, block.level_db
            self._run = _Run(start_s, block, 1, (block.hz, block.hz), levels)

    def _keep(self, run: _Run, end_s: float) -> None:
        if run.blocks >= TONE_MIN_BLOCKS:
            self._found.append(Span(max(0.0, run.start_s), end_s))


def _strongest_lines(blocks: Samples, window: Samples) -> Iterator[_Line]:
    """The strongest line of each block's loudest channel, from (channels, blocks, samples).

    All blocks go through the transform together: arithmetic on short rows is slow.
    """
    if not blocks.size:
        return
    loudest = np.einsum("cbs,cbs->cb", blocks, blocks).argmax(axis=0)
    power = _spectra(blocks[loudest, np.arange(len(loudest))] * window)
    for row, top, whole in zip(power, power.argmax(axis=1).tolist(), power.sum(axis=1).tolist(), strict=True):
        low = max(0, top - NEAR_BINS)
        near = row[low : top + NEAR_BINS + 1].tolist()
        energy = sum(near)
        if energy <= 0:
            yield _Line(0.0, -math.inf, 0.0)
            continue
        middle = sum(place * one for place, one in enumerate(near, low)) / energy
        # Parseval: the energy of the line gives its level.
        amplitude = 2 * math.sqrt(energy / (len(window) * float(window @ window)))
        yield _Line(middle, 20 * math.log10(amplitude), energy / whole)


def _spectra(rows: Samples) -> Samples:
    """The power spectra of rows of samples; zero in the lowest bins, where a constant shows."""
    parts = np.square(cv2.dft(rows, flags=cv2.DFT_ROWS))
    # A row holds the real part of bin 0, then real and imaginary parts in turn; an even one ends with a real.
    power: Samples = np.zeros((len(rows), rows.shape[1] // 2 + 1), np.float32)
    power[:, NEAR_BINS:] = parts[:, 2 * NEAR_BINS - 1 :: 2]
    power[:, NEAR_BINS : (rows.shape[1] + 1) // 2] += parts[:, 2 * NEAR_BINS :: 2]
    return power
