"""Simulates phone photos of screens in a shop, with their truth.

It must not know how a photo is recognised. What light does is done in linear light: the screen, its pixels,
reflections, blur, exposure and noise; then come the tone curve, sharpening and JPEG of a phone.

    python benchmarks/identify_photos.py --show FOLDER
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, Literal

import cv2
import numpy as np
from identify_loops import Pixels, Split, cutouts, frame_at, make_loops, pictures, surroundings
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

Light = NDArray[np.float32]
"""Linear light, RGB, 1 where a screen shows white under the right exposure."""
Floats = NDArray[np.float64]
How = Literal["careful", "full"]
Nothing = Literal["black", "menu", "surroundings"]
Quad = tuple[tuple[float, float], ...]

LONG, SHORT = 1600, 1200
SMALLER = 0.8
"""Of the area of the screen that is asked about, what a neighbour takes at most."""
FOCAL_PX = 1200.0
"""Of a phone's main camera, 26 mm on 35 mm film, at this size of photo."""
NATIVE = (1920, 1366, 3840)
"""Pixels across a screen."""


@dataclass(frozen=True, slots=True)
class Truth:
    """What was simulated; `quad` is the picture area, its own top left corner first, in photo pixels."""

    quad: Quad
    how: How
    share_of_width: float
    """Width of the upright box round `quad`, cropped or not, as a share of the photo's width."""
    outside: float
    """Share of the quad's area outside the photo."""
    yaw_deg: float
    pitch_deg: float
    roll_deg: float
    tilt_deg: float
    """Angle between the line of sight and the screen's normal."""
    motion_px: float
    defocus_px: float
    blur_px: float
    """Length of the motion and width of the defocus, added as squares."""
    exposure_ev: float
    iso: int
    jpeg_quality: int
    moire: float
    bands: float
    glare: bool
    neighbour: bool
    product: bool
    size: tuple[int, int]
    """Width and height."""


@dataclass(frozen=True, slots=True)
class _View:
    """Where a screen stands before the camera."""

    quad: Floats
    yaw: float
    pitch: float
    roll: float

    @property
    def tilt(self) -> float:
        return float(np.degrees(np.arccos(np.cos(np.radians(self.yaw)) * np.cos(np.radians(self.pitch)))))


def photo(
    frame: Pixels,
    rng: np.random.Generator,
    how: How,
    neighbour: Pixels | None = None,
    split: Split = "test",
) -> tuple[Pixels, Truth]:
    """A photo of a screen that shows `frame`, perhaps beside one that shows `neighbour`.

    `split` says from whose pictures the shop is made.
    """
    size = (LONG, SHORT) if rng.random() < 0.65 else (SHORT, LONG)
    view = _view(rng, how, size, frame.shape[1] / frame.shape[0])
    light = _shop(rng, size, split)
    if neighbour is not None:
        beside = _beside(rng, view, size)
        _put_screen(light, neighbour, beside, rng)
    product = rng.random() < 0.25
    if product:
        _put_product(light, view.quad, rng, split)
    shot = _Shot.drawn(rng, how)
    # what blurs the screen's pixels before they meet the sensor's takes the moire away
    grid = float(rng.uniform(0.03, 0.35) * np.exp(-((shot.blur_px / 4) ** 2))) if rng.random() < 0.6 else 0.0
    bands = float(rng.uniform(0.05, 0.35)) if rng.random() < 0.3 else 0.0
    _put_screen(light, frame, view, rng, grid, bands)
    glare = rng.random() < 0.45
    if glare:
        _put_glare(light, view.quad, rng, split)
    picture = _taken(light, shot, rng)
    return picture, _truth(view, how, size, shot, grid, bands, (glare, neighbour is not None, product))


