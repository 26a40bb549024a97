"""Rules about the container, the wrapping in which picture and sound come, judged from facts.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.measure.model import Measurements
from mediacheck.media.facts import ContainerFacts, Disagreement, Unreadable, VideoFacts
from mediacheck.rules.frames_lost import Lost, lost_frames, same_again
from mediacheck.rules.model import (
    COMMON_PRACTICE,
    NOT_APPLICABLE,
    PASSED,
    Answer,
    One,
    Seen,
    rule,
    seen,
)
from mediacheck.rules.streams import UNREAD_CONTAINER, choice, container, pixels, unsaid
from mediacheck.rules.wording import clause, number

WITH_INDEX = ("MP4", "MOV", "AVI")
"""Containers in which players look for one index of all pictures."""

WITH_LENGTH = ("MP4", "MOV", "AVI", "MKV", "WebM")
"""Containers that say how long they are, and so can be found cut off."""

WITH_FRAGMENTS = ("MP4", "MOV")

WITH_LOCKS = ("MP4", "MOV")
"""Containers in which encryption is looked for (ISO/IEC 23001-7, from memory)."""


@rule("container-format", severity="fail", scope="video", source="the profile")
def container_format(one: One) -> Answer:
    """The file is wrapped in a container that this player does not open: it skips the file."""
    wrapping, allowed = container(one), one.profile.video.containers
    if not isinstance(wrapping, ContainerFacts):
        return wrapping
    if allowed is None:
        return NOT_APPLICABLE
    if wrapping.name in allowed:
        return PASSED
    wanted = choice(allowed)
    return seen(
        wrapping.name,
        wanted,
        f"The file is wrapped as {wrapping.name} and the player opens only {wanted}: it skips this file.",
        f"Export the file again as {allowed[0] if allowed else wanted}; changing the ending of its name is "
        "not enough.",
        fixable=True,
    )


@rule(
    "container-truncated",
    severity="fail",
    scope="video",
    source="ISO/IEC 14496-12 clause 4.2 (box sizes), RIFF and RFC 8794 sizes; from memory",
)
def container_truncated(one: One) -> Answer:
    """The file ends before it should, as after a broken copy: the player stops there, or skips the file.

    Transport and program streams do not say how long they are and cannot be judged by this.
    """
    wrapping = container(one)
    if isinstance(one.file.facts, Unreadable) and one.file.facts.container:
        wrapping = one.file.facts.container if one.file.facts.container.truncated else wrapping
    if not isinstance(wrapping, ContainerFacts):
        return wrapping
    if wrapping.truncated is None:
        return PASSED if wrapping.name in WITH_LENGTH else NOT_APPLICABLE
    cut = clause(wrapping.truncated)
    return seen(
        cut,
        "a whole file",
        f"The file is cut off ({cut}): the player stops or hangs there, or skips it.",
        "Copy the file again from its source and compare the sizes.",
    )


@rule("container-index", severity="warn", scope="video", source=COMMON_PRACTICE)
def container_index(one: One) -> Answer:
    """The index of the file is missing or stands at its end: simple players start slowly or skip the file."""
    wrapping = container(one)
    if not isinstance(wrapping, ContainerFacts):
        return wrapping
    if wrapping.index is None:
        return unsaid("where its index is") if wrapping.name in WITH_INDEX else NOT_APPLICABLE
    if wrapping.index == "first":
        return PASSED
    if wrapping.index == "missing":
        return seen(
            "no index",
            "an index",
            "The file has no index of its pictures: a simple player skips it, or cannot start it again.",
            "Write the file again with an index; the picture need not be encoded again.",
            fixable=True,
        )
    return seen(
        "index at the end",
        "index at the start",
        "The index of the file stands behind its pictures: a simple player starts it late, with a black gap, "
        "or skips it.",
        "Write the file again with its index first (fast start); the picture need not be encoded again.",
        fixable=True,
    )


@rule("container-fragmented", severity="warn", scope="video", source=COMMON_PRACTICE)
def container_fragmented(one: One) -> Answer:
    """The file is cut into fragments, as for streaming: many simple players show its start or skip it."""
    wrapping = container(one)
    if not isinstance(wrapping, ContainerFacts):
        return wrapping
    if wrapping.name not in WITH_FRAGMENTS:
        return NOT_APPLICABLE
    if not wrapping.fragmented:
        return PASSED
    return seen(
        "fragments",
        "one piece",
        "The file is made of fragments, as for streaming: many simple players show only its start, or "
        "skip it.",
        "Write the file again in one piece; the picture need not be encoded again.",
        fixable=True,
    )


@rule("container-encrypted", severity="fail", scope="video", source="ISO/IEC 23001-7 (from memory)")
def container_encrypted(one: One) -> Answer:
    """The file is locked with copy protection: without its key the player shows nothing."""
    wrapping = container(one)
    if not isinstance(wrapping, ContainerFacts):
        return wrapping
    if not wrapping.encrypted:
        return PASSED if wrapping.name in WITH_LOCKS else NOT_APPLICABLE
    return seen(
        "encrypted",
        "not encrypted",
        "The file is locked with copy protection: the player has no key and shows nothing.",
        "Ask the sender for a version without copy protection.",
    )


FRAMES_APART = 0.01
FRAMES_APART_MIN = 2
"""A frame or two at the ends of a cut are no contradiction (common practice, no source)."""
SECONDS_APART = 0.02
SECONDS_APART_MIN = 0.5
"""As between the two readers of the headers (common practice, no source)."""


@rule("readers-disagree", severity="warn", scope="video", source=COMMON_PRACTICE)
def readers_disagree(one: One) -> Answer:
    """Two ways of reading the file give different answers: a player may take either, and show it wrongly.

    The two readers of the headers are held against each other and, in a full check, the headers against
    the pictures that were decoded: their size, their number and how long they last. Number and length
    of a damaged file follow from the damage and are left out, as is what picture-damaged knows to be no
    damage.
    """
    media, measured = one.file.media, one.file.measurements
    if media is None:
        return UNREAD_CONTAINER
    told = [_two_readers(differing) for differing in media.disagreements]
    if media.video is not None and isinstance(measured, Measurements) and measured.frames:
        told += _against_the_picture(media.video, measured, media.container)
    return tuple(told)


def _two_readers(differing: Disagreement) -> Seen:
    return _disagreement(
        differing.fact, (differing.libavformat, "libavformat"), (differing.libmediainfo, "libmediainfo")
    )


def _disagreement(fact: str, first: tuple[str, str], second: tuple[str, str]) -> Seen:
    """Two answers, each with who gives it."""
    return Seen(
        f"{first[0]} ({first[1]}), {second[0]} ({second[1]})",
        "the same answer twice",
        f"The file contradicts itself about its {fact} ({first[0]} or {second[0]}): the player may go by "
        "either and show it wrongly.",
        "Encode the file again, or try it on the player before the card goes out.",
    )


def _against_the_picture(
    video: VideoFacts, measured: Measurements, wrapping: ContainerFacts | None
) -> Iterator[Seen]:
    pairs = [_sizes(video, measured)]
    damaged = measured.decode_error_count or isinstance(lost_frames(video, measured), Lost)
    if not damaged and not (wrapping and wrapping.truncated):
        pairs += [_counts(video, measured), _lengths(video, measured)]
    for fact, said, shown in filter(None, pairs):
        yield _disagreement(fact, (said, "headers"), (shown, "decoded"))


Pair = tuple[str, str, str] | None
"""A fact, what the headers say of it, and what decoding showed; None where both agree or one is silent."""


def _sizes(video: VideoFacts, measured: Measurements) -> Pair:
    if measured.width is None or measured.height is None:
        return None
    said, shown = pixels(video.width, video.height), pixels(measured.width, measured.height)
    return ("size in pixels", said, shown) if said != shown else None


def _counts(video: VideoFacts, measured: Measurements) -> Pair:
    """Two packets may make one frame where the picture is coded in fields, or might be.

    Besides, as many may be missing as lead up to the first keyframe, or only say that the picture stays.
    """
    if video.packets is None:
        return None
    count, frames = video.packets.count, measured.frames
    likely = (count,) if video.scan == "progressive" else (count, count // 2)
    absent = video.packets.leading + same_again(video, video.packets)
    for each in likely:
        apart = max(FRAMES_APART_MIN, FRAMES_APART * each)
        if each - absent - apart <= frames <= each + apart:
            return None
    return "number of frames", f"{count:,}", f"{frames:,}"


def _lengths(video: VideoFacts, measured: Measurements) -> Pair:
    if video.duration is None:
        return None
    said, shown = float(video.duration), measured.seconds
    if abs(said - shown) <= max(SECONDS_APART_MIN, SECONDS_APART * max(said, shown)):
        return None
    return "length in seconds", number(said), number(shown)
