"""Loudness and true peak of made signals, through the one decode of a video file.

Sources: EBU Tech 3341 (version 4, November 2023), table 1, cases 1 to 6 (integrated loudness) and 15 to 19
(true peak), with the tolerances given there; ITU-R BS.1770 by way of pyloudnorm, which nobody here made.
"""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
from numpy.typing import NDArray

from mediacheck.measure.decode import measure
from mediacheck.measure.model import Sound
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from tests.media.footage import real_footage

RATE_HZ = 48_000
LIMIT_S = 60.0
Samples = NDArray[np.float32]
Measure = Callable[[Samples], Sound]


def sound_of(ffmpeg: str, place: Path) -> Sound:
    facts = read_facts(place, place.name)
    assert isinstance(facts, MediaFacts), facts
    sound = measure(Path(ffmpeg), place, facts, 0, LIMIT_S).measurements.sound
    assert sound is not None
    return sound


@pytest.fixture
def heard(ffmpeg: str, tmp_path: Path) -> Measure:
    """Puts samples (count, channels) beside a tiny still picture, without loss, and measures the video."""

    def measured(samples: Samples) -> Sound:
        channels, place = samples.shape[1], tmp_path / "signal.mkv"
        layout = {2: "stereo", 5: "5.0"}[channels]
        seconds = len(samples) / RATE_HZ
        picture = ["-f", "lavfi", "-i", f"color=gray:size=32x32:rate=1:duration={seconds}"]
        raw = ["-f", "f32le", "-ar", str(RATE_HZ), "-ac", str(channels), "-i", "pipe:0"]
        coded = [
            "-c:v",
            "ffv1",
            "-c:a",
            "pcm_f32le",
            "-af",
            f"aformat=channel_layouts={layout}",
        ]
        command = [ffmpeg, "-v", "error", "-y", *raw, *picture, *coded, str(place)]
        subprocess.run(command, input=samples.astype("<f4").tobytes(), check=True, timeout=LIMIT_S)
        return sound_of(ffmpeg, place)

    return measured


def sine(level_dbfs: float, seconds: float) -> NDArray[np.float64]:
    """1000 Hz, its peak at this level."""
    at = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return np.asarray(10 ** (level_dbfs / 20) * np.sin(2 * np.pi * 1000 * at), np.float64)


def stereo(parts: Sequence[tuple[float, float]]) -> Samples:
    """Parts (dBFS, seconds) one after the other, in phase on both channels."""
    channel = np.concatenate([sine(level, seconds) for level, seconds in parts])
    return np.column_stack((channel, channel)).astype(np.float32)


CASES: dict[int, tuple[float, list[tuple[float, float]]]] = {
    1: (-23.0, [(-23, 20)]),
    2: (-33.0, [(-33, 20)]),
    3: (-23.0, [(-36, 10), (-23, 60), (-36, 10)]),
    4: (-23.0, [(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)]),
    5: (-23.0, [(-26, 20), (-20, 20.1), (-26, 20)]),
}


@pytest.mark.parametrize("case", CASES)
def test_integrated_loudness_of_tech_3341(heard: Measure, case: int) -> None:
    wanted, parts = CASES[case]
    sound = heard(stereo(parts))
    assert sound.loudness_lufs == pytest.approx(wanted, abs=0.1 + 1e-9)
    assert sound.seconds == pytest.approx(sum(seconds for _, seconds in parts), abs=0.001)


def test_integrated_loudness_of_five_channels_tech_3341_case_6(heard: Measure) -> None:
    """L and R at -28 dBFS, C at -24, Ls and Rs at -30: the surround channels count for more."""
    channels = [sine(level, 20) for level in (-28, -28, -24, -30, -30)]
    sound = heard(np.column_stack(channels).astype(np.float32))
    assert len(sound.channel_peaks_dbfs) == 5
    assert sound.loudness_lufs == pytest.approx(-23.0, abs=0.1 + 1e-9)


PEAKS = {
    15: (4, 0.50, 0.0, -6.0),
    16: (4, 0.50, 45.0, -6.0),
    17: (6, 0.50, 60.0, -6.0),
    18: (8, 0.50, 67.5, -6.0),
    19: (4, 1.41, 45.0, 3.0),
}
"""Samples in a period, amplitude, phase in degrees, true peak in dBTP."""


@pytest.mark.parametrize("case", PEAKS)
def test_true_peak_of_tech_3341(heard: Measure, case: int) -> None:
    """The samples miss the crests of the wave; the true peak does not. Fades of 10 ms at both ends."""
    period, amplitude, phase_degrees, wanted = PEAKS[case]
    number = np.arange(RATE_HZ)
    signal = amplitude * np.sin(2 * np.pi * number / period + np.radians(phase_degrees))
    fade = np.minimum(1.0, np.minimum(number, number[::-1]) / (0.010 * RATE_HZ))
    sound = heard(np.column_stack((signal * fade, signal * fade)).astype(np.float32))
    assert sound.true_peak_dbtp is not None
    assert wanted - 0.4 - 1e-9 <= sound.true_peak_dbtp <= wanted + 0.2 + 1e-9
    assert sound.channel_peaks_dbfs[0] == pytest.approx(
        20 * np.log10(np.abs(signal[1000:-1000]).max()), abs=0.01
    )


FRONT_AND_SURROUND = [0, 1, 2, 4, 5]
"""Of 5.1: all but the bass channel, which does not count (ITU-R BS.1770-5, annex 1)."""


def test_another_meter_finds_the_same_loudness_in_real_footage(ffmpeg: str) -> None:
    (clip,) = (place for place in real_footage() if place.name == "bigbuckbunny.mp4")
    command = [ffmpeg, "-v", "error", "-i", str(clip), "-vn", "-ar", str(RATE_HZ), "-f", "f32le", "pipe:1"]
    raw = subprocess.run(command, check=True, capture_output=True, timeout=LIMIT_S).stdout
    samples = np.frombuffer(raw, "<f4").reshape(-1, 6)[:, FRONT_AND_SURROUND]
    theirs = pyloudnorm.Meter(RATE_HZ).integrated_loudness(samples)
    assert sound_of(ffmpeg, clip).loudness_lufs == pytest.approx(theirs, abs=0.2)


@pytest.mark.parametrize("seed", [1, 2])
def test_another_meter_finds_the_same_loudness_in_noise_that_swells(heard: Measure, seed: int) -> None:
    """Noise with as much energy in every octave, the two channels apart, under the gate now and then."""
    chance = np.random.default_rng(seed)
    count = 15 * RATE_HZ
    spectrum = np.fft.rfft(chance.standard_normal((count, 2)), axis=0)
    spectrum /= np.sqrt(np.maximum(1, np.arange(len(spectrum))))[:, None]
    noise = np.fft.irfft(spectrum, count, axis=0)
    swell = 10 ** (-1.5 + np.sin(2 * np.pi * np.arange(count) / RATE_HZ / 5))
    samples = (noise / np.abs(noise).max() * swell[:, None]).astype(np.float32)
    theirs = pyloudnorm.Meter(RATE_HZ).integrated_loudness(samples)
    assert heard(samples).loudness_lufs == pytest.approx(theirs, abs=0.2)
