"""Hand-made files, cards and profiles for the tests of rules: conforming unless a keyword says otherwise.

It must not read files or start programs: what a rule sees is written down here.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from mediacheck.card.model import Card, Entry, Volume
from mediacheck.loop import File, loop_of
from mediacheck.media.facts import (
    AudioFacts,
    ContainerFacts,
    MediaFacts,
    PacketFacts,
    StillFacts,
    Unreadable,
    VideoFacts,
)
from mediacheck.names import FileKind
from mediacheck.profile import Profile
from mediacheck.rules.model import One, Whole

TEN_SECONDS = Fraction(10)
FRAMES = 300
FRAME_BYTES = 33_000

BASIC_1080P: dict[str, Any] = {
    "id": "basic-1080p",
    "title": "Basic player, 1080p screen",
    "screen": {"width": 1920, "height": 1080, "refresh_hz": 60},
    "player": {"order": "disk", "buffer_seconds": 1.0, "read_mbit_s": 80},
    "card": {
        "file_systems": ["FAT32"],
        "partition_tables": ["MBR"],
        "capacity_max_gb": 32,
        "cluster_bytes_max": 32_768,
        "label_pattern": "[A-Z0-9_]{1,11}",
        "free_percent_min": 5,
    },
    "layout": {
        "media_folder": "/",
        "subfolders": False,
        "other_files": ["*.txt"],
        "required_files": [],
        "name_pattern": "[A-Za-z0-9._-]+",
        "name_length_max": 32,
        "ascii_only": True,
    },
    "video": {
        "containers": ["MP4"],
        "codecs": {"H.264": {"profiles": ["Baseline", "Main", "High"], "level_max": "4.1"}},
        "width": 1920,
        "height": 1080,
        "frame_rates": [24, 25, 29.97, 30],
        "bit_rate_max": 20_000_000,
        "bit_rate_peak_max": 25_000_000,
        "bit_depths": [8],
        "chroma": ["4:2:0"],
        "scan": "progressive",
        "gop_seconds_max": 2,
    },
    "audio": {
        "use": "allowed",
        "codecs": {"AAC": {"sample_rates": [44_100, 48_000], "channels_max": 2, "bit_rate_max": 320_000}},
    },
    "stills": {"formats": ["JPEG"], "width_max": 1920, "height_max": 1080, "seconds": 10},
    "loop": {"items_min": 1, "items_max": 20, "seconds_min": 5, "seconds_max": 600},
}


def profile(**sections: Any) -> Profile:
    """The basic profile with keys changed by section: `profile(card={"file_systems": ["exFAT"]})`."""
    changed = {
        name: {**BASIC_1080P.get(name, {}), **value} if isinstance(value, dict) else value
        for name, value in sections.items()
    }
    return Profile.model_validate_json(json.dumps({**BASIC_1080P, **changed}, default=str))


def bare_profile(**sections: Any) -> Profile:
    """A profile that restricts nothing but what is given."""
    return Profile.model_validate_json(json.dumps({"id": "bare", **sections}, default=str))


def entry(path: str = "clip.mp4", **changes: Any) -> Entry:
    """A file on the card, 10 MB at the first place unless told otherwise."""
    return replace(Entry(path, 10_000_000, 0, Path("card") / path), **changes)


def packet_facts(
    count: int = FRAMES,
    *,
    rate: Fraction = Fraction(30),
    sizes_bytes: Sequence[int] | None = None,
    keyframe_every: int = 30,
    **changes: Any,
) -> PacketFacts:
    """Packets at an even rate, each of 33,000 bytes unless `sizes_bytes` gives one size per packet."""
    sizes = tuple(sizes_bytes) if sizes_bytes is not None else (FRAME_BYTES,) * count
    interval = float(1 / rate)
    even = PacketFacts(
        count=len(sizes),
        duration_s=len(sizes) / rate,
        total_bytes=sum(sizes),
        keyframes=-(-len(sizes) // keyframe_every),
        starts_with_keyframe=True,
        longest_gop_s=keyframe_every * interval,
        shortest_interval_s=interval,
        longest_interval_s=interval,
        decode_times_s=struct.pack(f"<{len(sizes)}d", *(index * interval for index in range(len(sizes)))),
        sizes_bytes=struct.pack(f"<{len(sizes)}I", *sizes),
    )
    return replace(even, **changes)


def video_facts(**changes: Any) -> VideoFacts:
    """H.264 High@4, 1920x1080, 30 frames per second, 10 seconds, 7.92 Mbit/s."""
    basic = VideoFacts(
        codec="H.264",
        profile="High",
        level="4",
        width=1920,
        height=1080,
        pixel_aspect=Fraction(1),
        rotation=0,
        frame_rate=Fraction(30),
        frame_rate_mode="constant",
        bit_depth=8,
        chroma="4:2:0",
        scan="progressive",
        bit_rate=FRAME_BYTES * 30 * 8,
        duration=TEN_SECONDS,
        colour_primaries="bt709",
        colour_transfer="bt709",
        level_needed="4",
        level_reason="1920x1080 at 30 frames per second",
        reference_frames=4,
        packets=packet_facts(),
    )
    return replace(basic, **changes)


def audio_facts(**changes: Any) -> AudioFacts:
    """AAC, 48 kHz, stereo, 128 kbit/s, 10 seconds."""
    return replace(AudioFacts("AAC", "LC", 48_000, 2, 128_000, TEN_SECONDS), **changes)


def container_facts(**changes: Any) -> ContainerFacts:
    """MP4 with its index first."""
    return replace(ContainerFacts("MP4", "first"), **changes)


def still_facts(**changes: Any) -> StillFacts:
    """Baseline JPEG, 1920x1080, 8 bits, upright."""
    return replace(StillFacts("JPEG", 1920, 1080, False, "RGB", 8), **changes)


def media_facts(**changes: Any) -> MediaFacts:
    """What a conforming clip says of itself: picture, one sound stream, 10 seconds."""
    basic = MediaFacts("video", container_facts(), video_facts(), (audio_facts(),), duration=TEN_SECONDS)
    return replace(basic, **changes)


def file_of(path: str, kind: FileKind, facts: MediaFacts | Unreadable | None, **changes: Any) -> File:
    """A file with these facts. Changes go to the entry (`size_bytes=0`) or to the file (`sha256="…"`)."""
    of_file = {key: changes.pop(key) for key in ("sha256", "measurements") if key in changes}
    return File(entry(path, **changes), kind, facts, **of_file)


def video_file(
    path: str = "clip.mp4",
    *,
    container: ContainerFacts | None = None,
    video: VideoFacts | None = None,
    audio: tuple[AudioFacts, ...] | None = None,
    facts: dict[str, Any] | None = None,
    **changes: Any,
) -> File:
    """A clip that conforms to the basic profile but for what is given; `facts` changes `MediaFacts` keys."""
    parts: dict[str, Any] = {"container": container, "video": video, "audio": audio}
    given = {key: value for key, value in parts.items() if value is not None}
    return file_of(path, "video", media_facts(**{**given, **(facts or {})}), **changes)


def still_file(path: str = "card.jpg", *, still: StillFacts | None = None, **changes: Any) -> File:
    """A still that conforms to the basic profile but for what is given."""
    return file_of(path, "still", MediaFacts("still", still=still or still_facts()), **changes)


def audio_file(path: str = "music.mp3", **changes: Any) -> File:
    """A lone sound file."""
    facts = MediaFacts("audio", audio=(audio_facts(codec="MP3", profile=None),), duration=TEN_SECONDS)
    return file_of(path, "audio", facts, **changes)


def unreadable_file(
    path: str = "clip.mp4",
    kind: FileKind = "video",
    reason: str = "The file holds no picture.",
    **changes: Any,
) -> File:
    """A file that no reader could make sense of."""
    return file_of(path, kind, Unreadable(kind, reason), **changes)


def other_file(path: str = "notes.txt", **changes: Any) -> File:
    """A file that is not media."""
    return file_of(path, "other", None, **changes)


def junk_file(path: str = ".DS_Store", **changes: Any) -> File:
    """What a desktop system left behind."""
    return file_of(path, "junk", None, **changes)


def volume(**changes: Any) -> Volume:
    """A 16 GB card: FAT32 in an MBR, clean, three quarters full, as large as it claims."""
    basic = Volume(
        file_system="FAT32",
        partition_table="MBR",
        label="ROSE_LEFT",
        serial="1A2B-3C4D",
        capacity_bytes=16_000_000_000,
        cluster_bytes=16_384,
        used_bytes=12_000_000_000,
        free_bytes=4_000_000_000,
        medium_bytes=16_004_194_304,
        claimed_bytes=16_004_194_304,
        dirty=False,
    )
    return replace(basic, **changes)


def placed(files: Sequence[File]) -> tuple[File, ...]:
    """The files with on-disk positions in the order in which they are given."""
    return tuple(replace(file, entry=replace(file.entry, position=at)) for at, file in enumerate(files))


def folders_of(files: Sequence[File]) -> tuple[str, ...]:
    """Every folder that holds a file or a folder, the root left out."""
    parts = [file.entry.folder.split("/") for file in files if file.entry.folder]
    return tuple(sorted({"/".join(names[:depth]) for names in parts for depth in range(1, len(names) + 1)}))


def card(*files: File, **changes: Any) -> Card:
    """A whole card whose medium was looked at and is sound, holding these files in this on-disk order."""
    basic = Card(
        source="card.img",
        kind="image",
        entries=tuple(file.entry for file in placed(files)),
        folders=folders_of(files),
        volume=volume(),
        order_known=True,
        damage=(),
    )
    return replace(basic, **changes)


def plain_folder(*files: File, **changes: Any) -> Card:
    """The same files as a folder was handed over: no volume, no on-disk order, medium not looked at."""
    return card(*files, **{"kind": "folder", "volume": None, "order_known": False, "damage": None, **changes})


def whole(*files: File, card: Card | None = None, profile: Profile | None = None) -> Whole:
    """What rules about the card or the loop are given. Files lie on the card in the order given."""
    limits = profile if profile is not None else _basic()
    there = card if card is not None else _card(*files)
    return Whole(there, loop_of(placed(files), limits, there.order_known), limits)


def one(file: File | None = None, profile: Profile | None = None) -> One:
    """What rules about one file are given."""
    return One(file if file is not None else video_file(), profile if profile is not None else _basic())


_card = card
_basic = profile
