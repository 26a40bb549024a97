"""Sound is brought to level, and a meter that nobody here made agrees: ITU-R BS.1770 by way of pyloudnorm."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
from numpy.typing import NDArray

from mediacheck.errors import ProgramError
from mediacheck.repair import loudness
from mediacheck.repair.encode import CannotMake
from mediacheck.repair.loudness import LIMITED, NOT_MEASURED, TRIES, Heard, levelling, limiter, missed
from mediacheck.repair.model import Levels, Made, Recipe, SoundRecipe
from mediacheck.repair.work import convert
from mediacheck.which_ffmpeg import find_ffmpeg
from tests.repair.masters import COPIED, RATE_HZ, WRAPPING, Samples, heard, task, with_sound

PEAK_METER_DB = 0.3
"""EBU Tech 3341: how far a meter of true peaks may be off."""
CHANCE = np.random.default_rng(4)
USUAL = Levels(-16.0, 1.0, -1.0)
AAC = ("-c:a", "aac", "-b:a", "192k", "-ar", "48000", "-ac", "2")
MIXES = {
    "stereo": ("aformat=channel_layouts=stereo:sample_rates=48000", AAC),
    "mono": ("aformat=channel_layouts=mono:sample_rates=48000", (*AAC[:4], "-ar", "48000", "-ac", "1")),
}


def pink(seconds: float, channels: int) -> NDArray[np.float64]:
    """Noise with as much energy in every octave, peak 1."""
    count = round(seconds * RATE_HZ)
    spectrum = np.fft.rfft(CHANCE.standard_normal((count, channels)), axis=0)
    spectrum /= np.sqrt(np.maximum(1, np.arange(len(spectrum))))[:, None]
    noise = np.fft.irfft(spectrum, count, axis=0)
    return np.asarray(noise / np.abs(noise).max(), np.float64)


def speech(seconds: float = 2.0, level: float = 0.02) -> Samples:
    """Quiet noise that comes in syllables, with pauses between words."""
    noise = pink(seconds, 2)
    at_s = np.arange(len(noise)) / RATE_HZ
    syllables = np.maximum(0.0, np.sin(2 * np.pi * 4 * at_s)) ** 2 * (np.sin(2 * np.pi * 0.7 * at_s) > -0.5)
    return np.asarray(level * noise * syllables[:, None], np.float32)


def music(seconds: float = 2.0, channels: int = 2) -> Samples:
    """Loud noise, and a drum that goes far over it twice a second."""
    sound = 0.25 * pink(seconds, channels)
    at_s = np.arange(len(sound)) / RATE_HZ % 0.5
    drum = 0.7 * np.exp(-at_s * 60) * np.sin(2 * np.pi * 180 * at_s)
    return np.asarray(sound + drum[:, None], np.float32)


def true_peak_dbtp(samples: NDArray[np.float64]) -> float:
    """The peak of four times as many samples (BS.1770 Annex 2), by a Fourier transform."""
    spectrum = np.fft.rfft(samples, axis=0)
    finer = np.fft.irfft(spectrum, 4 * len(samples), axis=0) * 4
    return float(20 * np.log10(np.abs(finer).max()))


def levelled(
    folder: Path,
    samples: Samples,
    layout: str = "stereo",
    levels: Levels = USUAL,
    mix: str = "stereo",
    encoder: tuple[str, ...] | None = None,
) -> tuple[Made, Path]:
    """What became of a clip with this sound."""
    mixing, usual = MIXES[mix]
    sound = SoundRecipe("0:a:0", False, mixing=mixing, levels=levels, encoder=encoder or usual)
    recipe = Recipe("sound", ".mkv", (), COPIED, sound, wrapping=WRAPPING[:6])
    out = folder / "new.mkv"
    made = convert(task(with_sound(folder, samples, layout), recipe, out))
    assert isinstance(made, Made), made
    return made, out


def assert_level(made: Made, place: Path, lufs: float, peak_dbtp: float, off_lu: float = 0.5) -> None:
    """By a meter of somebody else's, and in the record."""
    sound = heard(place)
    assert pyloudnorm.Meter(RATE_HZ).integrated_loudness(sound) == pytest.approx(lufs, abs=off_lu)
    assert true_peak_dbtp(sound) <= peak_dbtp + PEAK_METER_DB
    assert made.loudness_lufs == pytest.approx(lufs, abs=0.31)
    assert made.true_peak_dbtp is not None
    assert made.true_peak_dbtp <= peak_dbtp


