"""In a worker process: what the files show that are to be identified, photos, clips and the files of cards.

It must not know of displays and faces: that is for `asking`.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from mediacheck import photos as phone
from mediacheck.card.within import Within
from mediacheck.errors import WrongUse
from mediacheck.identify.answers import Answer, LoopSeen, answer_photos
from mediacheck.identify.footage import footage
from mediacheck.identify.gallery import Gallery
from mediacheck.identify.indexing import limit_s
from mediacheck.identify.library import Library, LoopNamed
from mediacheck.identify.picture import evidence_png
from mediacheck.identify.traces import Trace, Tracer
from mediacheck.inspection import sha256_of
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from mediacheck.photos import BROKEN, FORMATS, PIXELS_MAX

PHOTO_MAX_BYTES = 200_000_000
PHOTO_PX = 1600
"""A photo is made this small before it is searched."""
LONGEST = 20
"""A panorama is about five times as wide as it is high (common practice, no source)."""
LIBRARY_LIMIT_S, PHOTO_LIMIT_S = 120.0, 30.0
"""A library of thousands of loops on a slow drive; one photo."""


@dataclass(frozen=True, slots=True)
class PhotosSeen:
    """What photos of one screen show. `evidence`: a PNG picture that shows why, where it was asked for."""

    answer: Answer
    reason: str
    loops: tuple[LoopSeen, ...]
    taken_at: datetime | None
    evidence: bytes | None


def looking_limit_s(what: Path | Within | tuple[Path, ...], *_: object) -> float:
    """How long one call of `look_at_photos`, `trace_of` or `indexing.look_at` may take."""
    return LIBRARY_LIMIT_S + PHOTO_LIMIT_S * len(what) if isinstance(what, tuple) else limit_s(what)


def look_at_photos(
    files: tuple[Path, ...], folder: Path, loops: tuple[LoopNamed, ...], evidence: bool
) -> PhotosSeen:
    """Search photos of one screen for loops of the library in `folder`. WrongUse, LibraryError."""
    opened = [open_photo(file) for file in _each_once(files)]
    gallery = Gallery(Library(folder).entries(loops))
    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        found = answer_photos([photo for photo, _ in opened], gallery)
    finally:
        cv2.setNumThreads(threads)
    taken = next((moment for _, moment in opened if moment is not None), None)
    picture = evidence_png(found, gallery) if evidence else None
    return PhotosSeen(found.answer, found.reason, found.loops, taken, picture)


def _each_once(files: tuple[Path, ...]) -> list[Path]:
    """The same photo twice is one photo: it proves no more than once."""
    found: dict[str, Path] = {}
    for file in files:
        try:
            found.setdefault(sha256_of(file), file)
        except OSError:
            found.setdefault(str(file), file)  # opening it says what is wrong
    return list(found.values())


def open_photo(file: Path) -> tuple[NDArray[np.uint8], datetime | None]:
    """A photo the right way up, RGB, and when it was taken. WrongUse, in one sentence."""
    try:
        if file.stat().st_size > PHOTO_MAX_BYTES:
            raise WrongUse(f"{file} is larger than any photo.")
        with file.open("rb") as content:
            if phone.is_heic(content.read(32)):
                raise WrongUse(
                    f"{file} is a HEIC photo: set the phone to save JPEG, or send the photo as JPEG."
                )
            content.seek(0)
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                image = Image.open(content, formats=FORMATS)
                if image.width * image.height > PIXELS_MAX:
                    raise WrongUse(f"{file} has more pixels than any photo.")
                taken = phone.taken_at(image)
                if max(image.size) > LONGEST * min(image.size):
                    raise WrongUse(f"{file} is far too narrow for a photo of a screen.")
                image.draft("RGB", (PHOTO_PX, PHOTO_PX))
                seen = _in_colour(image)
                seen.thumbnail((PHOTO_PX, PHOTO_PX), Image.Resampling.BOX)
                seen = phone.turned(seen, phone.orientation(image))
    except WrongUse:
        raise
    except PermissionError as error:
        raise WrongUse(f"{file} may not be read by you.") from error
    except (*BROKEN, Image.DecompressionBombError) as error:
        what = "it breaks off" if "truncated" in str(error) else "it is damaged, or something else"
        raise WrongUse(f"{file} is no photo that can be read: {what}.") from error
    return np.asarray(seen, np.uint8), taken


def _in_colour(image: Image.Image) -> Image.Image:
    """RGB; Pillow cuts off what is brighter than 255 of 16 bit, where all of it is to be scaled."""
    if image.mode.startswith("I"):
        levels = np.asarray(image, np.float32) / 257
        return Image.fromarray(levels.clip(0, 255).astype(np.uint8)).convert("RGB")
    image.load()
    return image if image.mode == "RGB" else image.convert("RGB")


def trace_of(location: Path | Within, name: str) -> tuple[str, Trace | None]:
    """A file's SHA-256, and what it shows along time; None: nothing of it can be decoded."""
    try:
        digest = sha256_of(location)
    except OSError:
        return "", None
    facts = read_facts(location, name)
    if not isinstance(facts, MediaFacts) or facts.kind == "audio":
        return digest, None
    tracer = Tracer()
    for second, picture in footage(location, facts):
        tracer.see(second, picture)
    trace = tracer.result()
    return digest, trace if len(trace) else None