def _truth(
    view: _View,
    how: How,
    size: tuple[int, int],
    shot: _Shot,
    grid: float,
    bands: float,
    put: tuple[bool, bool, bool],
) -> Truth:
    return Truth(
        tuple((float(x), float(y)) for x, y in view.quad),
        how,
        float(np.ptp(view.quad[:, 0])) / size[0],
        _outside(view.quad, size),
        view.yaw,
        view.pitch,
        view.roll,
        view.tilt,
        shot.motion_px,
        shot.defocus_px,
        shot.blur_px,
        shot.exposure_ev,
        shot.iso,
        shot.jpeg_quality,
        grid,
        bands,
        *put,
        size,
    )


def nothing(rng: np.random.Generator, kind: Nothing, split: Split = "test") -> Pixels:
    """A photo without a known loop: a black screen, a menu on the screen, or no screen at all."""
    if kind == "black":
        frame = np.full((360, 640, 3), int(rng.integers(0, 6)), np.uint8)
        return photo(frame, rng, "full", split=split)[0]
    if kind == "menu":
        return photo(_menu(rng), rng, "full", split=split)[0]
    size = (LONG, SHORT) if rng.random() < 0.65 else (SHORT, LONG)
    light = _shop(rng, size, split)
    for _ in range(int(rng.integers(0, 4))):
        at = rng.random(2) * size
        _put_product(light, at + np.array([[-150, -100], [150, -100], [150, 100], [-150, 100]]), rng, split)
    return _taken(light, _Shot.drawn(rng, "full"), rng)


# --- where things stand


def _view(rng: np.random.Generator, how: How, size: tuple[int, int], aspect: float) -> _View:
    """A view within the limits of `how`; drawn again until it is."""
    for _ in range(200):
        if how == "careful":
            yaw, pitch = float(rng.uniform(-24, 24)), float(rng.uniform(-18, 18))
            share, roll = rng.uniform(0.46, 0.92), rng.uniform(-6, 6)
        else:
            yaw, pitch = float(rng.uniform(-35, 35)), float(rng.uniform(-35, 35))
            share, roll = rng.uniform(0.25, 0.9), rng.uniform(-15, 15)
        quad = _projected(rng, (yaw, pitch, roll), share, size, aspect)
        if how == "full" and rng.random() < 0.3:
            quad = _pushed_out(rng, quad, size)
        view = _View(quad, yaw, pitch, roll)
        if how == "careful" and (view.tilt >= 24.8 or _outside(view.quad, size) > 0):
            continue
        if _outside(view.quad, size) <= 0.2:
            return view
    raise ValueError("no view within the limits")


def _projected(
    rng: np.random.Generator,
    angles: tuple[float, float, float],
    share: float,
    size: tuple[int, int],
    aspect: float,
) -> Floats:
    """The corners in the photo of a screen turned by `angles` that spans `share` of the photo's width."""
    turned = np.array([[-aspect, -1, 0], [aspect, -1, 0], [aspect, 1, 0], [-aspect, 1, 0]]) @ _turn(*angles).T
    away = 4.0
    for _ in range(6):
        seen = turned[:, :2] / (turned[:, 2:] + away) * FOCAL_PX
        away *= float(np.ptp(seen[:, 0])) / (share * size[0])
    seen -= (seen.max(axis=0) + seen.min(axis=0)) / 2
    room = np.array(size) - np.ptp(seen, axis=0)
    slack = np.where(room > 0, room / 2, np.array(size) * 0.08)
    middle = np.array(size) / 2 + rng.uniform(-0.9, 0.9, 2) * slack
    return np.asarray(seen + middle)


def _pushed_out(rng: np.random.Generator, quad: Floats, size: tuple[int, int]) -> Floats:
    """The quad moved over one edge of the photo, by up to a fifth of its area."""
    wanted, angle = rng.uniform(0.02, 0.195), rng.integers(4) * np.pi / 2 + rng.uniform(-0.4, 0.4)
    way = np.array([np.cos(angle), np.sin(angle)])
    near, far = 0.0, float(LONG)
    for _ in range(20):
        middle = (near + far) / 2
        if _outside(quad + way * middle, size) < wanted:
            near = middle
        else:
            far = middle
    return quad + way * near