def test_quiet_speech_is_turned_up(tmp_path: Path) -> None:
    made, place = levelled(tmp_path, speech())
    assert_level(made, place, -16.0, -1.0)


def test_loud_music_is_turned_down_without_a_limiter(tmp_path: Path) -> None:
    made, place = levelled(tmp_path, music(), levels=Levels(-23.0, 1.0, -1.0))
    assert_level(made, place, -23.0, -1.0)
    assert "alimiter" not in " ".join(made.commands[0])
    assert made.notes == ()


def test_music_whose_peaks_would_go_over_is_held_by_a_limiter(tmp_path: Path) -> None:
    made, place = levelled(tmp_path, music(), levels=Levels(-14.0, 1.0, -2.0))
    assert_level(made, place, -14.0, -2.0)
    assert "alimiter" in " ".join(made.commands[0])
    assert made.notes == (LIMITED,)


def test_a_level_that_the_peaks_forbid_is_said_to_be_missed(tmp_path: Path) -> None:
    made, place = levelled(tmp_path, music(1.0), levels=Levels(-8.0, 1.0, -9.0))
    assert true_peak_dbtp(heard(place)) <= -9.0 + PEAK_METER_DB
    assert made.notes[0] == LIMITED
    assert f"could not be brought to level: it measures {made.loudness_lufs:.1f} LUFS" in made.notes[1]


def test_surround_is_measured_as_it_is_mixed_down(tmp_path: Path) -> None:
    made, place = levelled(tmp_path, music(channels=6), layout="5.1")
    assert heard(place).shape[1] == 2
    assert_level(made, place, -16.0, -1.0)


def test_one_channel(tmp_path: Path) -> None:
    made, place = levelled(tmp_path, music(channels=1), layout="mono", mix="mono")
    assert_level(made, place, -16.0, -1.0)


@pytest.mark.parametrize("encoder", [("-c:a", "libmp3lame", "-b:a", "128k"), ("-c:a", "pcm_s16le")])
def test_other_encoders_come_out_at_level(tmp_path: Path, encoder: tuple[str, ...]) -> None:
    made, place = levelled(tmp_path, music(1.0), encoder=encoder, levels=Levels(-14.0, 1.0, -2.0))
    assert_level(made, place, -14.0, -2.0)


def test_noise_at_full_scale_comes_out_under_its_limit(tmp_path: Path) -> None:
    """Lossy codecs put back most of what a limiter cut here."""
    samples = (0.99 * np.sign(CHANCE.standard_normal((RATE_HZ, 2)))).astype(np.float32)
    made, place = levelled(tmp_path, samples, levels=Levels(None, 1.0, -1.0))
    assert true_peak_dbtp(heard(place)) <= -1.0 + PEAK_METER_DB
    assert made.true_peak_dbtp is not None
    assert made.true_peak_dbtp <= -1.0
    assert "alimiter" not in " ".join(made.commands[0])


@pytest.mark.parametrize(
    "samples", [np.zeros((RATE_HZ, 2), np.float32), speech(0.3)], ids=["silence", "too short"]
)
def test_what_cannot_be_measured_stays_as_it_is_and_is_said(tmp_path: Path, samples: Samples) -> None:
    made, place = levelled(tmp_path, samples, encoder=("-c:a", "flac"))
    sound = heard(place)
    assert np.abs(sound[: len(samples)] - samples[: len(sound)]).max() < 1e-4
    assert made.loudness_lufs is None
    assert made.notes == (NOT_MEASURED,)


