"""The names that people and other programs rely on: formats, file systems and rules.

It must not hold any behaviour: these are words only, spelt as in the profile and the report.
"""

from typing import Literal, get_args

Container = Literal["MP4", "MOV", "MKV", "AVI", "MPEG-TS", "MPEG-PS", "WMV", "WebM"]
VideoCodec = Literal["H.264", "H.265", "MPEG-4", "MPEG-2", "MPEG-1", "VP9", "AV1", "MJPEG", "VC-1", "ProRes"]
AudioCodec = Literal["AAC", "MP3", "AC-3", "PCM", "MP2", "Vorbis", "Opus", "FLAC", "WMA"]
StillFormat = Literal["JPEG", "PNG", "BMP", "GIF", "WebP"]
FileSystem = Literal["FAT12", "FAT16", "FAT32", "exFAT", "NTFS", "HFS+", "APFS", "ext", "UDF", "ISO 9660"]
PartitionTable = Literal["none", "MBR", "GPT"]
Chroma = Literal["4:0:0", "4:2:0", "4:1:1", "4:2:2", "4:4:0", "4:4:4"]
Scan = Literal["progressive", "interlaced"]
Order = Literal["disk", "name"]
AudioUse = Literal["none", "allowed", "required"]
Severity = Literal["note", "warn", "fail"]
WORST_FIRST: tuple[Severity, ...] = ("fail", "warn", "note")
Depth = Literal["quick", "full"]
FileKind = Literal["video", "still", "audio", "other", "junk"]
CardKind = Literal["folder", "volume", "device", "image"]
VerdictWord = Literal["pass", "warn", "fail", "incomplete"]

RuleName = Literal[
    # card
    "card-file-system", "card-partition-table", "card-capacity", "card-cluster-size", "card-damaged",
    "card-dirty", "card-size-mismatch", "card-full", "card-label",
    # layout and names
    "folder-missing", "file-misplaced", "file-unexpected", "file-junk", "file-empty", "file-too-big",
    "file-name", "file-name-length", "file-extension", "file-unreadable", "file-duplicate", "play-order",
    # container
    "container-format", "container-truncated", "container-index", "container-fragmented",
    "container-encrypted", "readers-disagree",
    # video
    "video-missing", "video-extra-stream", "video-codec", "video-profile", "video-level", "video-bit-depth",
    "video-chroma", "video-resolution", "video-frame-rate", "video-frame-rate-variable", "video-bit-rate",
    "video-interlaced", "video-level-understated", "video-bit-rate-peak", "video-rotation",
    "video-pixel-aspect", "video-shape", "video-colour", "video-gop",
    # audio
    "audio-unwanted", "audio-missing", "audio-codec", "audio-sample-rate", "audio-channels",
    "audio-bit-rate", "audio-loudness", "audio-peak", "audio-silent",
    # stills
    "still-format", "still-progressive", "still-colour", "still-orientation", "still-resolution",
    "still-damaged",
    # picture
    "picture-damaged", "picture-black", "picture-frozen", "picture-bars", "picture-leader", "picture-flash",
    "picture-combed",
    # loop, display and manifest
    "loop-count", "loop-length", "loop-audio-length", "loop-seam", "loop-wrong-face", "loop-outdated",
    "manifest-missing", "manifest-changed", "manifest-extra",
]  # fmt: skip

RULE_NAMES: tuple[str, ...] = get_args(RuleName)

H264_LEVELS = (
    *("1", "1b", "1.1", "1.2", "1.3", "2", "2.1", "2.2", "3", "3.1"),
    *("3.2", "4", "4.1", "4.2", "5", "5.1", "5.2", "6", "6.1", "6.2"),
)
"""ITU-T H.264 Table A-1."""
H265_LEVELS = ("1", "2", "2.1", "3", "3.1", "4", "4.1", "5", "5.1", "5.2", "6", "6.1", "6.2")
"""ITU-T H.265 Table A.8."""
LEVELS: dict[str, tuple[str, ...]] = {"H.264": H264_LEVELS, "H.265": H265_LEVELS}
"""The levels that a codec has, where its standard numbers them in a table that is checked here."""
PROFILES: dict[str, tuple[str, ...]] = {
    "H.264": (
        "Constrained Baseline", "Baseline", "Extended", "Main", "High", "Progressive High",
        "Constrained High", "High 10", "High 10 Intra", "High 4:2:2", "High 4:2:2 Intra",
        "High 4:4:4 Predictive",
        "High 4:4:4 Intra", "CAVLC 4:4:4 Intra", "Stereo High", "Multiview High",
    ),
    "H.265": ("Main", "Main 10", "Main Still Picture", "Rext", "Scc"),
}  # fmt: skip
"""Profiles as ITU-T H.264 Annex A and H.265 Annex A call them, in ffmpeg's spelling (from memory)."""
