"""A quiet tune for the demo's clips, made from sine waves.

It must not be loud: the profiles ask for peaks below -1 dBTP, and this stays far under that.
"""

from __future__ import annotations

import io
import wave

import numpy as np
from numpy.typing import NDArray

SAMPLE_RATE_HZ = 48_000
BEAT_S = 0.25
PEAK = 0.16
"""Of full scale: about -16 dBFS."""
MELODY = (0, 7, 12, 16, 19, 16, 12, 7, 9, 16, 12, 7, 5, 12, 9, 7)
"""Semitones above the root, one a beat; all from one five-tone scale, so that any two sound well together."""


def tune_wav(seconds: float, root_hz: float) -> bytes:
    """A stereo WAV file of this length: plucked notes, faded at both ends so that no click is heard."""
    count = round(seconds * SAMPLE_RATE_HZ)
    sound = np.zeros((count, 2))
    for beat in range(int(seconds / BEAT_S)):
        start = round(beat * BEAT_S * SAMPLE_RATE_HZ)
        note = _note(root_hz * 2 ** (MELODY[beat % len(MELODY)] / 12))[: count - start]
        right = 0.5 + 0.3 * np.sin(beat)
        sound[start : start + len(note)] += note[:, None] * (1 - right, right)
    fade = np.minimum(1, np.minimum(np.arange(count), np.arange(count)[::-1]) / (0.05 * SAMPLE_RATE_HZ))
    return _wav(PEAK * sound / np.abs(sound).max() * fade[:, None])


def _note(hz: float) -> NDArray[np.float64]:
    """One plucked note of 1.2 s with its octave."""
    t = np.arange(round(1.2 * SAMPLE_RATE_HZ)) / SAMPLE_RATE_HZ
    tone = np.sin(2 * np.pi * hz * t) + 0.3 * np.sin(4 * np.pi * hz * t)
    return np.asarray(tone * np.minimum(1, t / 0.01) * np.exp(-4 * t))


def _wav(sound: NDArray[np.float64]) -> bytes:
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(2)
        out.setsampwidth(2)
        out.setframerate(SAMPLE_RATE_HZ)
        out.writeframes((sound * 32767).astype("<i2").tobytes())
    return file.getvalue()
