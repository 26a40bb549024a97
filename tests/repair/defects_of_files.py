"""Containers, stills, names and places with one defect each, in what otherwise conforms.

It must not mend anything.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from PIL import Image

from tests.repair.case import Case, of
from tests.repair.films import FIRST, MARKS, PLAIN, X264, Film, run


def _with_words(folder: Path) -> None:
    """A Matroska file with two sounds and subtitles besides."""
    (folder / "words.srt").write_text("1\n00:00:00,000 --> 00:00:01,500\nPlant now\n")
    Film().make(folder / "plain.mp4")
    streams = ("-map", "0", "-map", "0:a", "-map", "1", "-c", "copy", "-c:s", "srt")
    run("-i", folder / "plain.mp4", "-i", folder / "words.srt", *streams, folder / "seeds.mkv")
    for name in ("plain.mp4", "words.srt"):
        (folder / name).unlink()


CONTAINERS = (
    of("QuickTime", "container-format", "container", Film(), "seeds.mov"),
    of("Matroska", "container-format", "container", Film(wrapping=()), "seeds.mkv"),
    of("transport stream", "container-format", "container", Film(wrapping=()), "seeds.ts"),
    of(
        "AVI",
        "container-format",
        "container",
        Film(video=(*X264, "-bf", "0", *PLAIN, *MARKS), wrapping=("-avoid_negative_ts", "disabled")),
        "seeds.avi",
    ),
    of(
        "AVI with a gap",
        "container-format",
        "picture",
        Film(video=(*X264, "-bf", "0", *PLAIN, *MARKS), wrapping=()),
        "seeds.avi",
    ),
    of("index last", "container-index", "container", Film(wrapping=())),
    of(
        "fragments",
        "container-fragmented",
        "container",
        Film(wrapping=("-movflags", "+frag_keyframe+empty_moov+default_base_moof")),
    ),
    of(
        "two pictures",
        "video-extra-stream",
        "container",
        Film(wrapping=("-map", "0:v", "-map", "0:v", "-map", "1:a", *FIRST)),
    ),
    of(
        "level understated",
        "video-level-understated",
        "container",
        Film(again=("-bsf:v", "h264_metadata=level=1.1")),
    ),
    of("time code", "container-index", "container", Film(wrapping=("-timecode", "10:00:00:00"))),
    of(
        "QuickTime wanted",
        "container-format",
        "container",
        Film(),
        out="seeds.mov",
        video={"containers": ["MOV"]},
    ),
    of(
        "Matroska wanted",
        "container-format",
        "container",
        Film(),
        out="seeds.mkv",
        video={"containers": ["MKV"]},
    ),
    Case("words and a second sound", "container-format", "container", _with_words, "seeds.mp4"),
    of("another ending", "file-extension", "move", Film(wrapping=(*FIRST, "-f", "mp4")), "seeds.mkv"),
)


def _still(
    name: str, size: tuple[int, int] = (320, 180), mode: str = "RGB", **save: Any
) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        ramp = Image.linear_gradient("L").resize(size)
        image = Image.merge("RGB", (ramp, ramp.transpose(Image.Transpose.FLIP_LEFT_RIGHT), ramp))
        image.convert(mode).save(folder / name, **save)

    return make


def _deep(folder: Path) -> None:
    Image.linear_gradient("L").resize((320, 180)).convert("I;16").save(folder / "seeds.png")


def _turned() -> Image.Exif:
    exif = Image.Exif()
    exif[0x0112] = 6
    return exif


STILLS = (
    Case("PNG", "still-format", "still", _still("seeds.png"), "seeds.jpg"),
    Case("BMP", "still-format", "still", _still("seeds.bmp"), "seeds.jpg"),
    Case("GIF", "still-format", "still", _still("seeds.gif", mode="P"), "seeds.jpg"),
    Case("WebP", "still-format", "still", _still("seeds.webp"), "seeds.jpg"),
    Case("progressive", "still-progressive", "still", _still("seeds.jpg", progressive=True), "seeds.jpg"),
    Case("for printing", "still-colour", "still", _still("seeds.jpg", mode="CMYK"), "seeds.jpg"),
    Case("16 bit", "still-colour", "still", _deep, "seeds.png", {"stills": {"formats": ["PNG"]}}),
    Case(
        "turned by EXIF",
        "still-orientation",
        "still",
        _still("seeds.jpg", (180, 320), exif=_turned()),
        "seeds.jpg",
        {"stills": {"width_max": 320, "height_max": 320}},
    ),
    Case("too many pixels", "still-resolution", "still", _still("seeds.jpg", (640, 360)), "seeds.jpg"),
)


def _with(*others: str, film: str = "seeds.mp4") -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        (folder / film).parent.mkdir(exist_ok=True)
        Film().make(folder / film)
        for number, other in enumerate(others):
            (folder / other).write_bytes(bytes([number]) * 5000)

    return make


LAYOUT = (
    Case("letters", "file-name", "move", _with(film="frühlingsblüte.mp4"), "fruehlingsbluete.mp4"),
    Case("question mark", "file-name", "move", _with(film="seeds?.mp4"), "seeds.mp4"),
    Case("name of a device", "file-name", "move", _with(film="aux.mp4"), "aux_2.mp4"),
    Case(
        "form of names",
        "file-name",
        "move",
        _with(),
        "ITEM01.mp4",
        {"layout": {"name_pattern": r"ITEM\d\d\.mp4"}},
    ),
    Case(
        "long name",
        "file-name-length",
        "move",
        _with(film=f"{'seeds-' * 8}.mp4"),
        "seeds-seeds-seeds-seeds-seed.mp4",
    ),
    Case("in a folder", "file-misplaced", "move", _with(film="new/seeds.mp4"), "seeds.mp4"),
    Case(
        "no folder",
        "folder-missing",
        "move",
        _with(),
        "loop/seeds.mp4",
        {"layout": {"media_folder": "/loop"}},
    ),
    Case("left behind", "file-junk", "copy", _with("._seeds.mp4"), "seeds.mp4"),
    Case("of no use", "file-unexpected", "copy", _with("seeds.pdf"), "seeds.mp4"),
)
