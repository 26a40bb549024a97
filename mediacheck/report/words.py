"""How every face of the report words a name, a size, a time or a fact.

It must not know any face: what it returns is plain text, safe to show anywhere.
"""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime
from fractions import Fraction

from mediacheck.card.model import Volume
from mediacheck.loop import File
from mediacheck.media.facts import MediaFacts, StillFacts, Unreadable, VideoFacts
from mediacheck.names import CardKind, Depth, Severity

NOT_KNOWN = "not known"
JOINERS = "\u200c\u200d"
"""Invisible, but several scripts cannot be written without them."""
UNSEEN = ("Cc", "Cf", "Cs", "Zl", "Zp")
"""Unicode categories that are not drawn, or that change how what follows is drawn."""

KIND_WORDS: dict[CardKind, str] = {
    "folder": "folder",
    "volume": "mounted drive",
    "device": "raw device",
    "image": "card image",
}
DEPTH_WORDS: dict[Depth, str] = {
    "quick": "quick (what the files say of themselves; videos were not decoded)",
    "full": "full (videos were also decoded)",
}
SEVERITY_WORDS: dict[Severity, str] = {"fail": "FAIL", "warn": "WARNING", "note": "NOTE"}
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def safe(text: str) -> str:
    """The text with everything that is not drawn written as an escape, such as `\\u202e`.

    A file name may hold control characters that steer a terminal, or marks that turn the direction of
    writing round, so that `gpj.exe` is read where `exe.jpg` stands.
    """
    return text if text.isprintable() else "".join(map(_drawn, text))


def _drawn(character: str) -> str:
    if character in JOINERS or unicodedata.category(character) not in UNSEEN:
        return character
    return character.encode("unicode_escape").decode("ascii")


def counted(count: int, one: str, many: str | None = None) -> str:
    """A number with its noun: "1 item", "10,000 items"."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def listed(words: tuple[str, ...], most: int) -> str:
    """The first words, with commas, and how many more there are."""
    shown = ", ".join(words[:most])
    left = len(words) - most
    return f"{shown} and {left:,} more" if left > 0 else shown


def length_words(seconds: Fraction | None) -> str:
    """A length: "12.5 s", "1 min 32 s", "2 h 5 min 1 s"."""
    if seconds is None:
        return NOT_KNOWN
    tenths = round(seconds * 10)
    if tenths < 600:
        return f"{tenths / 10:g} s" if tenths or not seconds else "under 0.1 s"
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    parts = ((hours, "h"), (minutes, "min"), (rest, "s"))
    return " ".join(f"{amount} {unit}" for amount, unit in parts if amount)


def clock(seconds: Fraction | None) -> str:
    """A moment in the round: "0:00", "1:32", "2:05:01"."""
    if seconds is None:
        return NOT_KNOWN
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def size_words(size_bytes: int) -> str:
    """A size in powers of 1000, as it is printed on cards."""
    size, unit = float(size_bytes), "bytes"
    for larger in ("kB", "MB", "GB", "TB"):
        if round(size, 1) < 1000:
            break
        size, unit = size / 1000, larger
    return counted(size_bytes, "byte") if unit == "bytes" else f"{size:.1f} {unit}"


def moment_words(moment: datetime) -> str:
    """Date and time of the check, in UTC: "31 January 2026, 09:30 UTC"."""
    utc = moment.astimezone(UTC) if moment.tzinfo else moment
    return f"{utc.day} {MONTHS[utc.month - 1]} {utc.year}, {utc:%H:%M} UTC"


def volume_words(volume: Volume | None) -> str:
    """What is known of the file system: "FAT32 in MBR, 31.9 GB, label GARDEN-A"; empty if nothing."""
    if volume is None:
        return ""
    table = volume.partition_table
    inside = f" in {table}" if table not in (None, "none") else ""
    parts = (
        f"{volume.file_system}{inside}" if volume.file_system else NOT_KNOWN if volume.capacity_bytes else "",
        size_words(volume.capacity_bytes) if volume.capacity_bytes is not None else "",
        f"label {volume.label}" if volume.label else "",
    )
    return ", ".join(part for part in parts if part)


def facts_words(file: File | None) -> str:
    """One line on what a file is; empty where nothing was found out."""
    facts = file.facts if file else None
    if isinstance(facts, Unreadable):
        return "could not be read"
    if isinstance(facts, MediaFacts):
        return ", ".join(part for part in _media_parts(facts) if part)
    return ""


def _media_parts(facts: MediaFacts) -> tuple[str, ...]:
    if facts.still:
        return _still_parts(facts.still)
    container = facts.container.name if facts.container else ""
    picture = _video_parts(facts.video) if facts.video else ("no picture",)
    codecs = tuple(dict.fromkeys(audio.codec for audio in facts.audio))
    return (container, *picture, f"sound {' and '.join(codecs)}" if codecs else "no sound")


def _still_parts(still: StillFacts) -> tuple[str, ...]:
    return (still.format, f"{still.width} x {still.height}")


def _video_parts(video: VideoFacts) -> tuple[str, ...]:
    known = tuple(part for part in (video.profile, video.level) if part)
    rate = f"{float(video.frame_rate):.5g} frames/s" if video.frame_rate else ""
    return (" ".join((video.codec, *known)), f"{video.width} x {video.height}", rate)
