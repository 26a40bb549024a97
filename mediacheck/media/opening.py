"""Opening a file with libavformat: what it may open, and how much it may look at.

It must not take facts from what it opens.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

if TYPE_CHECKING:
    from av.container import InputContainer

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
def open_container(location: Path, extra: Mapping[str, str] | None = None) -> Iterator[InputContainer]:
    """Open a file with libavformat. Raises av.error.FFmpegError where it makes no sense of it.

    A name that is not valid Unicode is handed over as an open file, since the library takes text. Titles
    inside the file may be in any encoding: what is not UTF-8 in them is replaced, since nothing reads them.
    """
    import av

    with location.open("rb") as file:
        name: str | BinaryIO = f"file:{location}"
        try:
            str(location).encode("utf-8")
        except UnicodeEncodeError:
            name = file
        options = {**OPTIONS, **(extra or {})}
        with av.open(name, mode="r", options=options, metadata_errors="replace") as container:
            yield container
