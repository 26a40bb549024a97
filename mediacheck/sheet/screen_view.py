"""One picture as a viewer in front of the screen sees it.

It must not read files, and it must not turn a picture because of what its file says: players that
this project is made for ignore rotation flags, EXIF orientation and pixel shape (common practice).
"""

from __future__ import annotations

from fractions import Fraction

from PIL import Image, ImageDraw

from mediacheck.measure.model import Picture
from mediacheck.paper.canvas import Box, Canvas, Point
from mediacheck.paper.look import BLACK, TEXT_PT, WHITE
from mediacheck.paper.text import line_mm, width_mm, wrapped
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
LONG_SIDE_PX = 360
"""Of a screen on paper: as large as the frames come."""
EDGE_MM = 0.34
"""The line around a screen and its distance from it."""
CROSS_MM = ((1.2, WHITE), (0.5, BLACK))


def seen_shape(screen: ScreenShape, picture: Picture | None) -> Fraction:
    """Width divided by height of the screen as it hangs; where it is unknown, of the picture on it."""
    shape = _panel_shape(screen, picture)
    return 1 / shape if _stands_on_its_side(screen) else shape


def view(picture: Picture, screen: ScreenShape, size_px: tuple[int, int]) -> Image.Image:
    """The whole screen in so many pixels, as it hangs, bars included.

    The player fits the picture into the panel without stretching it, and leaves the rest black; the
    panel is then turned as it is mounted. `size_px` must have the shape that `seen_shape` gives.
    """
    across, down = reversed(size_px) if _stands_on_its_side(screen) else size_px
    panel = Image.new("RGB", (across, down), BAR)
    fitted = _fitted(picture, _panel_shape(screen, picture), (across, down))
    panel.paste(fitted, ((across - fitted.width) // 2, (down - fitted.height) // 2))
    turn = QUARTER_TURNS.get(screen.turned_degrees)
    return panel if turn is None else panel.transpose(turn)


def size_px(shape: Fraction, long_side_px: int) -> tuple[int, int]:
    """Width and height of a screen of this shape."""
    return (
        long_side_px if shape >= 1 else max(1, round(long_side_px * shape)),
        long_side_px if shape < 1 else max(1, round(long_side_px / shape)),
    )


def marked(hung: Image.Image, screen: ScreenShape) -> Image.Image:
    """The same screen with the overscan border drawn into it, if it has one."""
    if screen.overscan_percent > 0:
        _dashed_border(hung, overscan_box(hung.size, screen.overscan_percent))
    return hung


def draw_screen(
    canvas: Canvas, box: Box, screen: ScreenShape, picture: Picture | None, *, crossed: bool = False
) -> None:
    """The screen on paper, with a line around it so that black bars and white paper are told apart."""
    canvas.box(box.inset(-EDGE_MM))
    if picture is not None:
        canvas.picture(box, view(picture, screen, size_px(seen_shape(screen, picture), LONG_SIDE_PX)))
        if screen.overscan_percent > 0:
            draw_overscan(canvas, box, screen.overscan_percent)
    if crossed:
        draw_cross(canvas, box)


def draw_overscan(canvas: Canvas, box: Box, percent: float) -> None:
    """Dashes in black and white, which show on any picture."""
    across, down = box.width * percent / 100, box.height * percent / 100
    inner = Box(box.left + across, box.top + down, box.width - 2 * across, box.height - 2 * down)
    canvas.box(inner, ink=WHITE)
    canvas.box(inner, edge="dashed")


def draw_cross(
    canvas: Canvas, box: Box, widths: tuple[tuple[float, tuple[int, int, int]], ...] = CROSS_MM
) -> None:
    """A cross from corner to corner, white under black so that it shows on any picture."""
    for width, ink in widths:
        canvas.line(Point(box.left, box.top), Point(box.right, box.bottom), ink=ink, width_mm=width)
        canvas.line(Point(box.left, box.bottom), Point(box.right, box.top), ink=ink, width_mm=width)


def draw_words(canvas: Canvas, box: Box, words: str, size_pt: float = TEXT_PT) -> None:
    """Words in the middle of an empty screen, on white, since a cross may stand under them."""
    lines_max = max(1, int(box.height / line_mm(size_pt)))
    lines = wrapped(words, size_pt, "regular", box.width - 2.7, lines_max)
    height = len(lines) * line_mm(size_pt)
    width = max(width_mm(line, size_pt) for line in lines) + 2
    middle, top = box.left + box.width / 2, box.top + (box.height - height) / 2
    canvas.box(Box(middle - width / 2, top, width, height), fill=WHITE, ink=None)
    for row, line in enumerate(lines):
        canvas.text(Point(middle, top + row * line_mm(size_pt)), line, size_pt, anchor="middle")


def has_bars(picture: Picture, screen: ScreenShape) -> bool:
    """Whether part of the screen stays black beside the picture."""
    own, panel = Fraction(picture.width, picture.height), _panel_shape(screen, picture)
    return _share(own, panel) < 1 or _share(panel, own) < 1


def overscan_box(size_px: tuple[int, int], percent: float) -> tuple[int, int, int, int]:
    """Left, top, right and bottom pixel of the border inside which the screen shows everything."""
    across, down = (round(side * percent / 100) for side in size_px)
    return across, down, size_px[0] - 1 - across, size_px[1] - 1 - down


def _dashed_border(image: Image.Image, box: tuple[int, int, int, int]) -> None:
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
