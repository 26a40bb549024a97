"""The tune is quiet, as long as the picture, and loops without a click."""

from __future__ import annotations

import io
import wave

import numpy as np
import pytest

from mediacheck.demo.tune import PEAK, SAMPLE_RATE_HZ, tune_wav


@pytest.mark.parametrize("seconds", [1, 5])
def test_the_tune_is_as_long_as_ordered_quiet_and_silent_at_both_ends(seconds: int) -> None:
    with wave.open(io.BytesIO(tune_wav(seconds, 220.0))) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, 2, SAMPLE_RATE_HZ)
        assert file.getnframes() == seconds * SAMPLE_RATE_HZ
        sound = np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2) / 32768
    assert np.abs(sound).max() == pytest.approx(PEAK, rel=0.01)
    assert np.abs(sound[[0, -1]]).max() == 0
    assert np.abs(np.diff(sound, axis=0)).max() < 0.05
    assert np.sqrt((sound**2).mean(axis=0)).min() > 0.01


def test_the_root_makes_the_pitch() -> None:
    """The strongest tone of the first note is the root."""
    for root_hz in (174.6, 220.0):
        with wave.open(io.BytesIO(tune_wav(1, root_hz))) as file:
            first = np.frombuffer(file.readframes(SAMPLE_RATE_HZ // 4), "<i2")[::2]
        spectrum = np.abs(np.fft.rfft(first, SAMPLE_RATE_HZ))
        assert int(spectrum.argmax()) == pytest.approx(root_hz, abs=3)