def _turn(yaw: float, pitch: float, roll: float) -> Floats:
    (a, b, c), (d, e, f) = np.cos(np.radians([yaw, pitch, roll])), np.sin(np.radians([yaw, pitch, roll]))
    about_y = np.array([[a, 0, d], [0, 1, 0], [-d, 0, a]])
    about_x = np.array([[1, 0, 0], [0, b, -e], [0, e, b]])
    about_z = np.array([[c, -f, 0], [f, c, 0], [0, 0, 1]])
    return np.asarray(about_z @ about_x @ about_y)


def _outside(quad: Floats, size: tuple[int, int]) -> float:
    """Share of the quad's area outside the photo."""
    width, height = size
    photo = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    inside, _ = cv2.intersectConvexConvex(quad.astype(np.float32), photo)
    return max(0.0, 1 - inside / max(1.0, float(cv2.contourArea(quad.astype(np.float32)))))


def _beside(rng: np.random.Generator, view: _View, size: tuple[int, int]) -> _View:
    """A second screen on the same wall: as large and partly outside, or smaller. The one that is asked about
    is the larger one in the photo, since that is what tells a person or a program which one is meant."""
    for _ in range(50):
        beside = _drawn_beside(rng, view, size)
        if _seen_area(beside.quad, size) <= SMALLER * _seen_area(view.quad, size):
            return beside
    return replace(view, quad=view.quad + 2 * np.array(size))


def _seen_area(quad: Floats, size: tuple[int, int]) -> float:
    """In pixels, within the photo."""
    return (1 - _outside(quad, size)) * float(cv2.contourArea(quad.astype(np.float32)))


def _drawn_beside(rng: np.random.Generator, view: _View, size: tuple[int, int]) -> _View:
    middle = view.quad.mean(axis=0)
    ratio = 1.0 if rng.random() < 0.5 else rng.uniform(0.4, 0.8)
    along = (view.quad[1] + view.quad[2] - view.quad[0] - view.quad[3]) / 2
    down = (view.quad[2] + view.quad[3] - view.quad[0] - view.quad[1]) / 2
    step = along if rng.random() < 0.75 else down
    roomier = 1.0 if (middle + step)[0] * 2 < size[0] + step[0] else -1.0
    moved = middle + roomier * step * (0.55 + ratio * 0.55 + rng.uniform(0.03, 0.2))
    return replace(view, quad=(view.quad - middle) * ratio + moved)


# --- what is seen


@cache
def _linear() -> Light:
    level = np.arange(256, dtype=np.float32) / 255
    return np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4).astype(np.float32)


def _light(picture: Pixels) -> Light:
    return np.asarray(cv2.LUT(picture, _linear()), dtype=np.float32)


def _covering(picture: Pixels, size: tuple[int, int], rng: np.random.Generator) -> Pixels:
    """A piece of the picture that fills `size`."""
    height, width = picture.shape[:2]
    most = min(width / size[0], height / size[1])
    ratio = most * rng.uniform(0.6, 1.0)
    wide, high = int(size[0] * ratio), int(size[1] * ratio)
    left, top = int(rng.integers(width - wide + 1)), int(rng.integers(height - high + 1))
    piece = picture[top : top + high, left : left + wide]
    return np.asarray(cv2.resize(piece, size, interpolation=cv2.INTER_LINEAR), dtype=np.uint8)


