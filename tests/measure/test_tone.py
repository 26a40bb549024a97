"""A steady sine of line-up kind is found with its times; music, swells and other tones are not."""

from __future__ import annotations

import io
import wave

import numpy as np
import pytest
from numpy.typing import NDArray

from mediacheck.demo.tune import tune_wav
from mediacheck.measure.tone import ToneWatch

RATE = 48_000
Sound = NDArray[np.float64]


def sine(hz: float, seconds: float, peak: float = 0.1) -> Sound:
    return peak * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)


def noise(seconds: float, level: float = 0.05) -> Sound:
    """Stands for speech and music that share nothing with a tone."""
    return np.random.default_rng(3).normal(0, level, round(seconds * RATE))


def tones(
    *channels: Sound, rate: int = RATE, block: int = 1024, start_s: float = 0.0
) -> list[tuple[float, float]]:
    """Start and end of each tone, to a hundredth of a second."""
    samples = np.stack(channels).astype(np.float32)
    watch = ToneWatch(rate, len(channels))
    for place in range(0, samples.shape[1], block):
        watch.see(start_s + place / rate, samples[:, place : place + block])
    return [(round(span.start_s, 2), round(span.end_s, 2)) for span in watch.result()]


@pytest.mark.parametrize("hz", [400, 440, 900, 997, 1000])
@pytest.mark.parametrize("peak", [0.01, 0.126, 1.0])
def test_line_up_tones_of_any_level_are_found(hz: float, peak: float) -> None:
    assert tones(sine(hz, 3, peak)) == [(0, 3)]


@pytest.mark.parametrize("rate", [44_100, 22_050, 8_000])
def test_at_other_sample_rates(rate: int) -> None:
    wave_ = 0.1 * np.sin(2 * np.pi * 1000 * np.arange(2 * rate) / rate)
    ((start_s, end_s),) = tones(wave_, rate=rate)
    assert start_s == 0
    assert end_s == pytest.approx(2, abs=0.13)


def test_head_and_tail_are_told_to_an_eighth_of_a_second() -> None:
    ((head, end), (start, tail)) = tones(np.concatenate((sine(1000, 2.3), noise(4), sine(1000, 1.6))))
    assert (head, tail) == (0, 7.9)
    assert abs(end - 2.3) <= 0.125
    assert abs(start - 6.3) <= 0.125


def test_the_middle_of_a_long_clip_is_not_looked_at() -> None:
    assert tones(np.concatenate((noise(18), sine(1000, 2), noise(18)))) == []


def test_a_long_tone_from_the_head_is_one_stretch() -> None:
    assert tones(np.concatenate((sine(1000, 20), noise(20)))) == [(0, 20)]


def test_one_channel_is_enough_and_may_be_interrupted() -> None:
    """As the EBU's stereo tone is: the left channel pauses for a quarter of a second every 3 s."""
    left, right = sine(1000, 6), sine(1000, 6)
    for second in (0, 3):
        left[second * RATE : second * RATE + RATE // 4] = 0
    assert tones(left, right) == [(0, 6)]
    assert tones(np.zeros(3 * RATE), sine(1000, 3)) == [(0, 3)]


def test_a_sound_that_begins_late_has_its_tone_late() -> None:
    assert tones(sine(1000, 2), start_s=0.5) == [(0.5, 2.5)]


def swelling() -> Sound:
    return sine(440, 4) * np.exp(-np.arange(4 * RATE) / RATE)


def vibrato() -> Sound:
    t = np.arange(4 * RATE) / RATE
    return np.asarray(0.2 * np.sin(2 * np.pi * 440 * t + 3 * np.sin(2 * np.pi * 5.5 * t)))


@pytest.mark.parametrize(
    "sound",
    [
        pytest.param(noise(4), id="noise"),
        pytest.param(np.zeros(4 * RATE), id="zeros"),
        pytest.param(sine(1000, 0.5), id="a short beep"),
        pytest.param(sine(300, 4), id="too low"),
        pytest.param(sine(3000, 4), id="too high"),
        pytest.param(sine(1000, 4, 0.001), id="far too soft"),
        pytest.param(sine(440, 4) + sine(880, 4, 0.03), id="an overtone"),
        pytest.param(sine(440, 4) + sine(554, 4) + sine(659, 4), id="a chord"),
        pytest.param(swelling(), id="a note that dies away"),
        pytest.param(vibrato(), id="a note that trembles"),
        pytest.param(
            np.concatenate([sine(hz, 0.5) for hz in (440, 494, 523, 587) * 2]), id="a melody of sines"
        ),
    ],
)
def test_no_false_alarm(sound: Sound) -> None:
    assert tones(sound) == []


@pytest.mark.parametrize("root_hz", [220, 330, 440, 523])
def test_no_false_alarm_on_music(root_hz: float) -> None:
    with wave.open(io.BytesIO(tune_wav(12, root_hz))) as tune:
        samples = np.frombuffer(tune.readframes(tune.getnframes()), "<i2").reshape(-1, 2) / 32768
    assert tones(samples[:, 0], samples[:, 1]) == []


def test_blocks_may_have_any_length() -> None:
    sound = np.concatenate((sine(997, 1.7), noise(1)))
    found = [tones(sound, block=block) for block in (100, 777, 48_000, 10**6)]
    assert found == [found[0]] * 4


def test_no_sound_no_tone() -> None:
    assert ToneWatch(RATE, 1).result() == ()
