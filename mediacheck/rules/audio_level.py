"""Rules about how loud the sound of a clip is, judged from the measurements of one whole decode.

It must not open files: everything it reads was found out before. The first sound track is judged, the one
that players play.
"""

from __future__ import annotations

from mediacheck.measure.model import SILENT_PEAK_DBFS, Sound
from mediacheck.rules.measured import heard
from mediacheck.rules.model import (
    COMMON_PRACTICE,
    NOT_APPLICABLE,
    PASSED,
    Answer,
    NotChecked,
    One,
    rule,
    seen,
)
from mediacheck.rules.wording import number

TOO_LITTLE = NotChecked("its sound is too short or too quiet for its level to be measured", expected=True)
SHOWN_DECIMALS = 1
"""Levels are judged as exactly as they are shown."""
STEREO = ("left", "right")


@rule(
    "audio-loudness",
    severity="warn",
    scope="video",
    depth="full",
    source="the profile; measured as in ITU-R BS.1770 and EBU R 128",
)
def audio_loudness(one: One) -> Answer:
    """The sound is louder or quieter than agreed: it is too loud in the store, or nobody hears it."""
    wanted, tolerance = one.profile.audio.loudness_lufs, one.profile.audio.loudness_tolerance_lu
    if wanted is None:
        return NOT_APPLICABLE
    sound = heard(one.file, one.profile)
    if not isinstance(sound, Sound):
        return sound
    if sound.loudness_lufs is None:
        return _no_level(sound)
    found = round(sound.loudness_lufs, SHOWN_DECIMALS)
    off = abs(round(found - wanted, 3))
    if off <= tolerance:
        return PASSED
    how, shows = (
        ("louder", "it is too loud for the people near the display")
        if found > wanted
        else ("quieter", "people in front of the display hardly hear it")
    )
    return seen(
        f"{number(found)} LUFS",
        f"{number(wanted)} LUFS, give or take {number(tolerance)} LU",
        f"The sound is {number(off)} LU (steps of loudness, as large as decibels) {how} than agreed: when "
        f"this item plays, {shows}.",
        f"Bring the sound to {number(wanted)} LUFS and encode it again.",
        fixable=True,
    )


def _no_level(sound: Sound) -> Answer:
    """Silence has no level; that it is silent is for audio-silent to say."""
    return NOT_APPLICABLE if sound.silent else TOO_LITTLE


@rule(
    "audio-peak",
    severity="warn",
    scope="video",
    depth="full",
    source="the profile; measured as in ITU-R BS.1770, Annex 2",
)
def audio_peak(one: One) -> Answer:
    """The loudest moments of the sound go beyond what the player can put out: they crackle."""
    most = one.profile.audio.true_peak_dbtp_max
    if most is None:
        return NOT_APPLICABLE
    sound = heard(one.file, one.profile)
    if not isinstance(sound, Sound):
        return sound
    if sound.true_peak_dbtp is None:
        return _no_level(sound)
    found = round(sound.true_peak_dbtp, SHOWN_DECIMALS)
    if found <= most:
        return PASSED
    over = number(round(found - most, 3))
    return seen(
        f"{number(found)} dBTP",
        f"up to {number(most)} dBTP",
        f"The loudest moments of the sound reach {number(found)} dBTP (decibels of true peak), {over} dB "
        "more than agreed: they may crackle when the player puts them out.",
        f"Lower the sound by {over} dB or more, or use a limiter, and encode it again.",
        fixable=True,
    )


@rule("audio-silent", severity="warn", scope="video", depth="full", source=COMMON_PRACTICE)
def audio_silent(one: One) -> Answer:
    """The sound track is silent from start to end, or one of its channels is: the display, or one of its
    loudspeakers, makes no sound.

    Silent means that every sample stays below a thousandth of full scale (-60 dBFS). Of more than two
    channels only the first two, front left and right, are asked about: the others are often empty on
    purpose.
    """
    sound = heard(one.file, one.profile)
    if not isinstance(sound, Sound):
        return sound
    if sound.silent:
        return _all_silent()
    front = sound.channel_peaks_dbfs[: len(STEREO)]
    dead = [STEREO[place] for place in sound.dead_channels if place < len(front)]
    return _half_silent(dead, len(sound.channel_peaks_dbfs)) if dead else PASSED


def _all_silent() -> Answer:
    return seen(
        "silence from start to end",
        f"sound of {number(SILENT_PEAK_DBFS)} dBFS or more",
        "The file has a sound track, and it is silent from start to end: the display makes no sound while "
        "this item plays.",
        "Leave it if this item is meant to be silent; otherwise ask for the file with its sound.",
    )


def _half_silent(dead: list[str], channels_there: int) -> Answer:
    """Both can only be dead where there are more than two channels, and another one has sound."""
    channels = " and ".join(dead)
    one = len(dead) == 1
    return seen(
        f"silence on the {channels} {'channel' if one else 'channels'}",
        "sound on both channels",
        f"The {channels} {'channel is' if one else 'channels are'} silent from start to end: the "
        f"{channels} {'loudspeaker' if one else 'loudspeakers'} of the display "
        f"{'makes' if one else 'make'} no sound while this item plays.",
        "Ask for the file with sound on both channels, or put the same sound on both.",
        fixable=channels_there == len(STEREO),
    )
