"""Makes the sample media beside this file: short clips and stills of an invented garden-centre display.

It must not use anything of mediacheck, which is tested with these files.

Run `python sample_media/make.py [FOLDER]` with an ffmpeg that has x264, x265 and LAME on PATH. The same
ffmpeg makes the same bytes again; another version makes other bytes with the same facts.
"""

from __future__ import annotations

import io
import math
import random
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pymupdf_fonts
from PIL import Image, ImageDraw, ImageFont

HERE = Path(__file__).parent
SMOOTH = 2
"""Everything is drawn this many times larger and scaled down, so that edges are not jagged."""
EXACT = ("-fflags", "+bitexact", "-flags:v", "+bitexact", "-flags:a", "+bitexact", "-map_metadata", "-1")

Motif = Callable[[ImageDraw.ImageDraw, float, int, int, str], None]


@dataclass(frozen=True, slots=True)
class Poster:
    """What a picture shows: a title and a line under it on a coloured ground, with something that moves."""

    title: str
    line: str
    ground: str
    accent: str
    motif: Motif


@dataclass(frozen=True, slots=True)
class Clip:
    """One moving picture. With `turned`, it is drawn upright and stored turned counter-clockwise,
    for a panel that is mounted 90 degrees clockwise."""

    file_name: str
    poster: Poster
    width: int
    height: int
    rate: Fraction
    frames: int
    arguments: str
    tone_hz: int | None = None
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Still:
    """One picture; `options` are those of Pillow's `save`."""

    file_name: str
    poster: Poster
    width: int
    height: int
    options: tuple[tuple[str, Any], ...]


def drops(pen: ImageDraw.ImageDraw, phase: float, width: int, height: int, colour: str) -> None:
    """Rain: each drop falls once or twice through the picture in a round."""
    places = random.Random(5)
    size = height / 24
    for _ in range(22):
        across, start, rounds = places.random() * width, places.random(), places.choice((1, 2))
        down = ((start + rounds * phase) % 1) * (height + 4 * size) - 2 * size
        pen.ellipse((across - size / 2, down - size / 2, across + size / 2, down + size / 2), fill=colour)
        pen.polygon(
            [(across - size / 2, down), (across + size / 2, down), (across, down - 1.3 * size)], fill=colour
        )


