"""Rules about the size, shape and lie of the picture, judged from facts.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from fractions import Fraction

from mediacheck.media.facts import VideoFacts
from mediacheck.names import Scan
from mediacheck.profile import CodecLimits
from mediacheck.rules.model import COMMON_PRACTICE, NOT_APPLICABLE, PASSED, Answer, One, rule, seen
from mediacheck.rules.streams import limits, picture, pixels, unsaid
from mediacheck.rules.wording import number

SHAPE_TOLERANCE = Fraction(1, 100)
"""Bars or stretching of up to one part in a hundred go unseen (common practice, no source).

1366x768 and 854x480 stand for 16:9 and are within it.
"""
PIXEL_TOLERANCE = Fraction(1, 200)
"""Scaling leaves pixels such as 1280:1281; half a percent goes unseen (common practice, no source)."""

NEVER_INTERLACED = ("VP9", "AV1")
"""Codecs without interlaced coding (AV1 specification; VP9 from memory)."""

LIES = {90: "on its side", 180: "upside down", 270: "on its side"}


@rule("video-resolution", severity="fail", scope="video", source="the profile")
def video_resolution(one: One) -> Answer:
    """The picture is not the size that the player takes: it skips the file, or shows it small or cropped."""
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    size = limits(one, video)
    if size.width is size.height is size.width_max is size.height_max is None:
        return NOT_APPLICABLE
    if _fits(video, size):
        return PASSED
    found, wanted = pixels(video.width, video.height), _wanted(size)
    return seen(
        found,
        wanted,
        f"The picture is {found} pixels and the player takes {wanted}: {_what_shows(video, size)}.",
        "Turn the picture itself, not only its rotation mark, and encode it again."
        if _lies(video, size)
        else f"Scale the picture to {wanted} and encode it again.",
        fixable=True,
    )


def _fits(video: VideoFacts, size: CodecLimits) -> bool:
    return (
        size.width in (None, video.width)
        and size.height in (None, video.height)
        and (size.width_max is None or video.width <= size.width_max)
        and (size.height_max is None or video.height <= size.height_max)
    )


def _wanted(size: CodecLimits) -> str:
    if size.width and size.height:
        return pixels(size.width, size.height)
    if size.width_max and size.height_max:
        return f"up to {pixels(size.width_max, size.height_max)}"
    sides = (
        (size.width, "{} wide"),
        (size.width_max, "up to {} wide"),
        (size.height, "{} high"),
        (size.height_max, "up to {} high"),
    )
    return " and ".join(text.format(side) for side, text in sides if side)


def _lies(video: VideoFacts, size: CodecLimits) -> bool:
    """Whether width and height have only changed places."""
    return (video.width, video.height) == (size.height, size.width)


def _what_shows(video: VideoFacts, size: CodecLimits) -> str:
    if _lies(video, size):
        return "it skips the file or shows the picture small, with bars beside it"
    over_width = video.width > (size.width or size.width_max or video.width)
    over_height = video.height > (size.height or size.height_max or video.height)
    if over_width or over_height:
        return "the picture is too large for it, so it skips the file or stutters"
    return "it skips the file or shows the picture small, blurred or stretched"


@rule("video-interlaced", severity="fail", scope="video", source="the profile; ITU-T H.264 clause 7.4.2.1.1")
def video_interlaced(one: One) -> Answer:
    """The picture is stored as half pictures in turn (interlaced): edges that move look like combs."""
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    wanted = limits(one, video).scan
    if wanted is None:
        return NOT_APPLICABLE
    scan: Scan | None = "progressive" if video.codec in NEVER_INTERLACED else video.scan
    if scan is None:
        return unsaid("whether it is interlaced")
    if scan == wanted:
        return PASSED
    if wanted == "interlaced":
        return seen(
            scan,
            wanted,
            "The picture is stored as whole pictures and the player takes only half pictures in turn "
            "(interlaced): it skips the file.",
            "Encode the picture again as interlaced.",
        )
    return seen(
        scan,
        wanted,
        "The picture is stored as half pictures in turn (interlaced): the player skips the file, or edges "
        "that move look like combs.",
        "Deinterlace the picture and encode it again as progressive.",
        fixable=True,
    )


@rule("video-rotation", severity="fail", scope="video", source=COMMON_PRACTICE)
def video_rotation(one: One) -> Answer:
    """The file asks the player to turn the picture: simple players ignore that and show it lying down."""
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    turn = video.rotation % 360
    if turn == 0:
        return PASSED
    return seen(
        f"{turn} degrees clockwise",
        "0 degrees",
        f"The file asks the player to turn the picture by {turn} degrees clockwise; simple players ignore "
        f"that and show it {LIES.get(turn, 'askew')}.",
        "Turn the picture itself and encode it again without the rotation mark.",
        fixable=True,
    )


@rule(
    "video-pixel-aspect",
    severity="fail",
    scope="video",
    source="ITU-T H.264 Table E-1; what shows: common practice",
)
def video_pixel_aspect(one: One) -> Answer:
    """The pixels are not square: simple players ignore that and show the picture squeezed or stretched."""
    video = picture(one)
    if not isinstance(video, VideoFacts):
        return video
    shape = video.pixel_aspect
    if abs(shape - 1) <= PIXEL_TOLERANCE:
        return PASSED
    found = f"{shape.numerator}:{shape.denominator}"
    shows = "too narrow" if shape > 1 else "too wide"
    return seen(
        found,
        "1:1",
        f"The pixels are not square ({found}); simple players ignore that, and everything looks {shows}.",
        "Scale the picture to square pixels and encode it again.",
        fixable=True,
    )


@rule("video-shape", severity="warn", scope="video", source=COMMON_PRACTICE)
def video_shape(one: One) -> Answer:
    """The picture has another shape than the screen: the player adds bars or stretches it.

    Both are taken as the panel takes them, before it is turned: a picture for a turned panel is turned
    before encoding. A rotation mark is not followed here, since simple players ignore it.
    """
    video, screen = picture(one), one.profile.screen
    if not isinstance(video, VideoFacts):
        return video
    if screen.width is None or screen.height is None:
        return NOT_APPLICABLE
    shape, wanted = video.pixel_aspect * video.width / video.height, Fraction(screen.width, screen.height)
    if abs(shape / wanted - 1) <= SHAPE_TOLERANCE:
        return PASSED
    bars = "above and below" if shape > wanted else "on the left and right of"
    return seen(
        f"{number(shape)}:1 ({pixels(video.width, video.height)})",
        f"{number(wanted)}:1 ({pixels(screen.width, screen.height)})",
        f"The picture does not have the shape of the screen: black bars appear {bars} it, or it looks "
        "stretched.",
        f"Ask for a version of {pixels(screen.width, screen.height)} pixels, or accept the bars.",
    )
