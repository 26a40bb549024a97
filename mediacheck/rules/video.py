"""Rules about how the picture is packed: its codec, profile, level, depth and colour, judged from facts.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from mediacheck.media.facts import VideoFacts
from mediacheck.media.levels import NO_LEVEL, has_levels, level_order
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
from mediacheck.rules.streams import UNREAD, choice, limits, picture, takes_codec, unsaid

PROFILE_FAMILY = {
    "constrained baseline": "baseline",
    "progressive high": "high",
    "constrained high": "high",
}
"""Profiles that every decoder of the other profile plays (ITU-T H.264 clauses A.2.1.1, A.2.4.1, A.2.4.2)."""

BEYOND_STANDARD_SCREENS = {
    "smpte2084": "HDR (PQ)",
    "arib-std-b67": "HDR (HLG)",
    "bt2020": "wide colour (BT.2020)",
    "smpte431": "wide colour (DCI-P3)",
    "smpte432": "wide colour (P3-D65)",
}
"""Transfer curves and primaries that a standard screen cannot show; names as in `VideoFacts`."""


@rule("video-missing", severity="fail", scope="video", source=COMMON_PRACTICE)
def video_missing(one: One) -> Answer:
    """The file has the name of a video and holds no picture: the screen stays black while it plays."""
    if one.file.media is None:
        return UNREAD
    if one.file.media.video:
        return PASSED
    held = "only sound" if one.file.media.audio else "neither picture nor sound"
    return seen(
        held,
        "a picture",
        f"The file is named as a video but holds {held}: the screen stays black or the player skips it.",
        "Ask for the file again with its picture, or take it off the card.",
    )


@rule("video-extra-stream", severity="warn", scope="video", source=COMMON_PRACTICE)
def video_extra_stream(one: One) -> Answer:
    """The file holds more than one moving picture: a player shows one of them, and perhaps the wrong one."""
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    extra = one.file.media.extra_video_streams if one.file.media else 0
    if not extra:
        return PASSED
    return seen(
        f"{1 + extra} picture streams",
        "1 picture stream",
        f"The file holds {1 + extra} moving pictures and the player shows only one of them, "
        "which may be the wrong one.",
        "Export the file again with one picture stream only.",
        fixable=True,
    )


@rule(
    "video-codec",
    severity="fail",
    scope="video",
    source="the profile; codec names as in ITU-T H.264, H.265 and ISO/IEC 14496",
)
def video_codec(one: One) -> Answer:
    """The picture is packed with a codec that this player cannot unpack: it skips the file or shows black."""
    video, allowed = picture(one), one.profile.video.codecs
    if not isinstance(video, VideoFacts):
        return video
    if allowed is None:
        return NOT_APPLICABLE
    if video.codec in allowed:
        return PASSED
    wanted = choice(tuple(allowed))
    return seen(
        video.codec,
        wanted,
        f"The picture is packed as {video.codec}; the player unpacks only {wanted} and will skip this file."
        if allowed
        else "The player shows no moving pictures at all and will skip this file.",
        f"Encode the picture again as {next(iter(allowed))}." if allowed else "Take the file off the card.",
        fixable=bool(allowed),
    )


@rule("video-profile", severity="fail", scope="video", source="the profile; ITU-T H.264 and H.265 Annex A")
def video_profile(one: One) -> Answer:
    """The picture uses coding tools beyond those of this player: it skips the file or shows a torn picture.

    A codec that the player does not unpack at all is the finding of `video-codec` alone.
    """
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    allowed = limits(one, video).profiles
    if allowed is None:
        return NOT_APPLICABLE
    if video.profile is None:
        return unsaid("which profile of its codec it uses")
    name = video.profile.casefold()
    if {name, PROFILE_FAMILY.get(name, name)} & {other.casefold() for other in allowed}:
        return PASSED
    wanted = choice(allowed)
    return seen(
        video.profile,
        wanted,
        f"The picture is coded in the {video.codec} profile {video.profile} (a set of coding tools) and the "
        f"player knows only {wanted}: it skips this file or shows a torn picture.",
        f"Encode the picture again in the profile {allowed[-1] if allowed else wanted}.",
        fixable=True,
    )


@rule("video-level", severity="fail", scope="video", source="the profile; ITU-T H.264 and H.265 Annex A")
def video_level(one: One) -> Answer:
    """The picture is marked with a level above the player's: it skips the file, or stutters through it."""
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    most = limits(one, video).level_max
    if most is None or not has_levels(video.codec) or not takes_codec(one, video):
        return NOT_APPLICABLE
    if video.level is None:
        return unsaid("its level")
    ranks = level_order(video.codec, video.level), level_order(video.codec, most)
    if ranks[0] is None or ranks[1] is None:
        return NotChecked(
            f"the levels {video.level} (file) and {most} (profile) of {video.codec} do not compare", False
        )
    if ranks[0] <= ranks[1]:
        return PASSED
    return seen(
        video.level,
        f"up to {most}",
        f"The picture is marked as {video.codec} level {video.level} (how fast a player must be) and this "
        f"player goes up to {most}: it skips the file or stutters.",
        f"Encode the picture again for level {most}.",
        fixable=True,
    )


