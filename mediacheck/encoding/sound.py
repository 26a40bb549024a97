"""How the sound of a clip is packed: codec, rate, channels, bits and level.

It must not know pictures.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from mediacheck.encoding.model import Part, Reason, Refused, part
from mediacheck.names import AudioCodec, Container
from mediacheck.profile import Audio, SoundLimits

USUAL_RATE_HZ = 48_000
USUAL_BIT_S = 192_000
"""Clean stereo in AAC (common practice, no source)."""
AIMED_SHARE = 0.75
"""Encoders that aim at an average overshoot it: AAC by 31 % in a loud square wave of 0.9 s (measured)."""
FIXED_SHARE = 0.95
"""Codecs of fixed rates pad the ends of the sound: 129.7 kbit/s for 128 in MP3 of one second (measured)."""
PEAK_ROOM_DB = 5.0
"""Lossy codecs put back peaks that a limiter cut: up to 4.2 dB in full-scale noise (measured with AAC).

White noise at full scale went over 5 dB once in some hundreds; the check of the new file finds it."""
LIMITER_DB = (-24.0, 0.0)
"""What the limiter can be set to: 0.0625 to 1 of full scale (ffmpeg's alimiter)."""
LOUDEST_LUFS = -5.0
"""ffmpeg's loudnorm takes no louder target."""
KBIT_MPEG1_3 = (32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
KBIT_MPEG2_3 = (8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160)
KBIT_MPEG1_2 = (64, 96, 112, 128, 160, 192, 224, 256, 320, 384)
KBIT_AC3 = (96, 112, 128, 160, 192, 224, 256, 320, 384, 448, 512, 576, 640)
"""ISO/IEC 11172-3, 13818-3 and ATSC A/52 Table 5.18; the lowest that carry two channels."""
LAYOUTS = {1: "mono", 2: "stereo"}
FULL_RATES_HZ = (48_000, 44_100, 32_000)


@dataclass(frozen=True, slots=True)
class SoundCoder:
    """`kbit_s` are the only rates of the codec, None: any. `exact`: the rate follows from the samples.

    `also` are further arguments, without which the encoder would not keep to its rate.
    """

    encoder: str
    containers: tuple[Container, ...]
    rates_hz: tuple[int, ...]
    kbit_s: tuple[int, ...] | None = None
    exact: bool = False
    also: tuple[str, ...] = ()


CODERS: Mapping[AudioCodec, SoundCoder] = MappingProxyType(
    {
        "AAC": SoundCoder(
            "aac",
            ("MP4", "MOV", "MKV", "MPEG-TS"),
            (48_000, 44_100, 32_000, 96_000, 88_200, 64_000, 24_000, 22_050, 16_000, 12_000, 11_025, 8_000),
        ),
        "MP3": SoundCoder("libmp3lame", ("MP4", "MKV", "AVI", "MPEG-TS"), FULL_RATES_HZ, KBIT_MPEG1_3),
        "MP2": SoundCoder("mp2", ("MKV", "AVI", "MPEG-TS", "MPEG-PS"), FULL_RATES_HZ, KBIT_MPEG1_2),
        "AC-3": SoundCoder(
            "ac3", ("MP4", "MOV", "MKV", "AVI", "MPEG-TS", "MPEG-PS"), FULL_RATES_HZ, KBIT_AC3
        ),
        "PCM": SoundCoder(
            "pcm_s16le", ("MOV", "MKV", "AVI"), (48_000, 44_100, 32_000, 96_000, 22_050, 16_000), exact=True
        ),
        "Opus": SoundCoder("libopus", ("WebM", "MKV", "MP4"), (48_000,), also=("-vbr", "off")),
        "Vorbis": SoundCoder("libvorbis", ("WebM", "MKV"), (48_000, 44_100)),
        "FLAC": SoundCoder("flac", ("MKV",), (48_000, 44_100, 96_000), exact=True),
    }
)
"""The usual ones first; sample rates with the best first. WMA is missing: its container is for VC-1.

Which container carries which sound: common practice.
"""


@dataclass(frozen=True, slots=True)
class Sound:
    """Sound as it will be in the file. `bit_s` is None for PCM and FLAC."""

    codec: AudioCodec
    rate_hz: int
    channels: int
    bit_s: int | None


def sound_for(audio: Audio, container: Container, never: tuple[AudioCodec, ...] = ()) -> Sound | Refused:
    """The usual codec among those that the player unpacks and the container carries."""
    for codec, coder in CODERS.items():
        allowed = (audio.codecs is None or codec in audio.codecs) and codec not in never
        if allowed and container in coder.containers:
            sound = _within(codec, coder, (audio.codecs or {}).get(codec) or SoundLimits())
            if sound is not None:
                return sound
    return Refused(f"no sound that it allows goes into {container} within its limits")


def _within(codec: AudioCodec, coder: SoundCoder, limits: SoundLimits) -> Sound | None:
    rate = next((r for r in coder.rates_hz if limits.sample_rates is None or r in limits.sample_rates), None)
    if rate is None:
        return None
    channels = min(2, limits.channels_max or 2)
    if coder.exact:
        fits = limits.bit_rate_max is None or rate * channels * 16 <= limits.bit_rate_max
        return Sound(codec, rate, channels, None) if fits else None
    bit_s = _bit_s(coder, limits.bit_rate_max, rate * channels)
    return Sound(codec, rate, channels, bit_s) if bit_s else None


def _bit_s(coder: SoundCoder, most: int | None, samples_per_s: int) -> int | None:
    if coder.kbit_s is not None:
        ceiling = USUAL_BIT_S if most is None else min(USUAL_BIT_S, FIXED_SHARE * most)
        return max((kbit * 1000 for kbit in coder.kbit_s if kbit * 1000 <= ceiling), default=None)
    aimed = int(min(USUAL_BIT_S, 4 * samples_per_s, AIMED_SHARE * (most or USUAL_BIT_S * 2)))
    return aimed if aimed * 2 >= samples_per_s // 2 and aimed >= 24_000 else None


def parts_for(sound: Sound, audio: Audio) -> Iterator[Part]:
    """From the first sound track of the master to the sound of the file. Its length is kept: ffmpeg's own
    `-shortest` cuts it more than a second too late (measured with 5.1 and 9.0)."""
    yield _filters(sound, audio)
    yield packing(sound)


def packing(sound: Sound) -> Part:
    """How the sound of the file is packed, whatever it comes from."""
    coder = CODERS[sound.codec]
    return part(
        *("-c:a", coder.encoder, *coder.also),
        *(("-b:a", f"{sound.bit_s // 1000}k") if sound.bit_s else ()),
        *("-ar", str(sound.rate_hz), "-ac", str(sound.channels)),
        why=f"{sound.codec} with {sound.rate_hz:,} samples a second, {LAYOUTS[sound.channels]}.",
    )


def _filters(sound: Sound, audio: Audio) -> Part:
    steps = (
        Reason("aresample=async=1:first_pts=0", "The sound begins with the picture and keeps up with it."),
        Reason(
            f"aformat=channel_layouts={LAYOUTS[sound.channels]}",
            "Mixed down before the level is looked at: mixing can make it louder.",
        ),
        *_louder_or_quieter(audio),
        *_limited(audio, sound.rate_hz),
    )
    return Part(("-af", ",".join(step.setting for step in steps)), steps)


def _louder_or_quieter(audio: Audio) -> Iterator[Reason]:
    wanted, most = audio.loudness_lufs, audio.true_peak_dbtp_max
    if wanted is not None:
        peak = max(-9.0, min(0.0, -1.0 if most is None else most - PEAK_ROOM_DB))
        yield Reason(
            f"loudnorm=I={wanted:g}:TP={peak:g}:LRA=11",
            f"Brings the sound to {wanted:g} LUFS (ITU-R BS.1770, EBU R 128).",
        )


def _limited(audio: Audio, rate_hz: int) -> Iterator[Reason]:
    """Four times the samples show the peaks between them (ITU-R BS.1770 Annex 2)."""
    most = audio.true_peak_dbtp_max
    if most is None:
        return
    wanted = min(most - PEAK_ROOM_DB, LIMITER_DB[1])
    at = max(wanted, LIMITER_DB[0])
    quieter = f",volume={wanted - at:.1f}dB" if wanted < at else ""
    yield Reason(
        f"aresample={4 * USUAL_RATE_HZ},alimiter=limit={10 ** (at / 20):.4f}:level=false:attack=1:release=50"
        f"{quieter},aresample={rate_hz}",
        f"A limiter holds the loudest moments under {most:g} dBTP, with room for what the codec puts back.",
    )


def unreachable(audio: Audio) -> Refused | None:
    """A loudness that no filter of ffmpeg brings about."""
    wanted = audio.loudness_lufs
    if wanted is not None and wanted > LOUDEST_LUFS:
        return Refused(f"ffmpeg cannot bring sound to {wanted:g} LUFS")
    return None
