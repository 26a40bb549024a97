"""Photos from phones: opened within limits, and freed of what they say of people: where, by whom, with what.

It must not change a pixel: of a JPEG file, segments are left out, and the rest stays as it is.
Source: ITU-T T.81 Annex B (markers); CIPA DC-008 (EXIF): the tags' numbers, from memory.
"""

from __future__ import annotations

import io
import re
import struct
import warnings
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone

from PIL import Image

PIXELS_MAX = 150_000_000
"""A phone's photo has up to 108 million; unpacked, these take half a gigabyte."""
FORMATS = ("JPEG", "PNG", "WEBP", "GIF", "BMP")
BROKEN = (OSError, ValueError, SyntaxError, EOFError, LookupError, TypeError, ArithmeticError, MemoryError)
"""What Pillow's readers raise at damaged files, each in its own way."""
SEARCHED_PX = 800
"""Of a JPEG, no more pixels than these are decoded where a small picture is wanted."""
ORIENTATION, TAKEN, OFFSET, EXIF_PART = 0x0112, 0x9003, 0x9011, 0x8769
KEPT_SEGMENTS = {0xE0: b"JFIF", 0xE2: b"ICC_PROFILE", 0xEE: b"Adobe"}
"""Of the application segments: how the picture is to be decoded and coloured, no more."""
START, SCAN, END = b"\xff\xd8", 0xDA, 0xD9
STANDING_ALONE = frozenset((0x00, 0x01, 0xFF, *range(0xD0, 0xD8)))
"""In coded data: a stuffed byte, and marks without a length."""
HEIC = re.compile(rb"^.{4}ftyp(?:heic|heix|hevc|hevx|mif1|msf1|heim|heis)", re.DOTALL)


def opened(content: bytes) -> Image.Image | None:
    """A picture of one of our formats, whole; None where it is damaged or far too large."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image = Image.open(io.BytesIO(content), formats=FORMATS)
            if image.width * image.height > PIXELS_MAX:
                return None
            if image.format == "JPEG":
                image.draft("RGB", (SEARCHED_PX, SEARCHED_PX))  # decodes fewer pixels
            image.load()
    except (*BROKEN, Image.DecompressionBombError):
        return None
    return image


def is_heic(content: bytes) -> bool:
    """Whether this is a photo in the form that some phones save by themselves."""
    return HEIC.match(content) is not None


def taken_at(image: Image.Image) -> datetime | None:
    """When a photo was taken, by the phone's clock; with its offset from UTC where the phone says it."""
    try:
        part = image.getexif().get_ifd(EXIF_PART)
        moment = datetime.strptime(str(part.get(TAKEN, "")).strip("\0 "), "%Y:%m:%d %H:%M:%S")
    except BROKEN:
        return None
    offset = re.fullmatch(r"([+-])(\d\d):(\d\d)", str(part.get(OFFSET, "")).strip("\0 "))
    if offset is None:
        return moment
    minutes = int(offset[2]) * 60 + int(offset[3])
    return moment.replace(tzinfo=timezone(timedelta(minutes=-minutes if offset[1] == "-" else minutes)))


def without_words(content: bytes, image: Image.Image) -> bytes:
    """The same photo with nothing but its pixels, its colours and how it is turned. ValueError: not whole."""
    if image.format != "JPEG":
        packed = io.BytesIO()
        plain = Image.frombytes(image.mode, image.size, image.tobytes())
        if image.mode == "P" and image.palette is not None:
            plain.putpalette(image.getpalette("RGB") or [], "RGB")
        plain.save(packed, "PNG")
        return packed.getvalue()
    turned = image.getexif().get(ORIENTATION, 1)
    turned = turned if isinstance(turned, int) and 1 <= turned <= 8 else 1
    return b"".join((START, _orientation(turned), *_parts(content)))


def _parts(content: bytes) -> Iterator[bytes]:
    """All that is kept behind the start, up to the end of the first picture: phones put films behind it."""
    at = 2
    while at + 4 <= len(content):
        if content[at] != 0xFF:
            raise ValueError("no marker where one belongs")
        marker = content[at + 1]
        if marker == 0xFF:
            at += 1
            continue
        if marker == END:
            break
        length = int.from_bytes(content[at + 2 : at + 4], "big")
        end = at + 2 + length
        if marker == SCAN:
            end = _end_of_scan(content, end)
        if _is_kept(marker, content[at + 4 : end]):
            yield content[at:end]
        at = end
    yield bytes((0xFF, END))


def _is_kept(marker: int, body: bytes) -> bool:
    """Everything but comments and application segments, of which a few say how to decode."""
    if marker in KEPT_SEGMENTS:
        return body.startswith(KEPT_SEGMENTS[marker])
    return not (0xE0 <= marker <= 0xEF or marker == 0xFE)


def _end_of_scan(content: bytes, at: int) -> int:
    """Where the next real marker stands behind coded data."""
    while True:
        at = content.find(b"\xff", at)
        if at < 0 or at + 1 >= len(content):
            return len(content)
        if content[at + 1] not in STANDING_ALONE:
            return at
        at += 1 if content[at + 1] == 0xFF else 2


def _orientation(turned: int) -> bytes:
    """An EXIF segment with this one tag; nothing for a picture that lies as it is meant."""
    if turned == 1:
        return b""
    tiff = struct.pack("<2sHIHHHIHHI", b"II", 42, 8, 1, ORIENTATION, 3, 1, turned, 0, 0)
    body = b"Exif\0\0" + tiff
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body
