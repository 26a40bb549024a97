"""How a picture gets from its pixels into those of the new file: cut, turned, scaled, placed.

It must not know codecs or colours. All sizes are numbers, reckoned from the facts of one master.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from mediacheck.encoding.model import Frame
from mediacheck.encoding.picture import TURNS
from mediacheck.measure.model import Bars
from mediacheck.repair.model import Fit
from mediacheck.rules.video_shape import SHAPE_TOLERANCE

BY_FLAG = {90: "transpose=clock", 180: "hflip,vflip", 270: "transpose=cclock"}
"""What turns a picture so many degrees clockwise."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A picture as a viewer sees it, in square pixels of its longer way."""

    width: int
    height: int
    shape: Fraction

    @property
    def is_upright(self) -> bool:
        """Whether it is higher than wide."""
        return self.shape < 1


def shown(width: int, height: int, pixel_aspect: Fraction, turned_degrees: int) -> Shown:
    """A picture of so many pixels of this shape, turned as its mark says."""
    if turned_degrees % 180 == 90:
        width, height, pixel_aspect = height, width, 1 / pixel_aspect
    return Shown(width, height, pixel_aspect * width / height)


def cut(width: int, height: int, bars: Bars | None) -> tuple[tuple[int, int], str | None]:
    """The size without bars, and the filter that cuts them off. Even numbers, as 4:2:0 colour needs."""
    if bars is None:
        return (width, height), None
    left, top = _up(bars.left_px), _up(bars.top_px)
    across = _down(width - left - bars.right_px)
    down = _down(height - top - bars.bottom_px)
    if (across, down) == (width, height) or min(across, down) < 16:
        return (width, height), None
    return (across, down), f"crop={across}:{down}:{left}:{top}"


def turns_for_panel(picture: Shown, frame: Frame, turned_degrees: int) -> bool:
    """Whether the picture must be turned against its panel: one that lies as the panel takes it is turned
    already. Upside down cannot be told from the picture."""
    if turned_degrees % 180 != 90:
        return False
    return picture.is_upright != (frame.height > frame.width)


def box_for(picture: Shown, frame: Frame, exact: bool) -> Frame:
    """The size of the new picture. Where the player leaves a choice, a picture of the right shape is not made
    larger than it is: that would cost bits and show nothing more."""
    if frame.bars and (exact or abs(picture.shape * frame.height / frame.width - 1) > SHAPE_TOLERANCE):
        return frame
    high = min(Fraction(picture.height), Fraction(frame.height), frame.width / picture.shape)
    width, height = _down(round(high * picture.shape)), _down(int(high))
    return Frame(max(2, width), max(2, height), frame.bars)


def placed(shape: Fraction, box: Frame, fit: Fit, colours: str) -> Iterator[str]:
    """Filters that scale a picture of this shape to square pixels and fill the box with it."""
    whole, over = _inside(shape, box), _around(shape, box)
    if fit == "stretch" or (box.width - whole[0] < 4 and box.height - whole[1] < 4):  # thinner than a bar
        yield f"scale={box.width}:{box.height}:flags=lanczos:{colours}"
    elif fit == "contain":
        yield f"scale={whole[0]}:{whole[1]}:flags=lanczos:{colours}"
        yield f"pad={box.width}:{box.height}:-1:-1"
    else:
        yield f"scale={over[0]}:{over[1]}:flags=lanczos:{colours}"
        yield f"crop={box.width}:{box.height}"
    yield "setsar=1"


def _inside(shape: Fraction, box: Frame) -> tuple[int, int]:
    width = min(box.width, 2 * round(box.height * shape / 2))
    height = min(box.height, 2 * round(box.width / shape / 2))
    return max(2, width), max(2, height)


def _around(shape: Fraction, box: Frame) -> tuple[int, int]:
    width = max(box.width, 2 * round(box.height * shape / 2))
    height = max(box.height, 2 * round(box.width / shape / 2))
    return width, height


def against_panel(turned_degrees: int) -> str:
    """The filter that turns an upright picture for a panel that is mounted so."""
    return TURNS[turned_degrees][0]


def _up(pixels: int) -> int:
    return (pixels + 1) // 2 * 2


def _down(pixels: int) -> int:
    return pixels // 2 * 2
