"""The videos of the cards whose picture was read.

It must not judge them: which of them may teach was decided before.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from mediacheck.learn.evidence import Sighting, Told
from mediacheck.learn.peak import least_fill_rate
from mediacheck.media.facts import PacketFacts, VideoFacts

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Clip:
    """One video of a card with its picture, and the least rate at which a buffer lasts through it."""

    sighting: Sighting
    video: VideoFacts
    peak_bit_s: int | None


def clips_of(sightings: Sequence[Sighting]) -> tuple[Clip, ...]:
    """The videos among these files. What is the same on several cards is reckoned once."""
    pairs = [(each, each.file.media.video) for each in sightings if each.file.media is not None]
    videos = [(each, video) for each, video in pairs if video is not None]
    packets = {_arrays(video.packets): video.packets for _, video in videos if video.packets is not None}
    peaks = {arrays: least_fill_rate(one) for arrays, one in packets.items()}
    return tuple(
        Clip(each, video, peaks[_arrays(video.packets)] if video.packets else None) for each, video in videos
    )


def _arrays(packets: PacketFacts) -> tuple[bytes, bytes]:
    return packets.decode_times_s, packets.sizes_bytes


def said(clips: Sequence[Clip], read: Callable[[VideoFacts], T | None]) -> Told[T]:
    """What each picture says of one thing."""
    return [(clip.sighting, read(clip.video)) for clip in clips]
