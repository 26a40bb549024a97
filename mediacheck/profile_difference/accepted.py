"""What a profile lets through at all: videos, stills, sound, and which codecs.

It must not compare two profiles. A rule that is off or only notes lets through what its key refuses.
"""

from __future__ import annotations

from typing import get_args

from mediacheck.names import VideoCodec
from mediacheck.profile import Profile
from mediacheck.profile_difference.severity import lets_pass


def takes_videos(profile: Profile) -> bool:
    """Whether any video can fit."""
    containers, codecs = profile.video.containers, profile.video.codecs
    return (containers != () or lets_pass(profile, "container-format")) and (
        codecs != {} or lets_pass(profile, "video-codec")
    )


def takes_stills(profile: Profile) -> bool:
    """Whether any still can fit."""
    return profile.stills.formats != () or lets_pass(profile, "still-format")


def video_codecs(profile: Profile) -> tuple[VideoCodec, ...]:
    """The codecs in which a video may fit: all that have a name where they are not restricted."""
    named: tuple[VideoCodec, ...] = get_args(VideoCodec)
    codecs = profile.video.codecs
    return named if codecs is None or lets_pass(profile, "video-codec") else tuple(codecs)


def may_have_sound(profile: Profile) -> bool:
    """Whether a video with sound can fit."""
    silent = profile.audio.use == "none" and not lets_pass(profile, "audio-unwanted")
    return not silent and (profile.audio.codecs != {} or lets_pass(profile, "audio-codec"))


def may_be_without_sound(profile: Profile) -> bool:
    """Whether a video without sound can fit."""
    return profile.audio.use != "required" or lets_pass(profile, "audio-missing")