def sprouts(pen: ImageDraw.ImageDraw, phase: float, width: int, height: int, colour: str) -> None:
    """A row of seedlings that sway, and grow and shrink again."""
    count = 9
    for number in range(count):
        foot = width * (number + 0.5) / count
        turn = 2 * math.pi * (phase + number / count)
        tall = height * (0.16 + 0.05 * math.sin(turn))
        tip, top = foot + width * 0.012 * math.cos(turn), height - tall
        pen.line([(foot, height), (tip, top)], fill=colour, width=max(2, width // 160))
        leaf = width / (3 * count)
        pen.ellipse((tip - leaf, top - leaf / 2, tip, top + leaf / 3), fill=colour)
        pen.ellipse((tip, top - leaf / 2, tip + leaf, top + leaf / 3), fill=colour)


def pebbles(pen: ImageDraw.ImageDraw, phase: float, width: int, height: int, colour: str) -> None:
    """Rings that roll along the lower edge, once through the picture in a round."""
    count, size = 6, height / 7
    for number in range(count):
        across = ((number / count + phase) % 1) * (width + 2 * size) - size
        box = (across - size / 2, height - 1.25 * size, across + size / 2, height - size / 4)
        pen.ellipse(box, outline=colour, width=max(3, int(size / 8)))


WATERING = Poster("WATERING", "Drizzle set: 12 pots, one tap", "#0d6f8a", "#8fd3e0", drops)
SEEDS = Poster("SEEDS", "Windowsill meadow", "#f2e3bc", "#4c7a34", sprouts)
SOIL = Poster("SOIL", "Peat-free, three bags", "#4a3426", "#d9a566", pebbles)
OFFERS = Poster("THIS WEEK", "Terracotta pots in pairs", "#b5482f", "#ffd9a0", pebbles)
NIGHT = Poster("OPEN LATE", "Fridays until eight", "#22304f", "#f4cf5d", drops)
BULBS = Poster("BULBS", "Plant now for March", "#efe7f4", "#7c4a91", sprouts)

NTSC = Fraction(30000, 1001)
X264 = "-c:v libx264 -preset slow -pix_fmt yuv420p"
BT709 = "-color_primaries bt709 -color_trc bt709 -colorspace bt709"
FAST = "-movflags +faststart"

CLIPS = (
    Clip("watering-landscape.mp4", WATERING, 1280, 720, Fraction(25), 75,
         f"{X264} -crf 26 -profile:v high -level 4 -g 25 {BT709} -c:a aac -b:a 96k {FAST}", tone_hz=220),
    Clip("seeds-portrait.mp4", SEEDS, 1280, 720, Fraction(30), 60,
         f"{X264} -crf 26 -profile:v main -level 4 -g 30 {BT709} -c:a aac -b:a 96k {FAST}",
         tone_hz=330, turned=True),
    Clip("soil-4-3.mp4", SOIL, 640, 480, NTSC, 60,
         f"{X264} -crf 28 -profile:v baseline -level 3.1 -g 30"),
    Clip("offers-h265.mp4", OFFERS, 1280, 720, Fraction(50), 75,
         f"-c:v libx265 -preset medium -crf 28 -x265-params log-level=error:pools=1:keyint=50"
         f" -pix_fmt yuv420p -tag:v hvc1 {BT709} {FAST}"),
    Clip("night.avi", NIGHT, 640, 360, Fraction(25), 50,
         "-c:v mpeg4 -q:v 6 -vtag XVID -c:a libmp3lame -b:a 128k -avoid_negative_ts disabled",
         tone_hz=262),
)  # fmt: skip
STILLS = (
    Still("bulbs-baseline.jpg", BULBS, 1920, 1080, (("quality", 85), ("progressive", False))),
    Still("bulbs-progressive.jpg", BULBS, 1024, 600, (("quality", 85), ("progressive", True))),
    Still("watering.png", WATERING, 1024, 600, (("optimize", True),)),
)


@cache
def font(size: int) -> ImageFont.FreeTypeFont:
    """FiraGO Bold, as the pymupdf-fonts package carries it."""
    return ImageFont.truetype(io.BytesIO(pymupdf_fonts.myfont("figbo")), size)


def draw(poster: Poster, width: int, height: int, phase: float) -> Image.Image:
    """The poster at one moment of its round (`phase` from 0 up to, not including, 1), in pixels."""
    wide, high = width * SMOOTH, height * SMOOTH
    picture = Image.new("RGB", (wide, high), poster.ground)
    pen = ImageDraw.Draw(picture)
    poster.motif(pen, phase, wide, high, poster.accent)
    ink = "#ffffff" if sum(picture.getpixel((0, 0))) < 3 * 128 else "#2b2118"  # type: ignore[arg-type]
    top = 0.18 * high if wide > high else 0.28 * high
    for text, share, tallest in ((poster.title, 0.86, 0.3), (poster.line, 0.74, 0.11)):
        letters = font(int(min(100 * wide * share / pen.textlength(text, font(100)), high * tallest)))
        edge = letters.size / 16
        pen.text(
            *((wide / 2, top), text, ink, letters),
            anchor="mt",
            stroke_width=edge,
            stroke_fill=poster.ground,
        )
        top += 1.25 * letters.size
    return picture.resize((width, height), Image.Resampling.LANCZOS)


def pictures(clip: Clip) -> Iterator[bytes]:
    """The clip's frames as RGB bytes; the last goes over into the first."""
    for number in range(clip.frames):
        if clip.turned:
            upright = draw(clip.poster, clip.height, clip.width, number / clip.frames)
            yield upright.transpose(Image.Transpose.ROTATE_90).tobytes()
        else:
            yield draw(clip.poster, clip.width, clip.height, number / clip.frames).tobytes()


def make_clip(clip: Clip, folder: Path, ffmpeg: str) -> Path:
    """Encode one clip into `folder`. Raises RuntimeError with ffmpeg's last words."""
    place = folder / clip.file_name
    seconds = float(clip.frames / clip.rate)
    raw = f"-f rawvideo -pix_fmt rgb24 -s {clip.width}x{clip.height} -r {clip.rate} -i -"
    tones = "|".join(f"0.1*sin({n}*PI*{clip.tone_hz}*t)" for n in (2, 3))
    sound = f"-f lavfi -i aevalsrc={tones}:d={seconds}:s=48000"
    command = [
        *(ffmpeg, "-v", "error", "-nostdin", "-y", *raw.split()),
        *(sound.split() if clip.tone_hz else ()),
        *(*clip.arguments.split(), "-threads", "1", *EXACT, str(place)),
    ]
    done = subprocess.run(command, input=b"".join(pictures(clip)), capture_output=True, check=False)
    if done.returncode:
        raise RuntimeError(done.stderr.decode(errors="replace"))
    return place


def make_still(still: Still, folder: Path) -> Path:
    """Write one still into `folder`."""
    place = folder / still.file_name
    draw(still.poster, still.width, still.height, 0.3).save(place, **dict(still.options))
    return place


def main() -> None:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    folder.mkdir(parents=True, exist_ok=True)
    ffmpeg = shutil.which("ffmpeg")
    if ffmpeg is None:
        raise SystemExit("There is no ffmpeg on PATH.")
    for place in (
        *(make_clip(clip, folder, ffmpeg) for clip in CLIPS),
        *(make_still(still, folder) for still in STILLS),
    ):
        print(f"{place.stat().st_size:9,} bytes  {place.name}")


if __name__ == "__main__":
    main()
