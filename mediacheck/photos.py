"""Photos from phones: opened within limits, and freed of what they say of people: where, by whom, with what.

It must not change a pixel: of a JPEG or PNG file, pieces are left out, and the rest stays as it is.
Source: ITU-T T.81 Annex B (markers), T.871 (JFIF) and T.872 (Adobe); PNG, third edition (chunks); CIPA DC-008
(EXIF): the tags' numbers, from memory.
"""

from __future__ import annotations

import io
import re
import struct
import warnings
import zlib
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone

from PIL import Image

PIXELS_MAX = 150_000_000
"""A phone's photo has up to 108 million; unpacked, these take half a gigabyte."""
FORMATS = ("JPEG", "PNG", "WEBP", "GIF", "BMP")
BROKEN = (
    OSError, ValueError, SyntaxError, EOFError, LookupError, TypeError, ArithmeticError, MemoryError,
    AttributeError, struct.error,
)  # fmt: skip
"""What Pillow's readers raise at damaged files, each in its own way."""
SEARCHED_PX = 800
"""Of a JPEG, no more pixels than these are decoded where a small picture is wanted."""
DAY_MINUTES = 24 * 60
ORIENTATION, TAKEN, OFFSET, EXIF_PART = 0x0112, 0x9003, 0x9011, 0x8769
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""What turns a photo of each orientation as it is meant to be seen."""
BASELINE = ("JPEG", "MPO")
"""What Pillow calls a JPEG file; MPO with a second picture behind the first, as phones write them."""
START, SCAN, END = b"\xff\xd8", 0xDA, 0xD9
DECODING = frozenset((*range(0xC0, 0xC8), *range(0xC9, 0xD0), SCAN, 0xDB, 0xDD))
"""Segments that a decoder needs: frames, tables and scans."""
JFIF, JFIF_BYTES, ICC, ADOBE, ADOBE_BYTES = b"JFIF\0", 12, b"ICC_PROFILE\0", b"Adobe", 12
"""Of the application segments: how the picture is to be decoded and coloured, no more. Behind the first bytes
of JFIF stands a small picture, which may show what was cut off from the large one."""
PNG = b"\x89PNG\r\n\x1a\n"
PNG_HEAD, PNG_END = b"IHDR", b"IEND"
PNG_KEPT = frozenset(
    (PNG_HEAD, b"PLTE", b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB", b"cICP", b"IDAT", PNG_END)
)
"""Chunks that hold the picture, its transparency and its colours."""
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
            if image.format in BASELINE:
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
    zone = _zone(str(part.get(OFFSET, "")).strip("\0 "))
    return moment.replace(tzinfo=zone) if zone else moment


def _zone(text: str) -> timezone | None:
    """The zone of an offset such as +01:00; None where there is none that can be."""
    offset = re.fullmatch(r"([+-])(\d\d):(\d\d)", text)
    minutes = int(offset[2]) * 60 + int(offset[3]) if offset else DAY_MINUTES
    if offset is None or minutes >= DAY_MINUTES:
        return None
    return timezone(timedelta(minutes=-minutes if offset[1] == "-" else minutes))


def orientation(image: Image.Image) -> int:
    """How a photo is turned, by EXIF: 1 as it is meant, also where what it says of that cannot be read."""
    try:
        turned = image.getexif().get(ORIENTATION, 1)
    except BROKEN:
        return 1
    return turned if isinstance(turned, int) and 1 <= turned <= 8 else 1


def upright(image: Image.Image) -> Image.Image:
    """A copy, turned as it is meant to be seen."""
    return turned(image, orientation(image)).copy()


def turned(image: Image.Image, how: int) -> Image.Image:
    """Of a photo of this orientation, what it is meant to be seen as."""
    turn = TURNS.get(how)
    return image.transpose(turn) if turn is not None else image


def without_words(content: bytes, image: Image.Image) -> bytes:
    """The same photo with nothing but its pixels, its colours and how it is turned. ValueError: not whole."""
    turned = orientation(image)
    if image.format in BASELINE:
        kept = b"".join((START, _segment(turned), *_parts(content)))
        again = opened(kept)
        if again is None or again.tobytes() != image.tobytes():
            raise ValueError("what was left out was needed")
        return kept
    if image.format != "PNG":
        packed = io.BytesIO()
        image.save(packed, "PNG")
        content = packed.getvalue()
    return b"".join((PNG, *_chunks(content, turned)))


def _chunks(content: bytes, turned: int) -> Iterator[bytes]:
    """All of a PNG file that is kept, up to its end, with how it is turned behind its head."""
    at, kind = len(PNG), b""
    while kind != PNG_END:
        length, kind = int.from_bytes(content[at : at + 4], "big"), content[at + 4 : at + 8]
        end = at + 12 + length
        if len(kind) < 4 or end > len(content):
            raise ValueError("a chunk breaks off")
        if kind in PNG_KEPT:
            yield content[at:end]
        if kind == PNG_HEAD and turned != 1:
            yield _chunk(b"eXIf", _orientation(turned))
        at = end


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


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
        if marker in DECODING:
            yield content[at:end]
        else:
            yield _application(marker, content[at + 4 : end])
        at = end
    yield bytes((0xFF, END))


def _application(marker: int, body: bytes) -> bytes:
    """Of an application segment or a comment, what is kept: nothing of most."""
    if marker == 0xE0 and body.startswith(JFIF):
        body = body[:JFIF_BYTES] + bytes(2)  # no columns and no rows of a small picture
    elif marker == 0xEE and body.startswith(ADOBE):
        body = body[:ADOBE_BYTES]
    elif not (marker == 0xE2 and body.startswith(ICC)):
        return b""
    return bytes((0xFF, marker)) + struct.pack(">H", len(body) + 2) + body


def _end_of_scan(content: bytes, at: int) -> int:
    """Where the next real marker stands behind coded data."""
    while True:
        at = content.find(b"\xff", at)
        if at < 0 or at + 1 >= len(content):
            return len(content)
        if content[at + 1] not in STANDING_ALONE:
            return at
        at += 1 if content[at + 1] == 0xFF else 2


def _segment(turned: int) -> bytes:
    """An EXIF segment that says how a photo is turned; nothing for one that lies as it is meant."""
    if turned == 1:
        return b""
    body = b"Exif\0\0" + _orientation(turned)
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body


def _orientation(turned: int) -> bytes:
    """EXIF with this one tag."""
    return struct.pack("<2sHIHHHIHHI", b"II", 42, 8, 1, ORIENTATION, 3, 1, turned, 0, 0)