@rule(
    "video-level-understated",
    severity="warn",
    scope="video",
    source="ITU-T H.264 Table A-1; ITU-T H.265 Tables A.8 and A.9",
)
def video_level_understated(one: One) -> Answer:
    """The picture needs a higher level than its header says: the player takes the file and then stutters."""
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    if video.codec not in ("H.264", "H.265"):
        return NOT_APPLICABLE
    if video.level is None:
        return unsaid("its level")
    if video.level_needed is None:
        return NotChecked("the level that the picture really needs could not be worked out", expected=False)
    said, needed = (level_order(video.codec, level) for level in (video.level, video.level_needed))
    if said is None or needed is None:
        return NotChecked(f"{video.level} is not a level of {video.codec}", expected=False)
    if needed <= said:
        return PASSED
    return _understated(video)


def _understated(video: VideoFacts) -> Answer:
    needs = "more than any level" if video.level_needed == NO_LEVEL else f"level {video.level_needed}"
    reason = f" ({video.level_reason})" if video.level_reason else ""
    return seen(
        video.level,
        needs,
        f"The file says that level {video.level} (how fast a player must be) is enough, but its picture "
        f"needs {needs}{reason}: the player takes the file and then stutters or stops.",
        "Encode the picture again with the level that it needs, or smaller, slower or at a lower bit rate.",
        fixable=True,
    )


@rule("video-bit-depth", severity="fail", scope="video", source="the profile; ITU-T H.264 clause A.2")
def video_bit_depth(one: One) -> Answer:
    """The picture has more bits per colour than this player unpacks: the file is skipped or looks torn."""
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    allowed = limits(one, video).bit_depths
    if allowed is None:
        return NOT_APPLICABLE
    if video.bit_depth is None:
        return unsaid("how many bits each colour has")
    if video.bit_depth in allowed:
        return PASSED
    wanted = choice(allowed)
    return seen(
        f"{video.bit_depth} bit",
        f"{wanted} bit",
        f"The picture has {video.bit_depth} bits per colour and the player unpacks {wanted}: it skips this "
        "file or shows a torn picture.",
        f"Encode the picture again with {wanted} bits per colour.",
        fixable=True,
    )


@rule("video-chroma", severity="fail", scope="video", source="the profile; ITU-T H.264 clause A.2")
def video_chroma(one: One) -> Answer:
    """The colours are stored more finely than this player unpacks: the file is skipped or looks green."""
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    allowed = limits(one, video).chroma
    if allowed is None:
        return NOT_APPLICABLE
    if video.chroma is None:
        return unsaid("how finely its colours are stored")
    if video.chroma in allowed:
        return PASSED
    wanted = choice(allowed)
    return seen(
        video.chroma,
        wanted,
        f"The colours are stored as {video.chroma} (how finely they are kept) and the player unpacks only "
        f"{wanted}: it skips this file or shows wrong colours.",
        f"Encode the picture again with {wanted} colour (pixel format yuv420p for 4:2:0 at 8 bits).",
        fixable=True,
    )


@rule(
    "video-colour",
    severity="warn",
    scope="video",
    source="ITU-T H.273 code points; what shows: common practice",
)
def video_colour(one: One) -> Answer:
    """The picture is marked for an HDR or wide-colour screen: on a standard screen it looks grey and pale.

    A file that names no colours counts as standard: that is how players take it (common practice).
    """
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    marks = (video.colour_transfer or "", video.colour_primaries or "")
    found = [BEYOND_STANDARD_SCREENS[mark] for mark in marks if mark in BEYOND_STANDARD_SCREENS]
    if not found:
        return PASSED
    return seen(
        ", ".join(found),
        "standard colour (BT.709)",
        f"The picture is made for {' and '.join(found)}, and a standard screen shows it grey and pale.",
        "Convert the picture to standard colour (BT.709) and encode it again.",
        fixable=True,
    )
