"""What the first bytes of a file promise, whatever its name says.

It must not look further than the first bytes: the readers decide what the file really is.
"""

from __future__ import annotations

from mediacheck.names import FileKind

HEAD_BYTES = 4096
HEIF_BRANDS = {
    b"heic": "HEIC",
    b"heix": "HEIC",
    b"mif1": "HEIC",
    b"hevc": "HEIC",
    b"avif": "AVIF",
    b"avis": "AVIF",
}
"""Brands of still pictures in the same boxes as MP4 (ISO/IEC 23008-12; from memory)."""
MP4_FIRST_BOXES = (b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"styp", b"moof", b"pnot")
ASF_GUID = bytes.fromhex("3026b2758e66cf11a6d900aa0062ce6c")
"""Header object of Advanced Systems Format; from memory, and read back from files made by ffmpeg."""


def promised_by(head: bytes) -> tuple[FileKind, str] | None:
    """Kind and format by signature (standards: JPEG T.81, PNG, RFC 8794 EBML, MS RIFF, ISO 13818-1).

    `head` is the first `HEAD_BYTES` of the file. None where no signature is known.
    """
    return _still(head) or _moving(head)


def _still(head: bytes) -> tuple[FileKind, str] | None:
    if head.startswith(b"\xff\xd8\xff"):
        return "still", "JPEG"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "still", "PNG"
    if head[:6] in (b"GIF87a", b"GIF89a"):
        return "still", "GIF"
    if head.startswith(b"BM") and len(head) >= 26 and head[6:10] == bytes(4):
        return "still", "BMP"
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return "still", "WebP"
    return None


def _moving(head: bytes) -> tuple[FileKind, str] | None:
    if head[4:8] == b"ftyp" and head[8:12] in HEIF_BRANDS:
        return "still", HEIF_BRANDS[head[8:12]]
    if head[4:8] in MP4_FIRST_BOXES:
        return "video", "MOV" if head[4:8] == b"ftyp" and head[8:12] == b"qt  " else "MP4"
    if head.startswith(b"\x1a\x45\xdf\xa3"):
        return "video", "WebM" if b"webm" in head[:64] else "MKV"
    if head.startswith(b"RIFF") and head[8:12] == b"AVI ":
        return "video", "AVI"
    if head.startswith(ASF_GUID):
        return "video", "WMV"
    if head.startswith(b"\x00\x00\x01\xba"):
        return "video", "MPEG-PS"
    if _is_transport_stream(head):
        return "video", "MPEG-TS"
    return _sound(head)


def _sound(head: bytes) -> tuple[FileKind, str] | None:
    if head.startswith(b"ID3"):
        return "audio", "MP3"
    if head.startswith(b"fLaC"):
        return "audio", "FLAC"
    if head.startswith(b"OggS"):
        return "audio", "Ogg"
    if head.startswith(b"RIFF") and head[8:12] == b"WAVE":
        return "audio", "WAV"
    return None


def _is_transport_stream(head: bytes) -> bool:
    """Sync byte 47h each 188 bytes (ISO/IEC 13818-1), or each 192 with a 4-byte time stamp before it."""
    return any(
        len(head) > start + 2 * step and all(head[start + n * step] == 0x47 for n in range(3))
        for start, step in ((0, 188), (4, 192))
    )
