"""The part of a file that a rule is about, beside the limits that the profile sets for it.

It must not judge: it only says whether there is something to compare.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from mediacheck.media.facts import AudioFacts, ContainerFacts, VideoFacts
from mediacheck.profile import CodecLimits
from mediacheck.rules.model import NOT_APPLICABLE, NotApplicable, NotChecked, One
from mediacheck.rules.wording import either, number

UNREAD = NotChecked("the file could not be read, so its picture was not checked", expected=False)
UNREAD_SOUND = NotChecked("the file could not be read, so its sound was not checked", expected=False)
UNREAD_CONTAINER = NotChecked("the file could not be read, so its container was not checked", expected=False)


def unsaid(fact: str) -> NotChecked:
    """The answer where the file leaves out a fact that the rule needs: `unsaid("its level")`."""
    return NotChecked(f"the file does not say {fact}", expected=False)


def picture(one: One) -> VideoFacts | NotApplicable | NotChecked:
    """The picture stream, or the answer of every rule about pictures where there is none to look at."""
    if one.file.media is None:
        return UNREAD
    return one.file.media.video or NOT_APPLICABLE


def container(one: One) -> ContainerFacts | NotChecked:
    """The container, or the answer of every rule about containers where there is none to look at."""
    if one.file.media is None:
        return UNREAD_CONTAINER
    return one.file.media.container or unsaid("what container it is")


def sound(one: One) -> Sequence[AudioFacts] | NotApplicable | NotChecked:
    """The sound tracks; no sound, or sound that the profile does not want, leaves nothing to compare."""
    if one.file.media is None:
        return UNREAD_SOUND
    wanted = one.profile.audio.use != "none"
    return one.file.media.audio if wanted and one.file.media.audio else NOT_APPLICABLE


def limits(one: One, video: VideoFacts) -> CodecLimits:
    """The limits that hold for the codec of this picture."""
    return one.profile.video.limits_for(video.codec)


def takes_codec(one: One, video: VideoFacts) -> bool:
    """Whether the player unpacks this codec at all; where not, its profiles and levels mean nothing."""
    allowed = one.profile.video.codecs
    return allowed is None or video.codec in allowed


def bit_rate(bit_s: float | Fraction) -> str:
    """As people in the trade say it: "20 Mbit/s", "128 kbit/s"."""
    return f"{number(bit_s / 10**6)} Mbit/s" if bit_s >= 10**6 else f"{number(bit_s / 1000)} kbit/s"


def over(bit_s: int, most_bit_s: int) -> tuple[str, str]:
    """A bit rate and the limit that it is over, to the bit where they would otherwise read the same."""
    found, most = bit_rate(bit_s), bit_rate(most_bit_s)
    return (found, most) if found != most else (f"{bit_s:,} bit/s", f"{most_bit_s:,} bit/s")


def pixels(width: int, height: int) -> str:
    """A size on the screen: "1920x1080"."""
    return f"{width}x{height}"


def choice(values: Sequence[object]) -> str:
    """What a list of the profile leaves to choose from: "8 or 10"."""
    return either([str(value) for value in values]) if values else "nothing"