def test_a_sound_that_is_at_level_passes_unchanged(tmp_path: Path) -> None:
    samples = music(1.0)
    found = float(pyloudnorm.Meter(RATE_HZ).integrated_loudness(samples))
    at_level = (samples * 10 ** ((-20 - found) / 20)).astype(np.float32)
    made, _ = levelled(tmp_path, at_level, levels=Levels(-20.0, 1.0, -1.0), encoder=("-c:a", "pcm_f32le"))
    line = made.commands[0]
    filters = line[line.index("-af") + 1]
    assert filters == MIXES["stereo"][0] or abs(float(filters.rpartition("volume=")[2][:-2])) <= 0.11


def test_levelling_gives_the_best_where_nothing_is_near() -> None:
    """An encoder that is always 3 LU too quiet, whatever it is given, at its first try least."""
    told: list[str] = []

    def rehearse(filters: str) -> Heard:
        told.append(filters)
        return Heard(-19.0 - len(told) / 10, -5.0)

    found = levelling(Heard(-20.0, -6.0), USUAL, RATE_HZ, rehearse)
    assert found.filters == told[0] == "volume=4.00dB"
    assert 2 <= len(told) == len(set(told)) <= TRIES


@pytest.mark.parametrize(
    ("levels", "after", "said"),
    [
        (USUAL, Heard(-16.5, -1.0), ()),
        (USUAL, Heard(-16.6, -1.0), ("-16.6 LUFS, peaks -1.0 dBTP.",)),
        (USUAL, Heard(-16.0, -0.9), ("-16.0 LUFS, peaks -0.9 dBTP.",)),
        (USUAL, Heard(None, None), ()),
        (Levels(None, 1.0, -1.0), Heard(-30.0, -0.5), ("-30.0 LUFS, peaks -0.5 dBTP.",)),
        (Levels(-16.0, 1.0, None), Heard(-16.0, 3.0), ()),
    ],
)
def test_a_missed_level_is_said(levels: Levels, after: Heard, said: tuple[str, ...]) -> None:
    begins = "Its sound could not be brought to level: it measures "
    assert missed(levels, after) == tuple(f"{begins}{end}" for end in said)


def test_levelling_leaves_more_room_until_the_peaks_hold() -> None:
    """An encoder that puts back 2 dB of what a limiter cut."""

    def rehearse(filters: str) -> Heard:
        if "alimiter" not in filters:
            return Heard(-16.0, 2.0)
        level = float(filters.partition("limit=")[2].partition(":")[0])
        return Heard(-16.0, 20 * float(np.log10(level)) + 2.0)

    found = levelling(Heard(-20.0, -2.0), Levels(-16.0, 1.0, -1.0), RATE_HZ, rehearse)
    assert rehearse(found.filters).true_peak_dbtp == pytest.approx(-1.2, abs=0.35)
    assert found.notes == (LIMITED,)


@pytest.mark.parametrize("most", [-3.0, -20.0, -40.0])
def test_the_limiter_holds_any_ceiling(tmp_path: Path, most: float) -> None:
    place = with_sound(tmp_path, music(1.0), "stereo")
    found = loudness.listen(find_ffmpeg().path, ("-i", str(place)), "0:a:0", limiter(most, RATE_HZ), 60.0)
    assert found.true_peak_dbtp is not None
    assert most - 3.0 <= found.true_peak_dbtp <= most + 0.5


def test_a_file_without_sound_cannot_be_listened_to(tmp_path: Path) -> None:
    (tmp_path / "empty.mkv").touch()
    with pytest.raises(CannotMake, match="cannot be listened to"):
        loudness.listen(find_ffmpeg().path, ("-i", str(tmp_path / "empty.mkv")), "0:a:0", "", 60.0)
    with pytest.raises(ProgramError):
        loudness.listen(tmp_path / "nothing", ("-i", "x"), "0:a:0", "", 60.0)
