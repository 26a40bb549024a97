"""The one way into this room: a file's facts, from both readers.

It must not decode more than a still, and never opens a file for writing.
"""

from __future__ import annotations

from dataclasses import replace

from mediacheck.media import comparison, libav, mediainfo, stills
from mediacheck.media.extensions import kind_by_name, promised_format
from mediacheck.media.facts import MediaFacts, Unreadable, VideoFacts
from mediacheck.media.layout import layout_of
from mediacheck.media.mediainfo import SecondOpinion
from mediacheck.media.opening import Location, size_of
from mediacheck.media.sniff import HEAD_BYTES, promised_by
from mediacheck.names import FileKind


def read_facts(location: Location, name: str) -> MediaFacts | Unreadable | None:
    """Facts of the file at `location`, called `name` on the card; None for what is not media.

    Raises OSError where the file cannot be opened.
    """
    with location.open("rb") as file:
        head = file.read(HEAD_BYTES)
    by_name = kind_by_name(name)
    if not head:
        return None if by_name == "other" else Unreadable(by_name, "the file is empty")
    promise = promised_by(head)
    if promise is None and by_name == "other":
        return None
    kind, format_name = promise or (by_name, promised_format(name))
    if format_name in ("HEIC", "AVIF"):
        return Unreadable("still", f"it is a {format_name} picture, as phones make them, and not a JPEG")
    if kind == "still":
        return stills.read(location)
    facts = _moving(location, kind, format_name, by_content=promise is not None)
    # A player takes a file with a video's name for a video, even if only sound is in it.
    return replace(facts, kind="video") if by_name == "video" else facts


def _moving(
    location: Location, kind: FileKind, promised: str | None, *, by_content: bool
) -> MediaFacts | Unreadable:
    import av.error

    try:
        first = libav.read(location, promised)
    except (av.error.FFmpegError, ValueError, OverflowError):
        return _unreadable(location, kind, promised, by_content)
    second = mediainfo.read(location)
    if second is None or isinstance(first, Unreadable) or first.container is None:
        return first
    encrypted = first.container.encrypted or second.encrypted
    return replace(
        first,
        video=_completed(first.video, second),
        container=replace(first.container, encrypted=encrypted),
        disagreements=comparison.disagreements(first, second),
    )


def _completed(video: VideoFacts | None, second: SecondOpinion) -> VideoFacts | None:
    """What only the second reader knows is taken from it."""
    if video is None or video.scan is not None:
        return video
    return replace(video, scan=second.scan)


def _unreadable(location: Location, kind: FileKind, promised: str | None, by_content: bool) -> Unreadable:
    """A file that libavformat refuses; where the container says that it is cut off, that is the reason."""
    if promised:
        with location.open("rb") as file:
            container = layout_of(file, size_of(file), promised).facts
        if container.truncated:
            return Unreadable(kind, container.truncated, container)
        likeness = "it begins like" if by_content else "its name says"
        what = "sound" if kind == "audio" else "pictures"
        return Unreadable(kind, f"{likeness} {promised}, but no reader finds {what} in it", container)
    return Unreadable(kind, "no reader finds pictures or sound in it")
