"""Which size of picture to make for a player and its screen.

It must not know codecs: that a level holds no more is for `level`.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from mediacheck.encoding.model import Frame, Refused
from mediacheck.profile import CodecLimits, Screen, Stills

USUAL_SHAPE = Fraction(16, 9)
"""Stands in where neither the player nor the screen names one (common practice, no source)."""
LARGEST = (3840, 2160)
"""Where nothing limits the size: Ultra HD, the largest that players of this kind know (common practice)."""
SMALLEST = 16
"""One macroblock: encoders and players handle no less (common practice, no source)."""
STEPS = tuple(Fraction(*pair) for pair in ((1, 1), (2, 3), (1, 2), (1, 3), (1, 4), (1, 6), (1, 8), (1, 16)))
"""Ultra HD to 2560x1440, Full HD, 1280x720, and so on: sizes that scale cleanly."""


def frame_for(limits: CodecLimits, screen: Screen) -> Frame | Refused:
    """Exactly what the player asks for, else the screen's size as far as the player takes it."""
    if limits.width or limits.height:
        return _usable(_exact(limits, screen))
    return _usable(_at_most(limits.width_max, limits.height_max, screen))


def still_frame_for(limits: Stills, screen: Screen) -> Frame | Refused:
    """The same for stills."""
    return _usable(_at_most(limits.width_max, limits.height_max, screen))


def smaller(frame: Frame) -> Iterator[Frame]:
    """The frame itself and then smaller ones of its shape."""
    for step in STEPS:
        width, height = _even(frame.width * step), _even(frame.height * step)
        if min(width, height) >= SMALLEST:
            yield Frame(width, height, frame.bars)


def exact(limits: CodecLimits) -> bool:
    """Whether the player leaves no choice of size."""
    return bool(limits.width or limits.height)


def _usable(frame: Frame) -> Frame | Refused:
    if frame.width % 2 or frame.height % 2:
        return Refused(
            f"it asks for {frame.width}x{frame.height} pixels, and encoders store colour in pairs of pixels, "
            "which needs even numbers"
        )
    if min(frame.width, frame.height) < SMALLEST:
        return Refused(f"a picture of {frame.width}x{frame.height} pixels is too small to encode")
    return frame


def _exact(limits: CodecLimits, screen: Screen) -> Frame:
    shape = _shape(screen)
    width = limits.width or _within(limits.width_max, (limits.height or 0) * shape)
    height = limits.height or _within(limits.height_max, (limits.width or 0) / shape)
    return Frame(width, height, bars=True)


def _within(most: int | None, wanted: Fraction) -> int:
    return _even(min(wanted, Fraction(most or LARGEST[0])))


def _at_most(width_max: int | None, height_max: int | None, screen: Screen) -> Frame:
    if screen.width is None or screen.height is None:
        width, height = width_max or LARGEST[0], height_max or LARGEST[1]
        return Frame(_even(Fraction(width)), _even(Fraction(height)), bars=False)
    step = min(
        Fraction(1),
        Fraction(width_max or screen.width, screen.width),
        Fraction(height_max or screen.height, screen.height),
    )
    return Frame(_even(screen.width * step), _even(screen.height * step), bars=True)


def _shape(screen: Screen) -> Fraction:
    return Fraction(screen.width, screen.height) if screen.width and screen.height else USUAL_SHAPE


def _even(pixels: Fraction) -> int:
    """The even number at or below."""
    return int(pixels) // 2 * 2
