"""Draws one picture as a viewer in front of the screen sees it.

It must not read files, and it must not turn a picture because of what its file says: players that
this project is made for ignore rotation flags, EXIF orientation and pixel shape (common practice).
"""

from __future__ import annotations

from fractions import Fraction

from PIL import Image, ImageDraw

from mediacheck.measure.model import Picture
from mediacheck.report.model import ScreenShape

BAR = (0, 0, 0)
DASH_PX, GAP_PX = 5, 5
QUARTER_TURNS = {
    90: Image.Transpose.ROTATE_270,
    180: Image.Transpose.ROTATE_180,
    270: Image.Transpose.ROTATE_90,
}
"""Clockwise degrees, and Pillow's names, which count the other way round."""
HAIR = Fraction(1, 200)
"""Shapes closer than this are one: pictures come scaled down to whole pixels."""
USUAL_SHAPE = Fraction(16, 9)
"""Of a screen that nobody described, with no picture on it."""


def seen_shape(screen: ScreenShape, picture: Picture | None) -> Fraction:
    """Width divided by height of the screen as it hangs; where it is unknown, of the picture on it."""
    shape = _panel_shape(screen, picture)
    return 1 / shape if _stands_on_its_side(screen) else shape


def view(picture: Picture, screen: ScreenShape, size_px: tuple[int, int]) -> Image.Image:
    """The whole screen on so many pixels of paper, as it hangs, bars and overscan border included.

    The player fits the picture into the panel without stretching it, and leaves the rest black; the
    panel is then turned as it is mounted. `size_px` must have the shape that `seen_shape` gives.
    """
    across, down = reversed(size_px) if _stands_on_its_side(screen) else size_px
    panel = Image.new("RGB", (across, down), BAR)
    fitted = _fitted(picture, _panel_shape(screen, picture), (across, down))
    panel.paste(fitted, ((across - fitted.width) // 2, (down - fitted.height) // 2))
    turn = QUARTER_TURNS.get(screen.turned_degrees)
    hung = panel if turn is None else panel.transpose(turn)
    if screen.overscan_percent > 0:
        _mark_overscan(hung, screen.overscan_percent)
    return hung


def has_bars(picture: Picture, screen: ScreenShape) -> bool:
    """Whether part of the screen stays black beside the picture."""
    own, panel = Fraction(picture.width, picture.height), _panel_shape(screen, picture)
    return _share(own, panel) < 1 or _share(panel, own) < 1


def overscan_box(size_px: tuple[int, int], percent: float) -> tuple[int, int, int, int]:
    """Left, top, right and bottom pixel of the border inside which the screen shows everything."""
    across, down = (round(side * percent / 100) for side in size_px)
    return across, down, size_px[0] - 1 - across, size_px[1] - 1 - down


def dashed_border(image: Image.Image, box: tuple[int, int, int, int]) -> None:
    """A line of black and white dashes, so that it shows on any picture."""
    left, top, right, bottom = box
    pen = ImageDraw.Draw(image)
    pen.rectangle(box, outline="white")
    for x in range(left, right + 1, DASH_PX + GAP_PX):
        for y in (top, bottom):
            pen.line((x, y, min(x + DASH_PX - 1, right), y), fill="black")
    for y in range(top, bottom + 1, DASH_PX + GAP_PX):
        for x in (left, right):
            pen.line((x, y, x, min(y + DASH_PX - 1, bottom)), fill="black")


def _mark_overscan(hung: Image.Image, percent: float) -> None:
    dashed_border(hung, overscan_box(hung.size, percent))


def _stands_on_its_side(screen: ScreenShape) -> bool:
    return screen.turned_degrees in (90, 270)


def _panel_shape(screen: ScreenShape, picture: Picture | None) -> Fraction:
    if screen.width and screen.height:
        return Fraction(screen.width, screen.height)
    return Fraction(picture.width, picture.height) if picture else USUAL_SHAPE


def _fitted(picture: Picture, panel: Fraction, size_px: tuple[int, int]) -> Image.Image:
    """The picture at the size at which it just fits. Shares of the side keep rounding out of the bars."""
    own = Fraction(picture.width, picture.height)
    across = max(1, round(size_px[0] * _share(own, panel)))
    down = max(1, round(size_px[1] * _share(panel, own)))
    image = Image.frombytes("RGB", (picture.width, picture.height), picture.rgb)
    return image.resize((across, down), Image.Resampling.LANCZOS, reducing_gap=2.0)


def _share(own: Fraction, other: Fraction) -> Fraction:
    """How much of one side of the panel a picture covers that fills the other side."""
    share = min(Fraction(1), own / other)
    return share if share < 1 - HAIR else Fraction(1)
