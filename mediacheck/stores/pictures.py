"""Small pictures for the summary, as JPEG: of a loop's still or video, or of a photo from a store.

It must not keep them anywhere.
"""

from __future__ import annotations

import hashlib
import io
from pathlib import Path

from PIL import Image

from mediacheck.errors import RolloutError
from mediacheck.measure.frames import telling_pictures
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from mediacheck.photos import upright

LONG_SIDE_PX = 200
QUALITY = 70


def picture_of(path: Path) -> tuple[str, bytes]:
    """A small JPEG of a still or a video, and its SHA-256. RolloutError."""
    facts = read_facts(path, path.name) if path.is_file() else None
    if not isinstance(facts, MediaFacts):
        raise RolloutError(f"{path} is no picture and no video that can be read.")
    frames = telling_pictures(path, facts, 1, long_side_px=2 * LONG_SIDE_PX)
    if not frames:
        raise RolloutError(f"{path} shows nothing that can be decoded.")
    jpeg = small(Image.frombytes("RGB", (frames[0].width, frames[0].height), frames[0].rgb))
    return hashlib.sha256(jpeg).hexdigest(), jpeg


def small(image: Image.Image) -> bytes:
    """A JPEG of at most `LONG_SIDE_PX`, turned as it is meant to be seen, and with no word about it."""
    seen = upright(image)
    seen.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX))
    packed = io.BytesIO()
    seen.convert("RGB").save(packed, "JPEG", quality=QUALITY)
    return packed.getvalue()
