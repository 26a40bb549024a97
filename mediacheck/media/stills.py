"""What a still picture says of itself, and whether it decodes to its last line.

It must not judge; Pillow does the decoding.
"""

from __future__ import annotations

import struct
import warnings
import zlib
from typing import TYPE_CHECKING

from mediacheck.media import jpeg
from mediacheck.media.facts import MediaFacts, StillFacts, Unreadable
from mediacheck.media.opening import Location

if TYPE_CHECKING:
    from PIL.Image import Image

FORMATS = ("JPEG", "PNG", "BMP", "GIF", "WEBP")
NAMES = {"WEBP": "WebP", "MPO": "JPEG"}
"""MPO is what Pillow calls a JPEG file with further pictures behind the first, as phones write them."""
COLOURS = {"1": "grey", "L": "grey", "P": "palette", "RGB": "RGB", "LA": "RGBA", "RGBA": "RGBA", "PA": "RGBA"}
ORIENTATION_TAG = 0x0112
JPEG_HEAD_BYTES = 1 << 20
PNG_DEPTH_AT = 24
"""Place of the bit depth in the first chunk (IHDR) of a PNG file (W3C PNG specification)."""
BROKEN = (
    *(OSError, ValueError, SyntaxError, EOFError, LookupError, TypeError, ArithmeticError),
    *(MemoryError, struct.error, zlib.error),
)
"""What Pillow's readers raise at damaged files, each in its own way."""


def read(location: Location) -> MediaFacts | Unreadable:
    """Facts of one still. Raises OSError where the file cannot be read at all."""
    from PIL import Image, UnidentifiedImageError

    with location.open("rb") as file:
        head = file.read(JPEG_HEAD_BYTES)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                with Image.open(file, formats=FORMATS) as image:
                    return MediaFacts("still", still=_facts(image, head))
        except UnidentifiedImageError:
            return Unreadable("still", "no picture could be found in it")
        except Image.DecompressionBombError:
            return Unreadable("still", "it claims more pixels than any screen has")
        except BROKEN as error:
            return Unreadable("still", f"its header is broken ({error})")


def _facts(image: Image, head: bytes) -> StillFacts:
    kind = NAMES.get(str(image.format), str(image.format))
    frame = jpeg.frame_of(head) if kind == "JPEG" else None
    damaged = _damage(image)
    return StillFacts(
        format=kind,
        width=image.width,
        height=image.height,
        progressive=frame.progressive if frame else False,
        colour=_colour(image, frame),
        bit_depth=_bit_depth(image, head, frame),
        orientation=_orientation(image),
        frames=_frames(image),
        damaged=damaged,
    )


def _colour(image: Image, frame: jpeg.Frame | None) -> str:
    if image.mode == "CMYK":
        return "YCCK" if frame and frame.adobe_transform == 2 else "CMYK"
    return COLOURS.get(image.mode, "grey" if image.mode.startswith(("I", "F")) else image.mode)


def _bit_depth(image: Image, head: bytes, frame: jpeg.Frame | None) -> int:
    if frame:
        return frame.bit_depth
    if image.format == "PNG":
        return head[PNG_DEPTH_AT]
    return 16 if image.mode.startswith("I;16") else 1 if image.mode == "1" else 8


def _orientation(image: Image) -> int:
    try:
        value = image.getexif().get(ORIENTATION_TAG, 1)
    except BROKEN:
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _frames(image: Image) -> int:
    try:
        return int(getattr(image, "n_frames", 1))
    except BROKEN:
        return 1


def _damage(image: Image) -> str | None:
    try:
        image.load()
    except BROKEN as error:
        text = str(error)
        return (
            "the file ends before the picture does" if "truncated" in text else f"it does not decode ({text})"
        )
    return None
