"""The sound of a new file: kept, encoded again, added as silence, or left out.

It must not listen: what the levels need is found where the recipe is carried out.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.encoding.model import Refused
from mediacheck.encoding.sound import CODERS, LAYOUTS, Sound, packing, sound_for
from mediacheck.loop import File
from mediacheck.measure.model import Measurements
from mediacheck.media.facts import AudioFacts
from mediacheck.names import AudioCodec, Container, RuleName
from mediacheck.profile import Audio
from mediacheck.repair.model import Levels, SoundRecipe

REMADE: frozenset[RuleName] = frozenset(
    (
        "audio-codec",
        "audio-sample-rate",
        "audio-channels",
        "audio-bit-rate",
        "audio-loudness",
        "audio-peak",
        "audio-silent",
        "audio-missing",
        "loop-audio-length",
    )
)
"""Findings that only new sound mends."""


def sound_recipe(
    file: File,
    audio: Audio,
    container: Container,
    never: tuple[AudioCodec, ...],
    rules: frozenset[RuleName],
    seconds: float | None,
    cut: float | None,
) -> SoundRecipe | Refused | None:
    """None: no sound. `cut`: only a part of the master is kept, so that its packets cannot stay, and of what
    is read so many seconds at the start go as well."""
    tracks = file.media.audio if file.media else ()
    if audio.use == "none" or not (tracks or audio.use == "required"):
        return None
    if tracks and cut is None and not (REMADE & rules) and goes_into(tracks[0], container, never):
        return SoundRecipe("0:a:0", copied=True)
    sound = sound_for(audio, container, never)
    if isinstance(sound, Refused):
        return sound
    return _again(file, audio, sound, rules, seconds, cut or 0.0) if tracks else _silence(sound, seconds)


def goes_into(track: AudioFacts, container: Container, never: tuple[AudioCodec, ...]) -> bool:
    """Whether a container carries this sound as it is."""
    return any(
        name == track.codec and name not in never and container in coder.containers
        for name, coder in CODERS.items()
    )


def _silence(sound: Sound, seconds: float | None) -> SoundRecipe:
    length = () if seconds is None else ("-t", f"{seconds:.6f}")
    source = f"anullsrc=r={sound.rate_hz}:cl={LAYOUTS[sound.channels]}"
    return SoundRecipe(
        "1:a:0",
        copied=False,
        input=("-f", "lavfi", *length, "-i", source),
        encoder=packing(sound).arguments,
        rate_hz=sound.rate_hz,
    )


def _again(
    file: File,
    audio: Audio,
    sound: Sound,
    rules: frozenset[RuleName],
    seconds: float | None,
    early_s: float,
) -> SoundRecipe:
    asked = audio.loudness_lufs is not None or audio.true_peak_dbtp_max is not None
    levels = Levels(audio.loudness_lufs, audio.loudness_tolerance_lu, audio.true_peak_dbtp_max)
    return SoundRecipe(
        "0:a:0",
        copied=False,
        mixing=",".join(_mixing(file, sound, rules, early_s)),
        levels=levels if asked else None,
        ending="" if seconds is None else f"apad=whole_dur={seconds:.6f},atrim=end={seconds:.6f}",
        encoder=packing(sound).arguments,
        rate_hz=sound.rate_hz,
    )


def _mixing(file: File, sound: Sound, rules: frozenset[RuleName], early_s: float) -> Iterator[str]:
    """swresample mixes surround down as ITU-R BS.775 does, and holds the sum below full scale."""
    if early_s:
        yield f"asetpts=PTS-{early_s:.6f}/TB"
    yield "aresample=async=1:first_pts=0"
    living = _living(file)
    if "audio-silent" in rules and living is not None:
        yield f"pan=mono|c0=c{living}"
    yield f"aformat=channel_layouts={LAYOUTS[sound.channels]}:sample_rates={sound.rate_hz}"


def _living(file: File) -> int | None:
    """The one channel of two that is not silent."""
    measured = file.measurements.sound if isinstance(file.measurements, Measurements) else None
    if measured is None or len(measured.channel_peaks_dbfs) != 2 or len(measured.dead_channels) != 1:
        return None
    return 1 - measured.dead_channels[0]
