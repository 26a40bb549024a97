"""What a file's name promises: the kind of media and the format that an extension stands for.

It must not open files: whether the promise is kept is for the rules.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from types import MappingProxyType

from mediacheck.names import FileKind


@dataclass(frozen=True, slots=True)
class Promise:
    """`format` is a name as in the profile where it has one, else the trade's own ("TIFF", "Ogg")."""

    kind: FileKind
    format: str


def _each(kind: FileKind, format_name: str, *extensions: str) -> dict[str, Promise]:
    return dict.fromkeys(extensions, Promise(kind, format_name))


EXTENSIONS: Mapping[str, Promise] = MappingProxyType(
    {
        # 3GP is the MP4 box structure under another brand (3GPP TS 26.244; from memory).
        **_each("video", "MP4", ".mp4", ".m4v", ".3gp", ".3g2"),
        **_each("video", "MOV", ".mov", ".qt"),
        **_each("video", "MKV", ".mkv"),
        **_each("video", "AVI", ".avi", ".divx"),
        **_each("video", "MPEG-TS", ".ts", ".m2ts", ".mts", ".m2t"),
        **_each("video", "MPEG-PS", ".mpg", ".mpeg", ".mpe", ".m2p", ".vob"),
        **_each("video", "WMV", ".wmv", ".asf"),
        **_each("video", "WebM", ".webm"),
        **_each("video", "FLV", ".flv", ".f4v"),
        **_each("video", "Ogg", ".ogv"),
        **_each("video", "MXF", ".mxf"),
        **_each("video", "bare video stream", ".h264", ".264", ".h265", ".265", ".hevc", ".m1v", ".m2v"),
        **_each("still", "JPEG", ".jpg", ".jpeg", ".jpe", ".jfif"),
        **_each("still", "PNG", ".png"),
        **_each("still", "BMP", ".bmp", ".dib"),
        **_each("still", "GIF", ".gif"),
        **_each("still", "WebP", ".webp"),
        **_each("still", "TIFF", ".tif", ".tiff"),
        **_each("still", "HEIF", ".heic", ".heif"),
        **_each("still", "AVIF", ".avif"),
        **_each("audio", "MP3", ".mp3"),
        **_each("audio", "AAC", ".aac", ".m4a"),
        **_each("audio", "WAV", ".wav"),
        **_each("audio", "FLAC", ".flac"),
        **_each("audio", "Ogg", ".ogg", ".oga", ".opus"),
        **_each("audio", "WMA", ".wma"),
        **_each("audio", "AC-3", ".ac3"),
        **_each("audio", "MP2", ".mp2"),
        **_each("audio", "AIFF", ".aif", ".aiff"),
    }
)
"""Lower-case extension, with its dot, to what it promises. Common practice, no source."""


def extension(name: str) -> str:
    """The last extension of a file name, with its dot, in lower case; "" where there is none.

    Full stops and spaces at the end do not count: FAT and Windows drop them (FAT specification, long names).
    """
    return PurePosixPath(name.rstrip(". ")).suffix.lower()


def kind_by_name(name: str) -> FileKind:
    """What the extension promises: video, still or audio; else other."""
    promise = EXTENSIONS.get(extension(name))
    return promise.kind if promise else "other"


def promised_format(name: str) -> str | None:
    """The format that the extension stands for; None for an unknown extension or none."""
    promise = EXTENSIONS.get(extension(name))
    return promise.format if promise else None


def extensions_for(format_name: str) -> tuple[str, ...]:
    """The extensions that stand for a format, the usual one first; empty for a format without one."""
    return tuple(ending for ending, promise in EXTENSIONS.items() if promise.format == format_name)
