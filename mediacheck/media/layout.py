"""What a container says of itself, walked by us, without any library.

It must not judge; what the streams in it hold is for the readers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import BinaryIO

from mediacheck.media import boxes, ebml, riff
from mediacheck.media.facts import ContainerFacts, IndexPlace
from mediacheck.media.sniff import HEAD_BYTES


@dataclass(frozen=True, slots=True)
class Layout:
    """What the container itself says, and what it lists of the first picture stream."""

    facts: ContainerFacts
    table: boxes.SampleTable | None = None
    rotation: int | None = None


def layout_of(file: BinaryIO, size: int, name: str) -> Layout:
    """Walk the container called `name` ("MP4", "AVI", ...) in a file of `size` bytes."""
    if name in ("MP4", "MOV"):
        return _movie_layout(boxes.read_movie(file, size))
    if name == "AVI":
        avi = riff.read_avi(file, size)
        return Layout(ContainerFacts(name, "first" if avi.has_index else "missing", avi.truncated))
    if name in ("MKV", "WebM"):
        file.seek(0)
        matroska = ebml.read_matroska(file.read(HEAD_BYTES), size)
        kind = "WebM" if matroska.doc_type == "webm" else "MKV"
        return Layout(ContainerFacts(kind, truncated=matroska.truncated))
    return Layout(ContainerFacts(name))


def _movie_layout(movie: boxes.Movie) -> Layout:
    index: IndexPlace | None = None
    if not movie.has_index:
        index = "missing"
    elif movie.index_first is not None:
        index = "first" if movie.index_first else "last"
    picture = next((track for track in movie.tracks if track.handler == b"vide"), None)
    return Layout(
        ContainerFacts(
            "MOV" if movie.brand in (None, b"qt  ") else "MP4",
            index,
            movie.truncated,
            movie.fragmented,
            movie.encrypted,
        ),
        None if movie.fragmented else picture,
        picture.rotation if picture else 0,
    )
