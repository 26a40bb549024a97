"""Small clips for the tests of repairs, and an invented player with a screen as small: a case takes a second.

It must not break anything: as it stands, a clip conforms. All is drawn by ffmpeg.
"""

from __future__ import annotations

import copy
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from mediacheck.profile import Profile
from mediacheck.which_ffmpeg import find_ffmpeg

LIMIT_S = 60.0
PLAYER: dict[str, Any] = {
    "id": "garden",
    "title": "Garden display",
    "screen": {"width": 320, "height": 180},
    "player": {"order": "disk", "buffer_seconds": 1.0, "read_mbit_s": 20},
    "card": {"file_systems": ["FAT32"]},
    "layout": {
        "media_folder": "/",
        "subfolders": False,
        "other_files": ["*.txt"],
        "name_length_max": 32,
        "ascii_only": True,
    },
    "video": {
        "containers": ["MP4"],
        "codecs": {
            "H.264": {"profiles": ["Constrained Baseline", "Baseline", "Main", "High"], "level_max": "3"}
        },
        "width": 320,
        "height": 180,
        "frame_rates": [24, 25, 29.97, 30],
        "bit_rate_max": 2_000_000,
        "bit_rate_peak_max": 3_000_000,
        "bit_depths": [8],
        "chroma": ["4:2:0"],
        "scan": "progressive",
        "gop_seconds_max": 1.5,
    },
    "audio": {
        "use": "allowed",
        "codecs": {"AAC": {"sample_rates": [44_100, 48_000], "channels_max": 2, "bit_rate_max": 256_000}},
    },
    "stills": {"formats": ["JPEG"], "width_max": 320, "height_max": 180, "seconds": 5},
    "loop": {"black_seconds_max": 0.5},
}
X264 = ("-c:v", "libx264", "-preset", "veryfast", "-profile:v", "high", "-level:v", "3", "-g", "25")
PLAIN = ("-pix_fmt", "yuv420p")
MARKS = ("-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709")
AAC = ("-c:a", "aac", "-b:a", "128k", "-ar", "48000", "-ac", "2")
FIRST = ("-movflags", "+faststart")
PICTURE = "testsrc2=s=320x180:r=25:d=2"
TONE = "anoisesrc=color=pink:sample_rate=48000:duration=2:seed=7:amplitude=0.2,volume=-6dB"
Words = tuple[str, ...]


def player(**sections: Mapping[str, Any]) -> Profile:
    """The player, with keys of its sections changed."""
    told = copy.deepcopy(PLAYER)
    for section, keys in sections.items():
        told[section] = told.get(section, {}) | dict(keys)
    return Profile.model_validate(told)


@dataclass(frozen=True, slots=True)
class Film:
    """How a clip is encoded; as it stands, it conforms."""

    picture: str = PICTURE
    filters: str = ""
    video: Words = (*X264, *PLAIN, *MARKS)
    tone: str | None = TONE
    sound: Words = AAC
    wrapping: Words = FIRST
    again: Words = ()
    """Arguments of a second run over the file, which copies its streams."""

    def make(self, path: Path) -> None:
        """Write it."""
        sources = ["-f", "lavfi", "-i", self.picture]
        sources += ["-f", "lavfi", "-i", self.tone] if self.tone else []
        filters = ["-vf", self.filters] if self.filters else []
        sound = self.sound if self.tone else ()
        first = path if not self.again else path.with_name(f"first-{path.name}")
        run(*sources, *filters, *self.video, *sound, *self.wrapping, first)
        if self.again:
            run("-i", first, "-map", "0", "-c", "copy", *self.again, *self.wrapping, path)
            first.unlink()


def run(*arguments: str | Path) -> None:
    """One call of ffmpeg."""
    command = [str(find_ffmpeg().path), "-v", "error", "-y", *map(str, arguments)]
    subprocess.run(command, check=True, timeout=LIMIT_S, stdin=subprocess.DEVNULL)


def x264(*also: str, marks: Words = MARKS) -> Words:
    return ("-c:v", "libx264", "-preset", "veryfast", "-g", "25", *also, *marks)
