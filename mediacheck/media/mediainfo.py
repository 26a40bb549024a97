"""The second reader: what libmediainfo says, in the project's words, for comparison with the first.

It must not judge. Values that it does not give are None.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from mediacheck.media import codecs
from mediacheck.media.opening import Location, has_name
from mediacheck.names import Scan

Track = dict[str, Any]


@dataclass(frozen=True, slots=True)
class SecondOpinion:
    """The facts on which both readers can be compared. Times in seconds."""

    container: str | None
    encrypted: bool
    video_codec: str | None = None
    width: int | None = None
    height: int | None = None
    pixel_aspect: Fraction | None = None
    rotation: int | None = None
    frame_rate: Fraction | None = None
    bit_depth: int | None = None
    chroma: str | None = None
    scan: Scan | None = None
    duration: Fraction | None = None
    audio_codec: str | None = None
    sample_rate: int | None = None
    channels: int | None = None


def read(location: Location) -> SecondOpinion | None:
    """Ask libmediainfo about one file; None where it finds no media in it. Raises OSError."""
    from pymediainfo import MediaInfo

    with location.open("rb") as file:
        named = has_name(location)
        try:
            text = MediaInfo.parse(str(location) if named else file, output="JSON", parse_speed=0, full=False)
            answer = json.loads(text)
        except (RuntimeError, ValueError):  # it refuses the file, or repeats bytes that are not text
            return None
    tracks: list[Track] = (answer.get("media") or {}).get("track") or []
    if not any(track.get("@type") in ("Video", "Audio") for track in tracks):
        return None
    return _opinion(_first(tracks, "General"), _first(tracks, "Video"), _first(tracks, "Audio"))


def _first(tracks: list[Track], kind: str) -> Track:
    return next((track for track in tracks if track.get("@type") == kind), {})


def _opinion(general: Track, video: Track, audio: Track) -> SecondOpinion:
    return SecondOpinion(
        container=_container(general),
        encrypted=any("Encryption" in track for track in (general, video, audio)),
        video_codec=_video_codec(video),
        width=_integer(video.get("Width")),
        height=_integer(video.get("Height")),
        pixel_aspect=_fraction(video.get("PixelAspectRatio")),
        rotation=_degrees(video.get("Rotation")),
        frame_rate=_rate(video),
        bit_depth=_integer(video.get("BitDepth")),
        chroma=video.get("ChromaSubsampling"),
        scan=_scan(video.get("ScanType")),
        duration=_fraction(video.get("Duration")),
        audio_codec=_audio_codec(audio),
        sample_rate=_integer(audio.get("SamplingRate")),
        channels=_integer(audio.get("Channels")),
    )


def _container(general: Track) -> str | None:
    name = str(general.get("Format", ""))
    if name == "MPEG-4":
        return (
            "MOV"
            if general.get("CodecID", "").strip() == "qt" or "QuickTime" in general.get("Format_Profile", "")
            else "MP4"
        )
    return codecs.MEDIAINFO_CONTAINERS.get(name)


def _video_codec(video: Track) -> str | None:
    name = video.get("Format")
    if name == "MPEG Video":
        return {"1": "MPEG-1", "2": "MPEG-2"}.get(str(video.get("Format_Version")))
    return codecs.MEDIAINFO_VIDEO.get(str(name))


def _audio_codec(audio: Track) -> str | None:
    name = audio.get("Format")
    if name == "MPEG Audio":
        return {"Layer 3": "MP3", "Layer 2": "MP2"}.get(str(audio.get("Format_Profile")))
    return codecs.MEDIAINFO_AUDIO.get(str(name))


def _rate(video: Track) -> Fraction | None:
    numerator, denominator = _integer(video.get("FrameRate_Num")), _integer(video.get("FrameRate_Den"))
    if numerator and denominator:
        return Fraction(numerator, denominator)
    return _fraction(video.get("FrameRate"))


def _scan(word: str | None) -> Scan | None:
    if word is None:
        return None
    return "progressive" if word == "Progressive" else "interlaced"


def _degrees(text: str | None) -> int | None:
    value = _fraction(text)
    return None if value is None else round(value) % 360


def _fraction(text: str | None) -> Fraction | None:
    try:
        return None if text is None else Fraction(text)
    except (ValueError, ZeroDivisionError):
        return None


def _integer(text: str | None) -> int | None:
    value = _fraction(text)
    return None if value is None else int(value)
