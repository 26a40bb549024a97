"""Rules about still pictures, judged from facts.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from mediacheck.media.facts import StillFacts
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
from mediacheck.rules.wording import clause, either

UNREAD = NotChecked("the file could not be read, so its picture was not checked", expected=False)

SHOWN_AS = {
    2: "in mirror writing",
    3: "upside down",
    4: "upside down and in mirror writing",
    5: "lying on its side and in mirror writing",
    6: "lying on its side",
    7: "lying on its side and in mirror writing",
    8: "lying on its side",
}
"""How a picture looks where its EXIF orientation (tag 0112h, CIPA DC-008) is ignored."""


def _still(one: One) -> StillFacts | NotChecked | None:
    """The picture; UNREAD where the file could not be read, None where it is no still after all."""
    return one.file.media.still if one.file.media else UNREAD


def _takes(one: One, still: StillFacts) -> bool:
    """Whether the player takes this format at all; where not, `still-format` says so and that is enough."""
    formats = one.profile.stills.formats
    return formats is None or still.format in formats


@rule("still-format", severity="fail", scope="still", source="the profile; " + COMMON_PRACTICE)
def still_format(one: One) -> Answer:
    """The still is in a format that this player cannot show: it skips it or shows a blank screen."""
    still, formats = _still(one), one.profile.stills.formats
    if isinstance(still, NotChecked):
        return still
    if still is None or formats is None:
        return NOT_APPLICABLE
    if still.format in formats:
        return PASSED
    wanted = either(formats) if formats else "no stills"
    takes = f"shows only {wanted}" if formats else "shows no stills"
    return seen(
        still.format,
        wanted,
        f"This picture is stored as {still.format}; the player {takes} and will skip it.",
        f"Save the picture again as {formats[0]}."
        if formats
        else "Make a video of the picture, or leave it out.",
        fixable=bool(formats),
    )


@rule(
    "still-progressive",
    severity="fail",
    scope="still",
    source="ITU-T T.81 (SOF2); that simple players show a blank is " + COMMON_PRACTICE,
)
def still_progressive(one: One) -> Answer:
    """The JPEG is stored coarse first and fine later (progressive): simple players show a blank in its
    place."""
    still = _still(one)
    if isinstance(still, NotChecked):
        return still
    if still is None or still.format != "JPEG" or not _takes(one, still):
        return NOT_APPLICABLE
    if not still.progressive:
        return PASSED
    return seen(
        "progressive JPEG",
        "baseline JPEG",
        "This JPEG is stored coarse first and fine later (progressive), and simple players show a blank "
        "screen in its place.",
        "Save the picture again as a baseline JPEG, with the option for progressive or web use turned off.",
        fixable=True,
    )


@rule("still-colour", severity="fail", scope="still", source="ITU-T T.81 and Adobe APP14; " + COMMON_PRACTICE)
def still_colour(one: One) -> Answer:
    """The colours are stored for printing, or too finely: the player shows wrong colours or a blank."""
    still = _still(one)
    if isinstance(still, NotChecked):
        return still
    if still is None or not _takes(one, still):
        return NOT_APPLICABLE
    if still.colour in ("CMYK", "YCCK"):
        return seen(
            still.colour,
            "RGB",
            f"The colours of this picture are stored for printing ({still.colour}): the player shows wrong "
            "colours or a blank screen.",
            "Convert the picture to RGB (sRGB) and save it again.",
            fixable=True,
        )
    if still.bit_depth > 8:
        return seen(
            f"{still.bit_depth} bits per colour",
            "8 bits per colour",
            f"This picture is stored with {still.bit_depth} bits per colour, twice as fine as a player "
            "expects: it shows a blank screen or skips it.",
            "Save the picture again with 8 bits per colour.",
            fixable=True,
        )
    return PASSED


@rule("still-orientation", severity="warn", scope="still", source="CIPA DC-008 (EXIF), tag 0112h orientation")
def still_orientation(one: One) -> Answer:
    """The picture is upright only where its turning mark is read: players that ignore it show it turned."""
    still = _still(one)
    if isinstance(still, NotChecked):
        return still
    if still is None:
        return NOT_APPLICABLE
    shown = SHOWN_AS.get(still.orientation)
    if shown is None:
        return PASSED
    return seen(
        f"EXIF orientation {still.orientation}",
        "EXIF orientation 1",
        "This picture is upright only with its turning mark (EXIF orientation), and many players ignore "
        f"it: the screen then shows the picture {shown}.",
        "Turn the picture upright in a picture program and save it again.",
        fixable=True,
    )


@rule("still-resolution", severity="warn", scope="still", source="the profile; " + COMMON_PRACTICE)
def still_resolution(one: One) -> Answer:
    """The still has more pixels than this player takes: it appears late, or the screen stays blank."""
    still, limits = _still(one), one.profile.stills
    if isinstance(still, NotChecked):
        return still
    if still is None or (limits.width_max is None and limits.height_max is None) or not _takes(one, still):
        return NOT_APPLICABLE
    wide = limits.width_max is not None and still.width > limits.width_max
    high = limits.height_max is not None and still.height > limits.height_max
    if not (wide or high):
        return PASSED
    wanted = " and ".join(
        f"at most {most} pixels {side}"
        for most, side in ((limits.width_max, "across"), (limits.height_max, "down"))
        if most is not None
    )
    return seen(
        f"{still.width}x{still.height}",
        wanted,
        f"This picture has {still.width}x{still.height} pixels; the player takes {wanted}, so it appears "
        "late or the screen stays blank.",
        f"Scale the picture down to {wanted} and save it again.",
        fixable=True,
    )


@rule("still-damaged", severity="fail", scope="still", source=COMMON_PRACTICE)
def still_damaged(one: One) -> Answer:
    """Part of the picture cannot be decoded: the screen shows it half grey, or the player skips it."""
    still = _still(one)
    if isinstance(still, NotChecked):
        return still
    if still is None:
        return NOT_APPLICABLE
    if still.damaged is None:
        return PASSED
    return seen(
        clause(still.damaged),
        "a whole picture",
        f"This picture is damaged ({clause(still.damaged)}): the screen shows part of it grey, or the "
        "player skips it.",
        "Copy the picture again from its original.",
    )