def _shop(rng: np.random.Generator, size: tuple[int, int], split: Split) -> Light:
    """Surroundings: a picture or a wall, often with shelves of goods, under uneven light."""
    pool = surroundings(split)
    picture = _covering(pool[int(rng.integers(len(pool)))], size, rng)
    if rng.random() < 0.6:
        quarter = cv2.resize(picture, (size[0] // 4, size[1] // 4), interpolation=cv2.INTER_AREA)
        quarter = cv2.GaussianBlur(quarter, (0, 0), rng.uniform(0.5, 6))
        picture = np.asarray(cv2.resize(quarter, size), dtype=np.uint8)
    if rng.random() < 0.35:
        wall = np.full_like(picture, int(rng.integers(110, 220)) + rng.integers(-25, 26, 3))
        picture = np.asarray(cv2.addWeighted(wall, 0.93, picture, 0.07, 0), dtype=np.uint8)
    light = _light(picture)
    if rng.random() < 0.6:
        _put_shelves(light, rng, split)
    ramp = cv2.resize(rng.uniform(0.35, 1.0, (2, 3)).astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    light *= (ramp * np.float32(rng.uniform(0.2, 0.85)))[..., None]
    return light


def _put_shelves(light: Light, rng: np.random.Generator, split: Split) -> None:
    """Boards with goods in rows and price labels, as in every shop."""
    height, width = light.shape[:2]
    gap, thick = int(rng.integers(220, 420)), int(rng.integers(14, 30))
    board = rng.uniform(0.1, 0.7) * rng.uniform(0.8, 1.0, 3).astype(np.float32)
    stamps = cutouts(split)
    for top in range(int(rng.integers(-100, 100)), height, gap):
        good = stamps[int(rng.integers(len(stamps)))]
        high = int(gap * rng.uniform(0.4, 0.8))
        wide = max(20, high * good.shape[1] // good.shape[0])
        piece = np.asarray(cv2.resize(good, (wide, high), interpolation=cv2.INTER_AREA), dtype=np.uint8)
        for left in range(int(rng.integers(-wide, 0)), width, int(wide * rng.uniform(1.0, 1.6)) + 4):
            if rng.random() < 0.85:
                _paste(light, piece, left, top + gap - high)
        edge = max(0, top + gap)
        light[edge : edge + thick] = board
        for left in range(int(rng.integers(0, 200)), width - 70, int(rng.integers(150, 400))):
            light[edge : edge + thick, left : left + 64] = 0.75
            light[edge + 5 : edge + thick - 5, left + 8 : left + 40] = 0.1


def _paste(light: Light, stamp: Pixels, left: int, top: int) -> None:
    """`stamp`, RGBA, laid on the light; what lies outside is cut off."""
    height, width = light.shape[:2]
    right, bottom = min(width, left + stamp.shape[1]), min(height, top + stamp.shape[0])
    x, y = max(0, left), max(0, top)
    if x >= right or y >= bottom:
        return
    piece = np.ascontiguousarray(stamp[y - top : bottom - top, x - left : right - left])
    share = piece[..., 3:].astype(np.float32) / 255
    here = light[y:bottom, x:right]
    here += (_light(np.ascontiguousarray(piece[..., :3])) - here) * share


def _put_product(light: Light, quad: Floats, rng: np.random.Generator, split: Split) -> None:
    """The real thing: a picture of the loops as a poster or a pack beside the screen, or a product itself."""
    pool = pictures(split)
    if rng.random() < 0.5:
        stamps = cutouts(split)
        stamp = stamps[int(rng.integers(len(stamps)))]
    else:
        piece = _covering(pool[int(rng.integers(len(pool)))], (400, int(rng.integers(250, 500))), rng)
        stamp = np.dstack([piece, np.full(piece.shape[:2], 255, np.uint8)])
    side = rng.uniform(0.2, 0.6) * float(np.ptp(quad[:, 0]))
    ratio = side / max(stamp.shape[:2])
    size = (max(8, int(stamp.shape[1] * ratio)), max(8, int(stamp.shape[0] * ratio)))
    stamp = np.asarray(cv2.resize(stamp, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    dim = np.array([*[rng.uniform(0.5, 0.9)] * 3, 1.0])
    middle = quad.mean(axis=0)
    corner = middle + (quad[int(rng.integers(4))] - middle) * rng.uniform(1.0, 1.7, 2) - np.array(size) / 2
    _paste(light, (stamp * dim).astype(np.uint8), int(corner[0]), int(corner[1]))


def _menu(rng: np.random.Generator) -> Pixels:
    """A player's menu: grey boxes and lines of text."""
    picture = Image.new("RGB", (640, 360), tuple(int(one) for one in rng.integers(0, 60, 3)))
    pen = ImageDraw.Draw(picture)
    entries = ["Settings", "Network", "Picture", "Sound", "Storage", "Time and date", "Software", "Language"]
    entries += ["No signal", "Source 1", "Source 2", "USB", "Restart", "Back", "Brightness", "Timer"]
    left, wide, high = int(rng.integers(20, 200)), int(rng.integers(180, 400)), int(rng.integers(28, 50))
    chosen = int(rng.integers(6))
    pen.text((left, 14), str(rng.choice(entries)), (230, 230, 230), ImageFont.load_default(28))
    for row, text in enumerate(rng.permutation(entries)[: int(rng.integers(3, 7))]):
        grey = 150 if row == chosen else int(rng.integers(50, 90))
        top = 60 + row * (high + 6)
        pen.rectangle((left, top, left + wide, top + high), (grey, grey, grey + 10))
        pen.text((left + 12, top + high // 5), str(text), (240, 240, 240), ImageFont.load_default(high // 2))
    return np.asarray(picture)


# --- the screen


def _put_screen(
    light: Light, frame: Pixels, view: _View, rng: np.random.Generator, grid: float = 0.0, bands: float = 0.0
) -> None:
    """The screen with its bezel, laid over the surroundings."""
    rim = rng.uniform(0.008, 0.05)
    left, top, right, bottom = _around(view.quad, light, 0.08)
    if right <= left or bottom <= top:
        return
    corner = np.array([left, top], np.float64)
    here = light[top:bottom, left:right]
    size = (right - left, bottom - top)
    _put_bezel(here, view.quad - corner, rim, frame.shape[1] / frame.shape[0], rng)
    wide = float(
        max(np.linalg.norm(view.quad[1] - view.quad[0]), np.linalg.norm(view.quad[2] - view.quad[3]))
    )
    shown = _emitted(frame, wide, rng)
    to_photo = _homography(shown, view.quad - corner)
    warped: Light = np.asarray(cv2.warpPerspective(shown, to_photo, size), dtype=np.float32)
    if grid > 0.01:
        _sample_grid(warped, np.asarray(np.linalg.inv(to_photo), np.float64), shown.shape, grid, wide, rng)
    if bands:
        np.multiply(warped, _rolling(bands, size[1], rng)[:, None, None], out=warped)
    mask = _mask(view.quad - corner, size)
    here += (warped - here) * mask[..., None]


def _around(quad: Floats, light: Light, margin: float) -> tuple[int, int, int, int]:
    reach = np.ptp(quad, axis=0) * margin + 8
    low = np.clip(quad.min(axis=0) - reach, 0, None).astype(int)
    high = np.clip(np.ceil(quad.max(axis=0) + reach), None, (light.shape[1], light.shape[0])).astype(int)
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


def _homography(shown: Light, quad: Floats) -> Floats:
    height, width = shown.shape[:2]
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32) - 0.5
    return np.asarray(cv2.getPerspectiveTransform(corners, quad.astype(np.float32)), dtype=np.float64)


def _emitted(frame: Pixels, wide: float, rng: np.random.Generator) -> Light:
    """The frame as light, at about the size that it has in the photo; a screen's black is not quite black."""
    ratio = wide / frame.shape[1]
    if ratio < 0.9:
        size = (max(8, int(wide)), max(8, int(frame.shape[0] * ratio)))
        frame = np.asarray(cv2.resize(frame, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    elif ratio > 1.2:
        size = (frame.shape[1] * 2, frame.shape[0] * 2)
        frame = np.asarray(cv2.resize(frame, size, interpolation=cv2.INTER_CUBIC), dtype=np.uint8)
    white = rng.uniform(0.6, 0.95) * rng.uniform(0.88, 1.0, 3)
    veil = rng.uniform(0.001, 0.05) * rng.uniform(0.7, 1.0, 3)
    return np.asarray(_light(frame) * white.astype(np.float32) + veil.astype(np.float32))


def _put_bezel(here: Light, quad: Floats, rim: float, aspect: float, rng: np.random.Generator) -> None:
    """A dark frame, its inner edge lit, and a shadow on the wall."""
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    to_photo = cv2.getPerspectiveTransform(unit, quad.astype(np.float32))
    foot = rim * rng.choice([1.0, 1.0, 2.2])
    outer = np.array(
        [
            [-rim, -rim * aspect],
            [1 + rim, -rim * aspect],
            [1 + rim, 1 + foot * aspect],
            [-rim, 1 + foot * aspect],
        ]
    )
    seen = cv2.perspectiveTransform(outer[None].astype(np.float32), to_photo)[0]
    size = (here.shape[1], here.shape[0])
    colour = np.float32(rng.choice([0.004, 0.012, 0.03, 0.2], p=[0.4, 0.3, 0.2, 0.1])) * np.ones(
        3, np.float32
    )
    mask = _mask(seen, size)
    here += (colour - here) * mask[..., None]


def _mask(quad: Floats | NDArray[np.float32], size: tuple[int, int]) -> Light:
    """1 within the quad, with a soft edge of a pixel."""
    mask = np.zeros((size[1], size[0]), np.uint8)
    cv2.fillConvexPoly(mask, np.round(quad * 16).astype(np.int32), 255, cv2.LINE_AA, 4)
    return mask.astype(np.float32) / np.float32(255)


def _sample_grid(
    warped: Light, back: Floats, shape: tuple[int, ...], grid: float, wide: float, rng: np.random.Generator
) -> None:
    """The screen's own pixels as the sensor samples them: coloured waves where both grids nearly agree."""
    native = int(rng.choice(NATIVE)) / shape[1] * 2 * np.pi
    height, width = warped.shape[:2]
    x = np.arange(width, dtype=np.float32)[None]
    y = np.arange(height, dtype=np.float32)[:, None]
    a = back.astype(np.float32)
    below = 1 / (a[2, 0] * x + a[2, 1] * y + a[2, 2])
    across = (a[0, 0] * x + a[0, 1] * y + a[0, 2]) * below * np.float32(native)
    down = (a[1, 0] * x + a[1, 1] * y + a[1, 2]) * below * np.float32(native)
    cos, sin = np.cos(across), np.sin(across)
    rows = 1 + np.float32(grid * 0.6) * np.cos(down)
    # the three colours stand a third of a pixel apart
    for channel, turn in enumerate((-2 * np.pi / 3, 0.0, 2 * np.pi / 3)):
        wave = np.float32(grid * np.cos(turn)) * cos + np.float32(grid * np.sin(turn)) * sin
        warped[..., channel] *= rows * (1 + wave)


def _rolling(strength: float, height: int, rng: np.random.Generator) -> Light:
    """Bands of a backlight that flickers while the sensor is read row by row."""
    rows = np.arange(height) / rng.uniform(120, 900) + rng.random()
    wave = np.tanh(np.sin(rows * 2 * np.pi) * rng.uniform(0.8, 4))
    return np.asarray(1 - strength / 2 + strength / 2 * wave, dtype=np.float32)


def _put_glare(light: Light, quad: Floats, rng: np.random.Generator, split: Split) -> None:
    """Lamps or a window mirrored in the screen."""
    small = np.zeros((light.shape[0] // 8, light.shape[1] // 8), np.float32)
    for _ in range(int(rng.integers(1, 4))):
        weights = rng.dirichlet(np.ones(4))
        middle = weights @ quad / 8
        reach = float(np.ptp(quad[:, 0])) / 8 * rng.uniform(0.03, 0.14)
        spot = np.zeros_like(small)
        if rng.random() < 0.6:
            axes = (max(1, int(reach)), max(1, int(reach * rng.uniform(0.3, 1.0))))
            cv2.ellipse(spot, (int(middle[0]), int(middle[1])), axes, rng.uniform(0, 180), 0, 360, 1.0, -1)
        else:
            pane = np.array([[-1, -1.4], [1, -1.4], [1.1, 1.4], [-0.9, 1.4]]) * reach * 1.8 + middle
            cv2.fillConvexPoly(spot, pane.astype(np.int32), 0.5)
        spot = np.asarray(cv2.GaussianBlur(spot, (0, 0), max(0.6, reach * rng.uniform(0.05, 0.7))))
        small += spot * np.float32(rng.uniform(0.1, 1.2))
    size = (light.shape[1], light.shape[0])
    mirrored = cv2.resize(small, size, interpolation=cv2.INTER_CUBIC)
    tint = rng.uniform(0.85, 1.0, 3).astype(np.float32)
    light += (np.maximum(mirrored, 0) * _mask(quad, size))[..., None] * tint


# --- the camera


@dataclass(frozen=True, slots=True)
class _Shot:
    """What the phone does to the light."""

    motion_px: float
    motion_deg: float
    defocus_px: float
    exposure_ev: float
    cast: tuple[float, float, float]
    iso: int
    sharpened: float
    jpeg_quality: int

    @property
    def blur_px(self) -> float:
        return float(np.hypot(self.motion_px, self.defocus_px))

    @staticmethod
    def drawn(rng: np.random.Generator, how: How) -> _Shot:
        most = 10.0 if how == "full" else 5.9
        motion = float(rng.uniform(0, most)) if rng.random() < 0.5 else float(rng.uniform(0, 1.5))
        rest = float(np.sqrt(max(0.0, most**2 - motion**2)))
        defocus = (
            float(rng.uniform(0, rest)) if rng.random() < 0.35 else float(rng.uniform(0, min(rest, 2.0)))
        )
        red, blue = np.exp2(rng.normal(0, 0.2, 2).clip(-0.5, 0.5))
        return _Shot(
            motion,
            float(rng.uniform(0, 180)),
            defocus,
            float(rng.uniform(-1.5, 1.5)),
            (float(red), float(rng.uniform(0.95, 1.05)), float(blue)),
            round(50 * 2 ** rng.uniform(0, 6)),
            float(rng.uniform(0, 0.8)),
            int(rng.integers(40, 81)),
        )


def _taken(light: Light, shot: _Shot, rng: np.random.Generator) -> Pixels:
    """The photo of the light."""
    light = _moved(light, shot.motion_px, shot.motion_deg)
    if shot.defocus_px > 0.7:
        # two boxes resemble a small disc closely enough
        light = np.asarray(cv2.GaussianBlur(light, (0, 0), shot.defocus_px / 4 + 0.2))
    light *= np.array(shot.cast, np.float32) * np.float32(2**shot.exposure_ev)
    light *= _vignette(light.shape[1], light.shape[0])[..., None]
    _add_noise(light, shot.iso, rng)
    picture = _toned(light)
    if shot.sharpened > 0.1:
        soft = cv2.GaussianBlur(picture, (0, 0), 1.2)
        picture = np.asarray(
            cv2.addWeighted(picture, 1 + shot.sharpened, soft, -shot.sharpened, 0), dtype=np.uint8
        )
    return _through_jpeg(picture, shot.jpeg_quality)


def _moved(light: Light, length: float, angle: float) -> Light:
    """Smeared along a line: two halves shifted apart, again by half as much, and so on."""
    size = (light.shape[1], light.shape[0])
    step = length / 2
    while step > 0.4:
        x, y = step / 2 * np.cos(np.radians(angle)), step / 2 * np.sin(np.radians(angle))
        there, back = (
            cv2.warpAffine(
                light, np.array([[1, 0, s * x], [0, 1, s * y]]), size, borderMode=cv2.BORDER_REPLICATE
            )
            for s in (1, -1)
        )
        light = np.asarray(cv2.addWeighted(there, 0.5, back, 0.5, 0))
        step /= 2
    return light


@cache
def _vignette(width: int, height: int) -> Light:
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    return np.asarray(1 / (1 + 0.16 * (x * x + y * y)) ** 1.5, dtype=np.float32)


@cache
def _grain() -> Light:
    """Noise of one, somewhat smoothed as phones do, more in colour than in brightness."""
    rng = np.random.default_rng(5)
    fine = rng.standard_normal((LONG, LONG, 3), dtype=np.float32)
    fine = 0.6 * fine + 0.6 * rng.standard_normal((LONG, LONG, 1), dtype=np.float32)
    soft = np.asarray(cv2.GaussianBlur(fine, (0, 0), 0.7))
    return np.asarray(soft / soft.std(), dtype=np.float32)


def _add_noise(light: Light, iso: int, rng: np.random.Generator) -> None:
    """Shot noise grows with the root of the light, read noise stays."""
    height, width = light.shape[:2]
    top, left = int(rng.integers(LONG - height + 1)), int(rng.integers(LONG - width + 1))
    grain = _grain()[top : top + height, left : left + width]
    turn = slice(None, None, int(rng.choice([-1, 1])))
    gain = iso / 100 * 2e-5
    spread = cv2.sqrt(np.maximum(light, 0) * np.float32(gain) + np.float32((2e-4 * iso / 100) ** 2 + 1e-7))
    light += spread * grain[turn, ::-1]


@cache
def _curve() -> Pixels:
    """From linear light in 4096 steps to sRGB, with a soft shoulder towards white."""
    level = np.arange(4096) / 4095 * 1.6
    level = np.where(level < 0.7, level, 0.7 + 0.3 * np.tanh((level - 0.7) / 0.3 * 0.9))
    coded = np.where(level <= 0.0031308, level * 12.92, 1.055 * level ** (1 / 2.4) - 0.055)
    return np.round(np.clip(coded, 0, 1) * 255).astype(np.uint8)


def _toned(light: Light) -> Pixels:
    steps = np.clip(light * np.float32(4095 / 1.6), 0, 4095).astype(np.uint16)
    return np.asarray(np.take(_curve(), steps), dtype=np.uint8)


def _through_jpeg(picture: Pixels, quality: int) -> Pixels:
    _, coded = cv2.imencode(".jpg", picture[..., ::-1], (cv2.IMWRITE_JPEG_QUALITY, quality))
    decoded: Any = cv2.imdecode(coded, cv2.IMREAD_COLOR)
    return np.ascontiguousarray(decoded[..., ::-1], dtype=np.uint8)


def _show(folder: Path) -> None:
    """Photos of five loops, careful and full, and the three kinds of nothing, with the screen outlined."""
    made = make_loops(folder, 10, 1, "test")
    rng = np.random.default_rng(3)
    shown, started = [], time.process_time()
    for number in range(20):
        one, other = (made[int(at)] for at in rng.choice(len(made), 2, replace=False))
        frames = [frame_at(loop.path, float(rng.uniform(0, 12))) for loop in (one, other)]
        how: How = "careful" if number < 8 else "full"
        picture, truth = photo(frames[0], rng, how, frames[1] if rng.random() < 0.35 else None)
        outline = np.round(np.array(truth.quad)).astype(np.int32)
        shown.append(cv2.polylines(picture.copy(), [outline], True, (255, 0, 0), 2))
        Image.fromarray(picture).save(folder / f"photo-{number:02d}.jpg")
    shown += [
        nothing(rng, kind) for kind in ("black", "black", "menu", "menu", "surroundings", "surroundings")
    ]
    print(f"{(time.process_time() - started) / len(shown):.3f} s CPU a photo")
    cells = [cv2.copyMakeBorder(one, 0, 1600 - one.shape[0], 0, 1600 - one.shape[1], 0) for one in shown]
    cells = [cv2.resize(one, (400, 400), interpolation=cv2.INTER_AREA) for one in cells]
    cells += [np.zeros((400, 400, 3), np.uint8)] * (-len(cells) % 5)
    rows = [np.hstack(cells[at : at + 5]) for at in range(0, len(cells), 5)]
    Image.fromarray(np.vstack(rows)).save(folder / "photos.png")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Take a few simulated photos to look at.")
    parser.add_argument("--show", type=Path, required=True, metavar="FOLDER")
    _show(parser.parse_args().show)
