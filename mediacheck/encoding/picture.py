"""The filters that turn any master into the picture of the target: whole frames, upright, one rate, one size.

It must not know codecs. No quotes are used inside: `\\,` is a comma within an expression, and passes
unchanged through double quotes in POSIX shells and in Windows' cmd.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from mediacheck.encoding.model import Frame, Part, Reason
from mediacheck.profile_text import rate_text

UNMARKED_IS_BT709 = Part(
    ("-colorspace", "bt709"),
    (
        Reason(
            "-colorspace bt709",
            "A master that does not say how its colours are stored is read as BT.709, the HD standard; "
            "one that says so is read as it says.",
        ),
    ),
)
"""Goes before `-i`: ffmpeg would take unmarked pictures as old SD video and shift their colours."""

TURNS = {
    90: (
        "transpose=cclock",
        "The screen hangs turned 90 degrees clockwise: the upright picture is turned the other way, so "
        "that it stands upright in the store.",
    ),
    180: ("hflip,vflip", "The screen hangs upside down: the picture is turned, so that it stands upright."),
    270: (
        "transpose=clock",
        "The screen hangs turned 270 degrees clockwise: the upright picture is turned the other way, so "
        "that it stands upright in the store.",
    ),
}
RANGES = {"tv": "limited", "pc": "full"}


def filters(
    frame: Frame, rate: Fraction, turned_degrees: int, pixel_format: str, colour_range: str = "tv"
) -> Part:
    """The `-vf` of a moving picture."""
    steps = (
        *_steps_in_time(rate),
        *turned(turned_degrees),
        *sized(frame, f"out_color_matrix=bt709:out_range={colour_range}"),
        coloured(pixel_format, colour_range),
    )
    return Part(("-vf", ",".join(step.setting for step in steps)), steps)


def turned(degrees: int) -> Iterator[Reason]:
    """Against the way in which the panel is mounted (see rule video-shape)."""
    if degrees:
        yield Reason(*TURNS[degrees])


def sized(frame: Frame, colours: str) -> Iterator[Reason]:
    """Scaled to fit with square pixels; `dar` is the shape that a viewer sees, in ffmpeg's words."""
    width, height = frame.width, frame.height
    if not frame.bars:
        yield Reason(
            f"scale=w=2*floor(min(iw*sar\\,min({width}\\,{height}*dar))/2)"
            f":h=2*floor(min(ih\\,min({height}\\,{width}/dar))/2):flags=lanczos:{colours}",
            f"The picture keeps its size and shape; one larger than {width}x{height} is made smaller.",
        )
    else:
        yield Reason(
            f"scale=w=min({width}\\,2*round({height}*dar/2)):h=min({height}\\,2*round({width}/dar/2))"
            f":flags=lanczos:{colours}",
            f"The picture is made to fit into {width}x{height} without stretching.",
        )
        yield Reason(
            f"pad={width}:{height}:-1:-1",
            "Black bars fill the rest if the master has another shape: better a master of the right shape.",
        )
    yield Reason("setsar=1", "Square pixels: simple players take all pixels as square.")


def _steps_in_time(rate: Fraction) -> Iterator[Reason]:
    yield Reason(
        "bwdif=mode=send_frame:deint=interlaced",
        "Interlaced masters (half pictures in turn) become whole pictures; others stay as they are.",
    )
    yield Reason(
        f"fps={rate}:start_time=0",
        f"Exactly {rate_text(rate)} frames a second, evenly, from the first moment on.",
    )


def coloured(pixel_format: str, colour_range: str) -> Reason:
    """What the encoder gets, marked as what it is."""
    return Reason(
        f"format={pixel_format},setparams=range={colour_range}:colorspace=bt709"
        ":color_primaries=bt709:color_trc=bt709",
        f"Colours stored as {pixel_format}, {RANGES[colour_range]} range, and marked as what they are: "
        "BT.709, the standard of ordinary screens.",
    )
