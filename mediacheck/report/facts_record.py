"""The facts of one file as they stand in the record, and back.

It must not read media files; a fact that is not known is null, never 0.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from mediacheck.loop import File
from mediacheck.media.facts import (
    AudioFacts,
    ContainerFacts,
    Disagreement,
    MediaFacts,
    StillFacts,
    Unreadable,
    VideoFacts,
)
from mediacheck.names import FileKind

JsonObject = dict[str, object]


def number(value: Fraction | float | None, digits: int) -> int | float | None:
    """A rounded JSON number, whole where it is whole; None for unknown, infinite and not-a-number."""
    if value is None or not math.isfinite(value):
        return None
    rounded = round(float(value), digits)
    return int(rounded) if rounded.is_integer() else rounded


def exact(value: float | None) -> Fraction | None:
    """The decimal as it is written in the record; None stays None."""
    return None if value is None else Fraction(str(value))


def exact_rate(value: float | None) -> Fraction | None:
    """A frame rate as the fraction that it was rounded from, such as 30000/1001 for 29.97003."""
    rate = exact(value)
    if rate is None:
        return None
    likely = rate.limit_denominator(1001)
    return likely if number(likely, 6) == value else rate


def facts_record(file: File) -> JsonObject:
    """The `facts` of one file: empty where there are none, with `unreadable` where reading failed."""
    if file.facts is None:
        return {}
    if isinstance(file.facts, Unreadable):
        return {"container": None, "video": None, "audio": [], "unreadable": file.facts.reason}
    return _media_record(file.facts)


def _media_record(facts: MediaFacts) -> JsonObject:
    box = facts.container
    return {
        "container": box.name if box else None,
        "video": _video_record(facts.video) if facts.video else None,
        "audio": [_audio_record(audio) for audio in facts.audio],
        "still": _still_record(facts.still) if facts.still else None,
        "duration": number(facts.duration, 6),
        "index": box.index if box else None,
        "truncated": box.truncated if box else None,
        "fragmented": box.fragmented if box else None,
        "encrypted": box.encrypted if box else None,
        "extra_video_streams": facts.extra_video_streams,
        "other_streams": list(facts.other_streams),
        "disagreements": [
            {"fact": each.fact, "libavformat": each.libavformat, "libmediainfo": each.libmediainfo}
            for each in facts.disagreements
        ],
    }


def _video_record(video: VideoFacts) -> JsonObject:
    """Everything but `packets`: its arrays serve the rules and are too large for a record."""
    return {
        "codec": video.codec,
        "profile": video.profile,
        "level": video.level,
        "width": video.width,
        "height": video.height,
        "pixel_aspect": f"{video.pixel_aspect.numerator}:{video.pixel_aspect.denominator}",
        "rotation": video.rotation,
        "frame_rate": number(video.frame_rate, 6),
        "frame_rate_mode": video.frame_rate_mode,
        "bit_depth": video.bit_depth,
        "chroma": video.chroma,
        "scan": video.scan,
        "bit_rate": video.bit_rate,
        "duration": number(video.duration, 6),
        "colour_primaries": video.colour_primaries,
        "colour_transfer": video.colour_transfer,
        "level_needed": video.level_needed,
        "level_reason": video.level_reason,
        "reference_frames": video.reference_frames,
    }


def _audio_record(audio: AudioFacts) -> JsonObject:
    return {
        "codec": audio.codec,
        "profile": audio.profile,
        "sample_rate": audio.sample_rate,
        "channels": audio.channels,
        "bit_rate": audio.bit_rate,
        "duration": number(audio.duration, 6),
    }


def _still_record(still: StillFacts) -> JsonObject:
    return {
        "format": still.format,
        "width": still.width,
        "height": still.height,
        "progressive": still.progressive,
        "colour": still.colour,
        "bit_depth": still.bit_depth,
        "orientation": still.orientation,
        "frames": still.frames,
        "damaged": still.damaged,
    }


def facts_of(record: Mapping[str, Any], kind: FileKind) -> MediaFacts | Unreadable | None:
    """The reverse of `facts_record`. A key outside the contract may be missing."""
    if not record:
        return None
    if "unreadable" in record:
        return Unreadable(kind, record["unreadable"])
    video, still = record["video"], record.get("still")
    return MediaFacts(
        kind,
        container=_container_of(record),
        video=_video_of(video) if video else None,
        audio=tuple(_audio_of(audio) for audio in record["audio"]),
        extra_video_streams=record.get("extra_video_streams", 0),
        other_streams=tuple(record.get("other_streams", ())),
        still=StillFacts(**still) if still else None,
        duration=exact(record.get("duration")),
        disagreements=tuple(Disagreement(**each) for each in record.get("disagreements", ())),
    )


def _container_of(record: Mapping[str, Any]) -> ContainerFacts | None:
    if record["container"] is None:
        return None
    return ContainerFacts(
        record["container"],
        index=record.get("index"),
        truncated=record.get("truncated"),
        fragmented=bool(record.get("fragmented")),
        encrypted=bool(record.get("encrypted")),
    )


def _video_of(record: Mapping[str, Any]) -> VideoFacts:
    across, down = record["pixel_aspect"].split(":")
    changed = {
        "pixel_aspect": Fraction(int(across), int(down)),
        "frame_rate": exact_rate(record["frame_rate"]),
        "duration": exact(record["duration"]),
    }
    return VideoFacts(**{**record, **changed})


def _audio_of(record: Mapping[str, Any]) -> AudioFacts:
    return AudioFacts(**{**record, "duration": exact(record["duration"])})
