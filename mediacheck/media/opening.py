"""Opening a file with libavformat: what it may open, and how much it may look at.

It must not take facts from what it opens.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from io import SEEK_END
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Literal, Protocol

if TYPE_CHECKING:
    from av.container import InputContainer


class Location(Protocol):
    """Where a file is: a path, or a place on a medium. Whoever opens it may read it and no more."""

    def open(self, mode: Literal["rb"]) -> BinaryIO:
        """The file, for reading, seekable. Raises OSError."""


FORMATS = (
    "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,asf,mp3,wav,flac,ogg,aac,ac3,h264,hevc,m4v,"
    "mpegvideo,flv,dv,ivf,rm,mxf,av1,obu,vc1,w64,aiff"
)
"""Formats that hold media by themselves: playlists and scripts, which open other files, are left out."""
OPTIONS = {"format_whitelist": FORMATS, "protocol_whitelist": "file"}
SKIM = {"skip_frame": "all"}
"""Opens a file without decoding its first picture, which takes most of the time of a 1080p clip.

What H.264 then leaves open, our own look at its headers fills in.
"""
SKIM_INDEXED = {**SKIM, "probesize": "65536"}
"""The same where an index describes all streams, so that little need be read ahead of it, in bytes."""


@contextmanager
def open_container(location: Location, extra: Mapping[str, str] | None = None) -> Iterator[InputContainer]:
    """Open a file with libavformat. Raises av.error.FFmpegError where it makes no sense of it.

    What has no path, or one that is not valid Unicode, is handed over as an open file. Titles inside the file
    may be in any encoding: what is not UTF-8 in them is replaced, since nothing reads them.
    """
    import av

    with location.open("rb") as file:
        name: str | BinaryIO = f"file:{location}" if has_name(location) else file
        options = {**OPTIONS, **(extra or {})}
        with av.open(name, mode="r", options=options, metadata_errors="replace") as container:
            yield container


def has_name(location: Location) -> bool:
    """Whether libraries that take text can be given a path. They read faster than through us."""
    try:
        return isinstance(location, Path) and bool(str(location).encode("utf-8"))
    except UnicodeEncodeError:
        return False


def size_of(file: BinaryIO) -> int:
    """Bytes in an open file, which is left at its start."""
    size_bytes = file.seek(0, SEEK_END)
    file.seek(0)
    return size_bytes
