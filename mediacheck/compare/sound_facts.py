"""The facts of sound that a comparison looks at, in the order of the rules about them.

It must not compare: each fact only says how it is read, worded and weighed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from mediacheck.compare.fact import ENCODE_AGAIN, NOTABLE_RATE, Fact, Value, beyond, bit_rate_words, less
from mediacheck.loop import File
from mediacheck.media.facts import AudioFacts


def _sound(read: Callable[[AudioFacts], Any]) -> Callable[[File], Value]:
    return lambda file: read(file.media.audio[0]) if file.media and file.media.audio else None


def _same_sound(good: File, bad: File) -> bool:
    read = _sound(lambda audio: audio.codec)
    return read(good) is not None and read(good) == read(bad)


def _moving(read: Callable[[File], Value]) -> Callable[[File], Value]:
    """Only of files with a picture that moves: a lone sound file has nothing to miss."""
    return lambda file: read(file) if file.media and file.media.video else None


def _channels(count: int) -> str:
    return {1: "mono", 2: "stereo"}.get(count, f"{count} channels")


SOUND_FACTS: tuple[Fact, ...] = (
    Fact(
        "whether there is sound",
        "sound",
        "audio-unwanted",
        _moving(lambda file: bool(file.media and file.media.audio)),
        "it has {}",
        "the display makes noise that it is not meant to make",
        "Write the file again without sound, if none is meant to be there.",
        words=lambda there: "sound" if there else "no sound",
        differs=lambda good, bad: bad and not good,
    ),
    Fact(
        "whether there is sound",
        "sound",
        "audio-missing",
        _moving(lambda file: bool(file.media and file.media.audio)),
        "it has {}",
        "it plays silently, and some players stop at a file without sound",
        "Put the file with sound onto the card.",
        words=lambda there: "sound" if there else "no sound",
        differs=lambda good, bad: good and not bad,
    ),
    Fact(
        "the sound's codec",
        "sound",
        "audio-codec",
        _sound(lambda audio: audio.codec),
        "its sound is packed as {}",
        "a player that cannot unpack that plays no sound or skips the file",
        ENCODE_AGAIN,
    ),
    Fact(
        "the sound's sample rate",
        "sound",
        "audio-sample-rate",
        _sound(lambda audio: audio.sample_rate),
        "its sound has {}",
        "the player may play it silently, at the wrong speed or not at all",
        ENCODE_AGAIN,
        words=lambda rate: f"{rate:,} samples per second",
    ),
    Fact(
        "the sound's channels",
        "sound",
        "audio-channels",
        _sound(lambda audio: audio.channels),
        "its sound is {}",
        "a player made for fewer channels plays no sound, or leaves voices out",
        ENCODE_AGAIN,
        words=_channels,
        gentler=less,
    ),
    Fact(
        "the sound's bit rate",
        "sound",
        "audio-bit-rate",
        _sound(lambda audio: audio.bit_rate),
        "its sound takes {}",
        "the player may play it with gaps",
        ENCODE_AGAIN,
        words=bit_rate_words,
        differs=beyond(NOTABLE_RATE),
        gentler=less,
        comparable=_same_sound,
    ),
)
