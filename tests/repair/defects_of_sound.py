"""Sound with one defect each, in what otherwise conforms.

It must not mend anything.
"""

from __future__ import annotations

from tests.repair.case import of
from tests.repair.films import TONE, Film

NOISE = "|".join(f"0.2*(random({number})*2-1)" for number in range(6))
SURROUND = f"aevalsrc={NOISE}:s=48000:d=2:c=5.1"
LOUD = {"loudness_lufs": -23, "loudness_tolerance_lu": 1}

SOUNDS = (
    of("MP3", "audio-codec", "sound", Film(sound=("-c:a", "libmp3lame", "-ar", "48000"))),
    of("AC-3", "audio-codec", "sound", Film(sound=("-c:a", "ac3", "-b:a", "192k"))),
    of("Opus", "audio-codec", "sound", Film(sound=("-c:a", "libopus", "-strict", "-2"))),
    of("PCM", "audio-codec", "sound", Film(sound=("-c:a", "pcm_s16le")), "seeds.mov"),
    of("sample rate", "audio-sample-rate", "sound", Film(sound=("-c:a", "aac", "-ar", "22050"))),
    of("5.1", "audio-channels", "sound", Film(sound=("-c:a", "aac", "-ac", "6"))),
    of(
        "bit rate of the sound",
        "audio-bit-rate",
        "sound",
        Film(),
        audio={"codecs": {"AAC": {"sample_rates": [48_000], "channels_max": 2, "bit_rate_max": 60_000}}},
    ),
    of(
        "no sound",
        "audio-missing",
        "sound",
        Film(tone=None),
        audio={"use": "required"},
        remains=("audio-silent",),
    ),
    of("sound not wanted", "audio-unwanted", "container", Film(), audio={"use": "none"}),
    of("too loud", "audio-loudness", "sound", Film(tone=TONE.replace("-6dB", "16dB")), audio=LOUD),
    of("too quiet", "audio-loudness", "sound", Film(tone=TONE.replace("-6dB", "-25dB")), audio=LOUD),
    of(
        "peaks",
        "audio-peak",
        "sound",
        Film(tone=TONE.replace("-6dB", "20dB")),
        audio={"true_peak_dbtp_max": -1},
    ),
    of(
        "sound too short",
        "loop-audio-length",
        "sound",
        Film(tone=TONE.replace("duration=2", "duration=1")),
        remains=("loop-seam",),
    ),
    of("sound too long", "loop-audio-length", "sound", Film(tone=TONE.replace("duration=2", "duration=4"))),
    of("a dead channel", "audio-silent", "sound", Film(tone=f"{TONE},pan=stereo|c0=c0|c1=0*c0")),
    of("96 kHz", "audio-sample-rate", "sound", Film(sound=("-c:a", "aac", "-ar", "96000"))),
    of(
        "one channel wanted",
        "audio-channels",
        "sound",
        Film(),
        audio={"codecs": {"AAC": {"sample_rates": [48_000], "channels_max": 1, "bit_rate_max": 128_000}}},
    ),
    of(
        "5.1 and too loud",
        "audio-loudness",
        "sound",
        Film(tone=SURROUND, sound=("-c:a", "aac", "-ac", "6")),
        audio=LOUD,
    ),
)
