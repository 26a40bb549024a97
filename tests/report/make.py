"""Reports made by hand: the invented garden-centre display, one value at a time."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from io import StringIO
from pathlib import Path
from typing import Any

from rich.console import Console

from mediacheck.card.model import Entry, Volume
from mediacheck.loop import File
from mediacheck.measure.model import (
    Bars,
    Combed,
    DecodeError,
    Flash,
    Leader,
    Measurements,
    Seam,
    Sound,
    SoundEdge,
    Span,
)
from mediacheck.media.facts import (
    AudioFacts,
    ContainerFacts,
    Disagreement,
    MediaFacts,
    PacketFacts,
    StillFacts,
    Unreadable,
    VideoFacts,
)
from mediacheck.names import RuleName, Severity
from mediacheck.report.model import (
    Counts,
    Finding,
    PlayItem,
    ProfileName,
    Report,
    ScreenShape,
    Unchecked,
)
from mediacheck.report.terminal import print_report

EMPTY_SHA256 = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
PACKETS = PacketFacts(300, Fraction(12), 6_000_000, 6, True, 2.0, 0.04, 0.04, b"12345678", b"1234")

VIDEO = VideoFacts(
    codec="H.264",
    profile="High",
    level="4.1",
    width=1920,
    height=1080,
    pixel_aspect=Fraction(1),
    rotation=0,
    frame_rate=Fraction(30000, 1001),
    frame_rate_mode="constant",
    bit_depth=8,
    chroma="4:2:0",
    scan="progressive",
    bit_rate=8_000_000,
    duration=Fraction(12),
    colour_primaries="bt709",
    colour_transfer="bt709",
    level_needed="4",
    level_reason="the size of its pictures",
    reference_frames=4,
    packets=PACKETS,
)
CLIP = MediaFacts(
    "video",
    container=ContainerFacts("MP4", index="first"),
    video=VIDEO,
    audio=(AudioFacts("AAC", "LC", 48_000, 2, 128_000, Fraction(12)),),
    duration=Fraction(12),
    disagreements=(Disagreement("frame rate", "29.97", "30"),),
)
MEASURED = Measurements(
    frames=360,
    seconds=12.0,
    decode_errors=(DecodeError("bad block", 3.5),),
    decode_error_count=1,
    width=1920,
    height=1080,
    black=(Span(0.0, 1.5), Span(11.0, 12.0)),
    frozen=(),
    bars=Bars(140, 138, 0, 0),
    leader=(Leader("colour bars", 0.0, 0.5), Leader("countdown", 0.5, 1.5)),
    flash=Flash(2, 7.25, 5, 8.0),
    combed=Combed(0.25, 40, 3),
    seam=Seam(30.0, 1.5, 12.0, 2.5, 0.25, 0.98),
    sound=Sound(
        12.0,
        -18.5,
        -0.3,
        (-0.5, None),
        0.25,
        0.0,
        1.5,
        (Span(0.0, 1.5),),
        SoundEdge((0.0, 0.0), (0.125, 0.0)),
        SoundEdge((0.1875, 0.0), (0.0625, 0.0)),
    ),
    bit_rate_peak=12_000_000,
    fingerprint="01c0ffee",
    sound_errors=(DecodeError("bad header", 4.5),),
    sound_error_count=2,
)
"""Everything that a decode can show, with a little of everything wrong."""
STILL = MediaFacts("still", still=StillFacts("JPEG", 1920, 1080, False, "RGB", 8))


def entry(path: str, position: int = 0, size_bytes: int = 6_000_000) -> Entry:
    return Entry(path, size_bytes, position, Path("card", *path.split("/")))


def clip(path: str, position: int = 0) -> File:
    return File(entry(path, position), "video", CLIP, MEASURED, EMPTY_SHA256)


def finding(
    rule: RuleName = "video-codec", severity: Severity = "fail", path: str | None = "b.mp4"
) -> Finding:
    return Finding(
        rule=rule,
        severity=severity,
        path=path,
        found=f"found by {rule}",
        wanted=f"wanted by {rule}",
        message=f"{rule} shows up on the screen.",
        action=f"Put {rule} right.",
        fixable=severity == "fail",
        source="the profile",
    )


def item(path: str, seconds: Fraction | None = Fraction(12), skipped: bool = False) -> PlayItem:
    return PlayItem(path, seconds, skipped)


def gap(rule: RuleName, path: str | None, reason: str, expected: bool = True) -> Unchecked:
    return Unchecked(rule, path, reason, expected)


GOOD = Report(
    version="0.1.0",
    checked_at=datetime(2026, 1, 31, 9, 30, tzinfo=UTC),
    depth="full",
    profile=ProfileName("basic-1080p", "Basic player, 1080p", EMPTY_SHA256),
    screen=ScreenShape(1920, 1080, 2.5, 0),
    verdict="pass",
    source="card-watering",
    kind="folder",
    volume=None,
    order_known=False,
    disk_order=True,
    files=(clip("a.mp4", 0), clip("b.mp4", 1)),
    items=(item("a.mp4"), item("b.mp4", Fraction(80))),
    loop_seconds=Fraction(92),
    findings=(),
    checks=Counts(40, 0, 12, 0),
    not_checked=(),
)


def report(**changes: Any) -> Report:
    """The good report with some values changed."""
    return replace(GOOD, **changes)


BAD_CARD = report(
    verdict="fail",
    depth="quick",
    kind="image",
    volume=Volume("FAT32", "MBR", "GARDEN-A", "1234-ABCD", 31_900_000_000, 32_768, 9_000_000, None),
    order_known=True,
    display="Bee aisle",
    face="seed range",
    files=(
        clip("a.mp4", 0),
        clip("b.mp4", 1),
        File(entry("c.jpg", 2, 900_000), "still", STILL),
        File(entry("broken.mp4", 3, 0), "video", Unreadable("video", "The file is empty.")),
        File(entry("notes.txt", 4, 12), "other"),
    ),
    items=(
        item("a.mp4", Fraction(25, 2)),
        item("b.mp4", Fraction(80), skipped=True),
        item("c.jpg", None),
        item("broken.mp4", None, skipped=True),
    ),
    loop_seconds=None,
    findings=(
        finding("video-codec", "fail", "b.mp4"),
        finding("file-empty", "fail", "broken.mp4"),
        finding("card-file-system", "fail", None),
        finding("file-unexpected", "warn", "notes.txt"),
        finding("file-duplicate", "note", "a.mp4"),
    ),
    checks=Counts(60, 5, 20, 3),
    not_checked=(
        gap("picture-damaged", "a.mp4", "the quick check does not decode videos"),
        gap("picture-damaged", "b.mp4", "the quick check does not decode videos"),
        gap("video-codec", "broken.mp4", "the file could not be read", expected=False),
    ),
)


def crowded(count: int) -> Report:
    """A card with very many items, of which every tenth fails with a message of its own."""
    paths = [f"clips/{number:05}.mp4" for number in range(count)]
    findings = tuple(
        replace(finding(path=path), message=f"The picture of {path} cannot be unpacked.")
        for path in paths[::10]
    )
    return report(
        verdict="fail",
        files=tuple(clip(path, place) for place, path in enumerate(paths)),
        items=tuple(item(path, skipped=place % 10 == 0) for place, path in enumerate(paths)),
        findings=(*findings, finding("loop-length", "warn", None)),
        checks=Counts(count, len(findings) + 1, 0, count),
        not_checked=tuple(
            gap("picture-black", path, "the quick check does not decode videos") for path in paths
        ),
    )


def printed(report: Report, width: int = 80, **options: Any) -> str:
    """What a terminal of this width would show."""
    stream = StringIO()
    print_report(report, Console(file=stream, width=width, **options))
    return stream.getvalue()


def one_line(text: str) -> str:
    """The text with every run of white space as one space, so that wrapping does not matter."""
    return " ".join(text.split())
