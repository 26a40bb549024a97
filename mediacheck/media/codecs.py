"""The project's names for what the two readers call codecs, profiles and containers.

It must not read files. A codec that the profile file has no name for keeps the reader's own.
"""

from __future__ import annotations

from fractions import Fraction

VIDEO = {
    "h264": "H.264",
    "hevc": "H.265",
    "mpeg4": "MPEG-4",
    "mpeg2video": "MPEG-2",
    "mpeg1video": "MPEG-1",
    "vp9": "VP9",
    "av1": "AV1",
    "mjpeg": "MJPEG",
    "vc1": "VC-1",
    "wmv3": "VC-1",
    "prores": "ProRes",
}
AUDIO = {
    "aac": "AAC",
    "mp3": "MP3",
    "ac3": "AC-3",
    "mp2": "MP2",
    "vorbis": "Vorbis",
    "opus": "Opus",
    "flac": "FLAC",
    "wmav1": "WMA",
    "wmav2": "WMA",
    "wmapro": "WMA",
    "wmalossless": "WMA",
    "wmavoice": "WMA",
}
CONTAINERS = {
    "mpegts": "MPEG-TS",
    "mpeg": "MPEG-PS",
    "avi": "AVI",
    "asf": "WMV",
    "mp3": "MP3",
    "wav": "WAV",
    "flac": "FLAC",
    "ogg": "Ogg",
    "aac": "AAC",
    "h264": "H.264 without a container",
    "hevc": "H.265 without a container",
    "m4v": "MPEG-4 without a container",
    "mpegvideo": "MPEG video without a container",
}
MEDIAINFO_VIDEO = {
    "AVC": "H.264",
    "HEVC": "H.265",
    "MPEG-4 Visual": "MPEG-4",
    "VP9": "VP9",
    "AV1": "AV1",
    "JPEG": "MJPEG",
    "VC-1": "VC-1",
    "ProRes": "ProRes",
}
MEDIAINFO_AUDIO = {
    "AAC": "AAC",
    "AC-3": "AC-3",
    "PCM": "PCM",
    "Vorbis": "Vorbis",
    "Opus": "Opus",
    "FLAC": "FLAC",
    "WMA": "WMA",
}
MEDIAINFO_CONTAINERS = {
    "Matroska": "MKV",
    "WebM": "WebM",
    "AVI": "AVI",
    "MPEG-TS": "MPEG-TS",
    "BDAV": "MPEG-TS",
    "MPEG-PS": "MPEG-PS",
    "Windows Media": "WMV",
}
MPEG2_LEVELS = {10: "Low", 8: "Main", 6: "High-1440", 4: "High"}
"""level_indication codes (ITU-T H.262 Table 8-3; from memory, read back from real streams)."""
MPEG2_ESCAPED_LEVELS = {5: "Main", 2: "High"}
"""The same for the profile 4:2:2, which has codes of its own (Table 8-4; from memory, read back likewise)."""


def video_codec(name: str) -> str:
    """The profile file's name of libavcodec's `name`."""
    return VIDEO.get(name, name.upper())


def audio_codec(name: str) -> str:
    """The profile file's name of libavcodec's `name`."""
    return "PCM" if name.startswith("pcm_") else AUDIO.get(name, name.upper())


def codec_profile(codec: str, name: str | None) -> str | None:
    """A profile as the standards call it."""
    if name is None or codec == "MJPEG":
        return None
    return name.removesuffix(" Profile")


def header_level(codec: str, profile: str | None, number: int | None) -> str | None:
    """libavcodec's level number as the standard of that codec writes it; None where unknown."""
    if number is None or number < 0:
        return None
    if codec == "H.264":
        return "1b" if number == 9 else _tenths(Fraction(number, 10))
    if codec == "H.265":
        return _tenths(Fraction(number, 30))
    if codec == "MPEG-2":
        return (MPEG2_ESCAPED_LEVELS if profile == "4:2:2" else MPEG2_LEVELS).get(number)
    if codec == "AV1":
        return None if number == 31 else f"{2 + number // 4}.{number % 4}".removesuffix(".0")
    if codec == "VP9":
        return _tenths(Fraction(number, 10)) if number else None
    return str(number) if codec == "MPEG-4" and number else None


def _tenths(level: Fraction) -> str:
    return f"{float(level):.1f}".removesuffix(".0")
