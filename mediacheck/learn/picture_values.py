"""What the moving pictures of the cards have taught: limits of all, and of each codec.

It must not know how a single limit is found.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import get_args

from mediacheck.learn.clips import Clip, clips_of, said
from mediacheck.learn.coding import level, profiles
from mediacheck.learn.evidence import Found, Sighting, choice, told
from mediacheck.learn.model import Value
from mediacheck.learn.picture_limits import picture_limits
from mediacheck.names import Container, VideoCodec

NO_CODEC_LIMIT = "what the codecs are is no limit"


def picture_values(videos: Sequence[Sighting], cards: int) -> Iterator[Value]:
    """Limits of all videos, and under each codec what is its own or tighter than these."""
    clips = clips_of(videos)
    yield from (found.at(("video",), cards) for found in _containers(videos))
    shared = {_subject(found): found for found in picture_limits(clips)}
    own: dict[str, Mapping[str, Found]] = {}
    for codecs in choice("codecs", said(clips, lambda video: video.codec), get_args(VideoCodec)):
        own = {codec: _own(clips, codec, shared, codecs.is_limit) for codec in _names(codecs)}
        yield codecs.at(("video",), cards)
    for codec, limits in own.items():
        yield from (found.at(("video", "codecs", codec), cards) for found in limits.values())
    for subject, found in shared.items():
        if not own or any(subject not in limits for limits in own.values()):
            yield found.at(("video",), cards)


def _containers(videos: Sequence[Sighting]) -> Iterator[Found]:
    def name(each: Sighting) -> str | None:
        media = each.file.media
        return media.container.name if media and media.container else None

    yield from choice("containers", told(videos, name), get_args(Container))


def _names(codecs: Found) -> tuple[str, ...]:
    return tuple(map(str, codecs.value)) if isinstance(codecs.value, tuple) else ()


def _own(clips: Sequence[Clip], codec: str, shared: Mapping[str, Found], named: bool) -> Mapping[str, Found]:
    """What holds for one codec alone: its profiles and levels, and limits that differ from those of all.

    None of it is a limit where the codecs are none: a codec with a key of its own shuts out all others.
    """
    of_it = [clip for clip in clips if clip.video.codec == codec]
    coded = {found.key: found for facet in (profiles, level) for found in facet(of_it, codec)}
    if not named:
        return {key: replace(found, open_because=NO_CODEC_LIMIT) for key, found in coded.items()}
    limits = {_subject(found): found for found in picture_limits(of_it) if found.is_limit}
    differing = {key: found for key, found in limits.items() if not _same(found, shared.get(key))}
    return {**coded, **differing}


def _subject(found: Found) -> str:
    """What a limit is about: an exact width and a greatest one take each other's place."""
    return found.key.removesuffix("_max") if found.key in ("width_max", "height_max") else found.key


def _same(one: Found, other: Found | None) -> bool:
    return other is not None and other.is_limit and (one.key, one.value) == (other.key, other.value)
