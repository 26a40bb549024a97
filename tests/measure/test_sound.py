"""Peaks, silence and seam of sounds of known make; the summary of ebur128 as ffmpeg 5.1 and 9 print it."""

from __future__ import annotations

import math
import subprocess

import imageio_ffmpeg
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from mediacheck.measure.meeting import sound_step
from mediacheck.measure.model import Sound, Span
from mediacheck.measure.sound import SoundGauge, parse_ebur128_summary

RATE = 48_000
Samples = NDArray[np.float64]


def heard(samples: Samples, *, rate: int = RATE, block: int = 1024, start_s: float = 0.0) -> Sound:
    """`samples` is (samples, channels)."""
    gauge = SoundGauge(rate, samples.shape[1])
    for place in range(0, len(samples), block):
        gauge.see(start_s + place / rate, samples[place : place + block].astype(np.float32))
    return gauge.result()


def sine(hz: float, seconds: float, peak: float) -> Samples:
    return peak * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)[:, None]


def zeros(seconds: float) -> Samples:
    return np.zeros((round(seconds * RATE), 1))


def decibels(level: float) -> float:
    return 20 * math.log10(level)


def peaks(found: Sound) -> list[float]:
    """Where a channel of zeros has minus infinity."""
    return [-math.inf if peak is None else peak for peak in found.channel_peaks_dbfs]


