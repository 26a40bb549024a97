"""Which streams of a master go into a file, and how its container is written.

It must not know pictures.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from mediacheck.encoding.model import Part, part
from mediacheck.encoding.sound import LAYOUTS, Sound, parts_for
from mediacheck.names import Container, VideoCodec
from mediacheck.profile import Audio

MasterSound = Literal["any", "some", "none"]
"""Which masters a line is for: any, those with sound, those without."""

MUXERS: dict[tuple[str, str], str] = {
    ("MPEG-PS", "MPEG-2"): "vob",
    ("MPEG-PS", "MPEG-1"): "mpeg",
    ("MPEG-TS", ""): "mpegts",
}
FASTSTART: tuple[Container, ...] = ("MP4", "MOV")


def chosen_streams(sound: Sound | None, kind: MasterSound) -> Iterator[Part]:
    """Which streams of which input go into the file."""
    if sound is not None and kind == "none":
        yield part(
            *("-f", "lavfi", "-i", f"anullsrc=r={sound.rate_hz}:cl={LAYOUTS[sound.channels]}"),
            why="A silent sound track, since the player wants one.",
        )
    yield part("-map", "0:V:0", why="The first picture of the master, no cover image.")
    if sound is not None:
        track = {"any": "0:a:0?", "some": "0:a:0", "none": "1:a:0"}[kind]
        why = {
            "any": "Its first sound track, if it has one.",
            "some": "Its first sound track.",
            "none": "The silent track.",
        }
        yield part("-map", track, why=why[kind])


def sounding(sound: Sound | None, audio: Audio, kind: MasterSound) -> Iterator[Part]:
    """The sound, or that there is none."""
    if sound is None:
        yield part("-an", why="No sound.")
    elif kind != "none":
        yield from parts_for(sound, audio)
    else:
        yield from tuple(parts_for(sound, audio))[1:]
        yield part("-shortest", why="The silence ends with the picture.")


def wrapping(codec: VideoCodec, container: Container) -> Iterator[Part]:
    """What is left out, and how the container is written."""
    yield part(
        *("-sn", "-dn", "-map_metadata", "-1", "-map_chapters", "-1"),
        why="No subtitles, time codes, notes or chapters: players stumble over them.",
    )
    if container in FASTSTART:
        yield part("-movflags", "+faststart", why="The index comes first, so that the player starts at once.")
    if container == "AVI":
        yield part("-avoid_negative_ts", "disabled", why="Otherwise the picture begins with a gap.")
    muxer = MUXERS.get((container, codec)) or MUXERS.get((container, ""))
    if muxer:
        yield part("-f", muxer, why=f"The container, {container}.")
