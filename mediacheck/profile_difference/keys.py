"""Every key of a profile: which rules hold files and cards against it, or why it does not matter to them.

It must not compare values.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mediacheck.names import RuleName

RULES_OF: Mapping[str, tuple[RuleName, ...]] = MappingProxyType(
    {
        "screen.width": ("video-shape",),
        "screen.height": ("video-shape",),
        "screen.overscan_percent": (),
        "screen.turned_degrees": (),
        "player.order": (),
        "player.buffer_seconds": ("video-bit-rate-peak",),
        "player.read_mbit_s": ("video-bit-rate-peak",),
        "card.file_systems": ("card-file-system", "file-too-big", "file-name"),
        "card.partition_tables": ("card-partition-table",),
        "card.capacity_max_gb": ("card-capacity",),
        "card.cluster_bytes_max": ("card-cluster-size",),
        "card.label_pattern": ("card-label",),
        "card.free_percent_min": ("card-full",),
        "layout.media_folder": ("file-misplaced", "folder-missing"),
        "layout.subfolders": ("file-misplaced",),
        "layout.other_files": ("file-unexpected", "file-misplaced"),
        "layout.required_files": ("folder-missing",),
        "layout.name_pattern": ("file-name",),
        "layout.name_length_max": ("file-name-length",),
        "layout.ascii_only": ("file-name",),
        "video.containers": ("container-format",),
        "video.codecs": ("video-codec",),
        "video.profiles": ("video-profile",),
        "video.level_max": ("video-level",),
        "video.width": ("video-resolution",),
        "video.height": ("video-resolution",),
        "video.width_max": ("video-resolution",),
        "video.height_max": ("video-resolution",),
        "video.frame_rates": ("video-frame-rate",),
        "video.bit_rate_max": ("video-bit-rate",),
        "video.bit_rate_peak_max": ("video-bit-rate-peak",),
        "video.bit_depths": ("video-bit-depth",),
        "video.chroma": ("video-chroma",),
        "video.scan": ("video-interlaced",),
        "video.gop_seconds_max": ("video-gop",),
        "audio.use": ("audio-unwanted", "audio-missing"),
        "audio.codecs": ("audio-codec",),
        "audio.sample_rates": ("audio-sample-rate",),
        "audio.channels_max": ("audio-channels",),
        "audio.bit_rate_max": ("audio-bit-rate",),
        "audio.loudness_lufs": ("audio-loudness",),
        "audio.loudness_tolerance_lu": ("audio-loudness",),
        "audio.true_peak_dbtp_max": ("audio-peak",),
        "stills.formats": ("still-format",),
        "stills.width_max": ("still-resolution",),
        "stills.height_max": ("still-resolution",),
        "stills.seconds": ("loop-length",),
        "loop.items_min": ("loop-count",),
        "loop.items_max": ("loop-count",),
        "loop.seconds_min": ("loop-length",),
        "loop.seconds_max": ("loop-length",),
        "loop.seamless": ("loop-seam",),
        "loop.black_seconds_max": ("picture-black", "loop-seam"),
        "loop.frozen_seconds_max": ("picture-frozen",),
        "rules": (),
    }
)
"""Every key that is compared, and the rules that ask for it; none where no rule can see it in a file.

Keys under a codec stand under their section, as in `plain_key`.
"""

WITHOUT_MEANING_FOR_A_FILE: Mapping[str, str] = MappingProxyType(
    {
        "id": "the profile's own name",
        "title": "words for people who choose a profile",
        "notes": "words for people who choose a profile",
        "screen.refresh_hz": "the player makes its own signal; which rates a file may have is in frame_rates",
        "screen.input": "a connector of the screen: no file and no card reaches it",
        "player.settings": "set by hand in the player's menu, the same for every card",
    }
)
"""Keys that are not compared, each with the reason."""

SECTIONS_WITH_CODECS = ("video", "audio")


def plain_key(key: str) -> str:
    """A key without the codec that it stands under: `video.codecs.H.264.level_max` is `video.level_max`."""
    section, _, rest = key.partition(".")
    under_codec = section in SECTIONS_WITH_CODECS and rest.startswith("codecs.")
    return f"{section}.{rest.rpartition('.')[2]}" if under_codec else "rules" if section == "rules" else key