def test_every_number_of_a_known_sound() -> None:
    loud = np.hstack((sine(1000, 2, 0.5), sine(250, 2, 0.25)))
    silence = np.zeros((RATE // 2, 2))
    found = heard(np.vstack((silence, loud, silence, silence)))
    assert (found.seconds, found.seam_step, found.tone) == (3.5, 0.0, (Span(0.5, 2.5),))
    assert (found.loudness_lufs, found.true_peak_dbtp) == (None, None)
    assert peaks(found) == pytest.approx([decibels(0.5), decibels(0.25)], abs=1e-4)
    assert [found.silent_start_s, found.silent_end_s] == pytest.approx([0.5, 1.0], abs=0.001)


def test_loudness_is_handed_through() -> None:
    found = SoundGauge(RATE, 1).result(-23.0, -1.5)
    assert (found.loudness_lufs, found.true_peak_dbtp) == (-23.0, -1.5)


def test_a_dead_channel_is_told_from_one_with_dither() -> None:
    dither = np.random.default_rng(0).integers(-1, 2, (RATE, 1)) / 32768
    found = heard(np.hstack((sine(440, 1, 0.1), zeros(1), dither)))
    assert peaks(found) == pytest.approx([-20, -math.inf, -90.3], abs=0.01)
    assert found.channel_peaks_dbfs[1] is None


def test_silence_throughout_stands_at_both_ends() -> None:
    found = heard(zeros(2))
    assert (found.silent_start_s, found.silent_end_s, found.channel_peaks_dbfs) == (2.0, 2.0, (None,))


def test_the_limit_of_silence_is_minus_60_dbfs() -> None:
    under = heard(np.vstack((sine(1000, 1, 0.00099), sine(1000, 1, 0.5))))
    over = heard(np.vstack((sine(1000, 1, 0.00101), sine(1000, 1, 0.5))))
    assert under.silent_start_s == pytest.approx(1.0, abs=0.001)
    assert over.silent_start_s == pytest.approx(0.0, abs=0.001)


def test_a_sound_that_begins_after_the_picture_is_silent_until_then() -> None:
    assert heard(sine(1000, 1, 0.5), start_s=0.75).silent_start_s == pytest.approx(0.75, abs=0.001)
    assert heard(sine(1000, 1, 0.5), start_s=-0.02).silent_start_s == pytest.approx(0.0, abs=0.001)


def test_no_sound_at_all() -> None:
    assert SoundGauge(RATE, 2).result() == Sound(0.0, None, None, (None, None), 0.0, 0.0, None)


@pytest.mark.parametrize(
    ("samples", "step"),
    [
        pytest.param(sine(1000, 1, 0.5), 1.0, id="whole waves follow themselves"),
        pytest.param(sine(1000, 1.00025, 0.5), 7.65, id="cut off at the crest"),
        pytest.param(np.linspace(-0.5, 0.5, RATE)[:, None], 1000.0, id="a step over what -60 dBFS hides"),
        pytest.param(zeros(1), 0.0, id="zeros"),
        pytest.param(sine(1000, 1.00025, 0.0005), 0.5, id="a step that nobody hears"),
    ],
)
def test_seam_step_is_the_jump_over_the_greatest_jump_nearby(samples: Samples, step: float) -> None:
    assert heard(samples).seam_step == pytest.approx(step, rel=0.01)


def test_seam_looks_50_ms_far_and_takes_the_worst_channel() -> None:
    far, near = zeros(1), zeros(1)
    far[: RATE // 10], near[: RATE // 100] = 0.5, 0.5
    assert heard(far).seam_step == pytest.approx(500)
    assert heard(near).seam_step == pytest.approx(1)
    assert heard(np.hstack((near, far))).seam_step == pytest.approx(500)


def test_both_edges_are_kept_with_the_greatest_step_near_them() -> None:
    ramp = np.linspace(-0.5, 0.5, RATE)
    steps = np.full(RATE, 1 / (RATE - 1))
    both = np.column_stack((ramp, ramp**3))
    found = heard(both)
    assert found.start is not None
    assert found.end is not None
    assert found.start.level == pytest.approx((-0.5, -0.125))
    assert found.end.level == pytest.approx((0.5, 0.125))
    assert found.end.greatest_step == pytest.approx((steps[0], 0.75 * steps[0]), rel=0.01)
    assert found.start.greatest_step == pytest.approx(found.end.greatest_step, rel=0.01)
    assert found.seam_step == sound_step(found.end, found.start)


@pytest.mark.parametrize("count", [0, 1])
def test_less_than_two_samples_have_no_edge(count: int) -> None:
    found = heard(np.full((count, 1), 0.5))
    assert (found.start, found.end, found.seam_step) == (None, None, None)


def test_numbers_that_are_none_count_as_silence_or_full_scale() -> None:
    samples = sine(1000, 1, 0.5)
    samples[100:110] = math.nan
    assert peaks(heard(samples)) == pytest.approx([decibels(0.5)], abs=1e-4)
    samples[200] = math.inf
    assert heard(samples).channel_peaks_dbfs == (0.0,)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 3), st.integers(1, 9000))
def test_how_the_sound_is_cut_into_blocks_changes_nothing(seed: int, channels: int, block: int) -> None:
    rng = np.random.default_rng(seed)
    samples = rng.normal(0, 0.2, (12_000, channels))
    samples[: rng.integers(0, 4000)] = 0
    samples[12_000 - rng.integers(1, 4000) :] = 0
    whole, cut = heard(samples, block=12_000), heard(samples, block=max(block, 20))
    assert cut == whole
    expected = [decibels(float(peak)) for peak in np.abs(samples).max(axis=0)]
    assert peaks(whole) == pytest.approx(expected, abs=1e-4)


def ebur128(program: str, source: str) -> tuple[float | None, float | None]:
    """Through the log, as the decode reads it."""
    command = [program, "-hide_banner", "-nostdin", "-nostats", "-loglevel", "repeat+level+info"]
    command += ["-f", "lavfi", "-i", source, "-af", "ebur128=peak=true:framelog=verbose", "-f", "null", "-"]
    done = subprocess.run(command, check=True, capture_output=True, text=True, timeout=60)
    return parse_ebur128_summary(done.stderr.splitlines())


SOURCES = {
    "a tone": (
        "aevalsrc=0.5*sin(2*PI*1000*t)|0.5*sin(2*PI*1000*t):s=48000:d=3",
        (pytest.approx(-6.0, abs=0.1), pytest.approx(-6.0, abs=0.1)),
    ),
    "zeros": ("anullsrc=d=1", (None, None)),
    "too short for loudness": ("sine=f=1000:d=0.2", (None, pytest.approx(-18.1, abs=0.1))),
    "below the gate": ("sine=f=1000:d=2,volume=0.001", (None, pytest.approx(-78.1, abs=0.5))),
}
"""A stereo tone of 1 kHz with the peak P dBFS has P LUFS (ITU-R BS.1770-5, EBU Tech 3341 case 1)."""


@pytest.mark.parametrize("name", SOURCES)
@pytest.mark.parametrize("which", ["on PATH", "in the wheel"])
def test_summary_of_either_ffmpeg(name: str, which: str, ffmpeg: str) -> None:
    source, expected = SOURCES[name]
    program = ffmpeg if which == "on PATH" else imageio_ffmpeg.get_ffmpeg_exe()
    assert ebur128(program, source) == expected


FAILED = """[Parsed_ebur128_0 @ 0x55f07702e180] [info] Summary:

  Integrated loudness:
    I:           0.0 LUFS
    Threshold:   0.0 LUFS

  Loudness range:
    LRA:         0.0 LU
    Threshold:   0.0 LUFS

  True peak:
    Peak:       -inf dBFS"""
PARTS = FAILED.replace("I:           0.0", "I:         -19.3", 1).replace(
    "Threshold:   0.0", "Threshold: -29.5", 1
)


def test_a_filter_that_never_ran_gives_no_loudness_of_0() -> None:
    """What ffmpeg 5.1 prints when the filter could not start: taken at its word, it is far too loud."""
    assert parse_ebur128_summary(FAILED.splitlines()) == (None, None)
    assert parse_ebur128_summary(()) == (None, None)


def test_of_several_parts_the_loudest_counts() -> None:
    louder = PARTS.replace("-19.3", "-12.1").replace("-inf", "-0.4")
    lines = [*PARTS.splitlines(), *louder.splitlines(), *FAILED.splitlines()]
    assert parse_ebur128_summary(lines) == (-12.1, -0.4)


def test_above_full_scale() -> None:
    lines = PARTS.replace("-19.3", "1.2").replace("-inf", "3.0").splitlines()
    assert parse_ebur128_summary(lines) == (1.2, 3.0)
    assert parse_ebur128_summary([line.strip() for line in lines]) == (1.2, 3.0)


@given(st.lists(st.text(max_size=40) | st.sampled_from(PARTS.splitlines()), max_size=30))
def test_any_log_is_read_without_a_word(lines: list[str]) -> None:
    loudness, peak = parse_ebur128_summary(lines)
    assert loudness in (None, -19.3)
    assert peak is None
