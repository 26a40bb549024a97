"""Rules about bars, flashes and combs in the picture, judged from the measurements of one whole decode.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from mediacheck.measure.model import Bars, Combed, Flash, Measurements
from mediacheck.media.facts import VideoFacts
from mediacheck.rules.measured import decoded, untold
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
from mediacheck.rules.streams import picture

BARS_SHARE_MAX = Fraction(1, 200)
"""Share of the width or height up to which a bar goes unseen (common practice, no source)."""
FILE_SIDES = ("top", "right", "bottom", "left")
"""Clockwise, so that a turned panel only moves them on."""
TOO_DARK = NotChecked(
    "its picture is too dark or too short to tell whether black bars are part of it", expected=True
)
SCREEN_SIDES = ("at the top", "on the right", "at the bottom", "on the left")

FLASHES_MAX = 3
"""In any one second (WCAG 2.2, SC 2.3.1; ITU-R BT.1702)."""
CAUTION = "this is a screening, not a certificate, and the local broadcaster or safety rule decides"

COMBED_SHARE_MIN = 0.3
"""Film that was carried over to interlaced video has 2 woven pictures in 5, true interlaced video all; a few
inserts in a clip stay below (common practice, no source)."""
MOVING_MIN = 8
"""Fewer pictures that move tell nothing about the whole clip (common practice, no source)."""
TOO_STILL = NotChecked("too little moves in the picture to tell whether it is interlaced", expected=True)
ALIKE = NotChecked(
    "what moves in the picture is so fine, or moves so evenly, that it looks alike whether interlaced or not",
    expected=True,
)


@rule("picture-bars", severity="warn", scope="video", depth="full", source=COMMON_PRACTICE)
def picture_bars(one: One) -> Answer:
    """Black bars are part of the picture itself: the screen is not filled and everything looks too small.

    Bars of up to one part in two hundred of the width or height go unseen and pass.
    """
    video, measured = picture(one), decoded(one.file)
    if not isinstance(video, VideoFacts):
        return video
    if not isinstance(measured, Measurements):
        return measured
    if measured.bars is None:
        return TOO_DARK
    width, height = measured.width or video.width, measured.height or video.height
    sides = _visible(measured.bars, width, height)
    if not sides:
        return PASSED
    turned = one.profile.screen.turned_degrees // 90
    shown = sorted(((side + turned) % 4, bar) for side, bar in sides)
    on_screen = " and ".join(f"{bar:,} px {SCREEN_SIDES[side]}" for side, bar in shown)
    mounted = " of the turned screen" if turned else ""
    return seen(
        ", ".join(f"{bar:,} px {FILE_SIDES[side]}" for side, bar in sides),
        "no bars",
        f"Black bars are part of the picture itself ({on_screen}{mounted}): the screen is not filled and "
        "everything looks smaller than it should.",
        "Ask for an export without bars, or crop them away and scale the picture up to the screen.",
    )


def _visible(bars: Bars, width: int, height: int) -> list[tuple[int, int]]:
    """Side of the file's picture (clockwise from the top) and pixels of each bar that can be seen."""
    widths = (bars.top_px, bars.right_px, bars.bottom_px, bars.left_px)
    across = (height, width, height, width)
    return [
        (side, bar)
        for side, (bar, whole) in enumerate(zip(widths, across, strict=True))
        if bar > BARS_SHARE_MAX * whole
    ]


@rule(
    "picture-flash",
    severity="fail",
    scope="video",
    depth="full",
    source="WCAG 2.2, SC 2.3.1; ITU-R BT.1702 (second-hand)",
)
def picture_flash(one: One) -> Answer:
    """The picture flashes more than three times in a second: a hazard for people with photosensitive
    epilepsy in front of the screen.

    General flashes are pairs of opposing changes of brightness over more than a quarter of the screen, red
    ones go to or from a saturated red. This is a screening, not a certificate; the local broadcaster or
    safety rule decides what may be shown.
    """
    measured = decoded(one.file)
    if not isinstance(measured, Measurements):
        return measured
    if measured.flash is None:
        return untold("whether its picture flashes")
    kinds = tuple(_too_many(measured.flash))
    return _flashing(kinds) if kinds else PASSED


def _too_many(flash: Flash) -> Iterator[tuple[str, str]]:
    """For each kind of flash that is over the limit: what was found, and how the message says it."""
    kinds = (
        (flash.general_max, flash.general_at_s, "flashes", "times"),
        (flash.red_max, flash.red_at_s, "red flashes", "times to or from strong red"),
    )
    for count, at_s, flashes, times in kinds:
        if count > FLASHES_MAX:
            place = "" if at_s is None else f" from {at_s:.1f} s on"
            yield f"{count} {flashes} in one second{place}", f"{count} {times} in one second{place}"


def _flashing(kinds: Sequence[tuple[str, str]]) -> Answer:
    return seen(
        ", ".join(found for found, _ in kinds),
        f"up to {FLASHES_MAX} flashes in any second",
        f"The screen flashes {' and '.join(said for _, said in kinds)}, and more than {FLASHES_MAX} are a "
        f"hazard for people with photosensitive epilepsy who pass the display: {CAUTION}.",
        "Keep this item off the display until its flashes have been made slower, smaller or weaker and it "
        "has been tested by those who certify it.",
    )


@rule("picture-combed", severity="warn", scope="video", depth="full", source=COMMON_PRACTICE)
def picture_combed(one: One) -> Answer:
    """Pictures that call themselves whole are woven from two moments: edges that move look like combs.

    Only pictures with enough movement can tell. A file that says that it is interlaced is for
    video-interlaced.
    """
    video, measured = picture(one), decoded(one.file)
    if not isinstance(video, VideoFacts):
        return video
    if video.scan == "interlaced":
        return NOT_APPLICABLE
    if not isinstance(measured, Measurements):
        return measured
    if measured.combed is None:
        return untold("whether its pictures are woven from two moments")
    share, moving = measured.combed.share, measured.combed.moving
    if moving < MOVING_MIN:
        return _untold_of(measured.combed)
    if share < COMBED_SHARE_MIN:
        return PASSED
    return seen(
        f"{share:.0%} of the moving pictures woven from two moments",
        "whole pictures",
        f"{share:.0%} of the pictures that move are woven from two moments (interlaced), though the file "
        "does not say so: on the screen, edges that move look like combs.",
        "Ask for a progressive version, or deinterlace the picture and encode it again.",
        fixable=True,
    )


def _untold_of(combed: Combed) -> Answer:
    """Where nothing moves at all, nothing can look like a comb."""
    if combed.moving + combed.unclear >= MOVING_MIN:
        return ALIKE
    return TOO_STILL if combed.moving or combed.unclear else NOT_APPLICABLE
