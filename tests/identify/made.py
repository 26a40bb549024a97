"""A small library of the sample clips, and photos of screens that show them.

It must not use the simulation that the models were fitted with.
"""

from __future__ import annotations

import io
import subprocess
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from mediacheck.identify.footage import footage
from mediacheck.identify.gallery import Entry, Gallery
from mediacheck.identify.index import ItemIndex, index_of
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts

SAMPLES = Path(__file__).parents[2] / "sample_media"
CLIPS = ("watering-landscape.mp4", "soil-4-3.mp4", "seeds-portrait.mp4", "offers-h265.mp4")
WATER, SOIL, SEEDS, OFFERS = CLIPS
Pixels = NDArray[np.uint8]


@cache
def item(name: str) -> ItemIndex:
    """What a library keeps of a sample clip."""
    return index_of(footage(SAMPLES / name, _facts(SAMPLES / name)))


def item_of(path: Path) -> ItemIndex:
    """The same of any file."""
    return index_of(footage(path, _facts(path)))


def _facts(path: Path) -> MediaFacts:
    facts = read_facts(path, path.name)
    assert isinstance(facts, MediaFacts)
    return facts


@cache
def gallery() -> Gallery:
    """All sample clips, a loop each."""
    return Gallery([Entry(name, (item(name),)) for name in CLIPS])


@cache
def frame(name: str, number: int = -1) -> Pixels:
    """One picture of a sample clip."""
    return [picture for _, picture in footage(SAMPLES / name, _facts(SAMPLES / name))][number]


def photo(
    shown: Pixels, *, tilt: float = 0.15, width: int = 1000, dim: float = 0.8, blur: float = 1.0
) -> Pixels:
    """A screen seen from one side, in a room that is not empty."""
    room = np.zeros((900, 1200, 3), np.uint8)
    room[:] = (70, 62, 55)
    for place in range(0, 1200, 90):
        cv2.rectangle(room, (place, 620 + place % 70), (place + 60, 900), (90, 50 + place % 120, 40), -1)
    height = width * shown.shape[0] / shown.shape[1]
    if height > 700:
        width, height = round(width * 700 / height), 700
    left, top = (1200 - width) / 2, (900 - height) / 2
    corners = np.array(
        [[0, 0], [shown.shape[1], 0], [shown.shape[1], shown.shape[0]], [0, shown.shape[0]]], np.float32
    )
    quad = np.array(
        [
            [left, top + tilt * height],
            [left + width, top],
            [left + width, top + height],
            [left, top + height * (1 - tilt)],
        ],
        np.float32,
    )
    matrix = cv2.getPerspectiveTransform(corners, quad)
    screen = cv2.warpPerspective(shown, matrix, (1200, 900), flags=cv2.INTER_AREA)
    mask = cv2.warpPerspective(np.full(shown.shape[:2], 255, np.uint8), matrix, (1200, 900)) > 0
    seen = np.where(mask[..., None], screen * dim, room).astype(np.float32)
    grain = np.random.default_rng(3).normal(0, 4, seen.shape)
    return np.asarray((cv2.GaussianBlur(seen, (0, 0), 1.0) + grain).clip(0, 255), np.uint8)


def jpeg(picture: Pixels, orientation: int = 1) -> bytes:
    """As a phone saves it."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif.get_ifd(0x8769)[0x9003] = "2026:03:10 11:00:00"
    exif.get_ifd(0x8769)[0x9011] = "+00:00"
    made = io.BytesIO()
    Image.fromarray(picture).save(made, "JPEG", quality=80, exif=exif)
    return made.getvalue()


def encoded(source: Path, goal: Path, *arguments: str) -> Path:
    """A clip of another, by ffmpeg."""
    command = ["ffmpeg", "-v", "error", "-y", "-i", str(source), "-an", *arguments, str(goal)]
    subprocess.run(command, check=True, timeout=60)
    return goal
