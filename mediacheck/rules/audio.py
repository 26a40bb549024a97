"""Rules about the sound tracks of a clip, judged from facts.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from mediacheck.media.facts import AudioFacts
from mediacheck.profile import SoundLimits
from mediacheck.rules.model import (
    NOT_APPLICABLE,
    PASSED,
    Answer,
    NotApplicable,
    NotChecked,
    One,
    Seen,
    rule,
    seen,
)
from mediacheck.rules.streams import UNREAD_SOUND, choice, over, sound, unsaid

Track = tuple[AudioFacts, SoundLimits, str]
"""A sound track, what the profile allows its codec, and how to call it."""


@rule("audio-unwanted", severity="warn", scope="video", source="the profile")
def audio_unwanted(one: One) -> Answer:
    """The file holds sound where none is wanted: it plays into the store, or stops a silent player."""
    if one.profile.audio.use != "none":
        return NOT_APPLICABLE
    if one.file.media is None:
        return UNREAD_SOUND
    tracks = one.file.media.audio
    if not tracks:
        return PASSED
    return seen(
        choice([track.codec for track in tracks]).replace(" or ", " and "),
        "no sound",
        "The file holds sound and this display is meant to be silent: the sound plays into the store, or a "
        "player without sound stops at the file.",
        "Remove the sound from the file.",
        fixable=True,
    )


@rule("audio-missing", severity="warn", scope="video", source="the profile")
def audio_missing(one: One) -> Answer:
    """The file holds no sound where sound is wanted: the display falls silent while it plays."""
    if one.profile.audio.use != "required":
        return NOT_APPLICABLE
    if one.file.media is None:
        return UNREAD_SOUND
    if one.file.media.audio:
        return PASSED
    return seen(
        "no sound",
        "sound",
        "The file holds no sound and this display is meant to have some: it falls silent while it plays.",
        "Ask for the file with its sound, or add a silent track so that the player does not stop at it.",
        fixable=True,
    )


@rule("audio-codec", severity="fail", scope="video", source="the profile; codec names as in ISO/IEC 14496-3")
def audio_codec(one: One) -> Answer:
    """The sound is packed with a codec that this player cannot unpack: it plays silent or skips the file."""
    tracks, allowed = sound(one), one.profile.audio.codecs
    if isinstance(tracks, NotApplicable | NotChecked):
        return tracks
    if allowed is None:
        return NOT_APPLICABLE
    wanted = choice(tuple(allowed))
    return tuple(
        Seen(
            track.codec,
            wanted,
            f"{_called(place, len(tracks))} is packed as {track.codec} and the player unpacks only {wanted}: "
            "the file plays silent or is skipped.",
            f"Encode the sound again as {next(iter(allowed))}."
            if allowed
            else "Remove the sound from the file.",
            fixable=True,
        )
        for place, track in enumerate(tracks)
        if track.codec not in allowed
    )


@rule(
    "audio-sample-rate", severity="fail", scope="video", source="the profile; ISO/IEC 14496-3 sampling rates"
)
def audio_sample_rate(one: One) -> Answer:
    """The sound has a sample rate that the player does not take: it plays silent, too fast or too slow."""

    def look(track: AudioFacts, limits: SoundLimits, name: str) -> Answer:
        allowed = limits.sample_rates
        if allowed is None:
            return NOT_APPLICABLE
        if track.sample_rate is None:
            return unsaid("the sample rate of its sound")
        if track.sample_rate in allowed:
            return PASSED
        wanted = choice([f"{rate:,}" for rate in allowed])
        return seen(
            f"{track.sample_rate:,} Hz",
            f"{wanted} Hz",
            f"{name} has {track.sample_rate:,} samples per second and the player takes {wanted}: the file "
            "plays silent, too fast or too slow.",
            f"Encode the sound again with a sample rate of {wanted} Hz.",
            fixable=True,
        )

    return _each(one, look)


@rule("audio-channels", severity="fail", scope="video", source="the profile")
def audio_channels(one: One) -> Answer:
    """The sound has more channels than the player takes: it plays silent, or speech is missing."""

    def look(track: AudioFacts, limits: SoundLimits, name: str) -> Answer:
        most = limits.channels_max
        if most is None:
            return NOT_APPLICABLE
        if track.channels is None:
            return unsaid("how many channels its sound has")
        if track.channels <= most:
            return PASSED
        return seen(
            f"{track.channels} channels",
            f"up to {most}",
            f"{name} has {track.channels} channels and the player takes up to {most}: the file plays silent, "
            "or parts of the sound, such as speech, are missing.",
            f"Mix the sound down to {most} {'channel' if most == 1 else 'channels'} and encode it again.",
            fixable=True,
        )

    return _each(one, look)


@rule("audio-bit-rate", severity="fail", scope="video", source="the profile")
def audio_bit_rate(one: One) -> Answer:
    """The sound takes more data than the player unpacks: it drops out, or the file is skipped."""

    def look(track: AudioFacts, limits: SoundLimits, name: str) -> Answer:
        most = limits.bit_rate_max
        if most is None:
            return NOT_APPLICABLE
        if track.bit_rate is None:
            return unsaid("the bit rate of its sound")
        if track.bit_rate <= most:
            return PASSED
        found, limit = over(track.bit_rate, most)
        return seen(
            found,
            f"up to {limit}",
            f"{name} takes {found} and the player takes up to {limit}: the sound drops out or the file is "
            "skipped.",
            f"Encode the sound again at {limit} or less.",
            fixable=True,
        )

    return _each(one, look)


def _each(one: One, look: Callable[[AudioFacts, SoundLimits, str], Answer]) -> Answer:
    """Ask about every track whose codec the player unpacks. A defect outweighs a fact that is missing."""
    tracks = sound(one)
    if isinstance(tracks, NotApplicable | NotChecked):
        return tracks
    answers = [look(*track) for track in _limited(one, tuple(tracks))]
    judged = [answer for answer in answers if isinstance(answer, tuple)]
    defects = tuple(defect for answer in judged for defect in answer)
    unchecked = [answer for answer in answers if isinstance(answer, NotChecked)]
    if defects or (judged and not unchecked):
        return defects
    return unchecked[0] if unchecked else NOT_APPLICABLE


def _limited(one: One, tracks: tuple[AudioFacts, ...]) -> Iterator[Track]:
    """The tracks for whose codec the profile may set limits: one that it does not list has none."""
    limits = {str(codec): value for codec, value in (one.profile.audio.codecs or {}).items()}
    for place, track in enumerate(tracks):
        if track.codec in limits:
            yield track, limits[track.codec], _called(place, len(tracks))


def _called(place: int, count: int) -> str:
    return "The sound" if count == 1 else f"Sound track {place + 1}"
