"""Hand-made measurements: those of a clean clip unless a keyword says otherwise.

It must not decode: what a decode showed is written down here.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from mediacheck.loop import File
from mediacheck.measure.model import (
    Bars,
    Combed,
    Flash,
    Measurements,
    NotMeasured,
    Seam,
    Sound,
    SoundEdge,
    Span,
)
from mediacheck.profile import Profile
from mediacheck.rules.model import One, Seen
from tests.rules import make
from tests.rules.judging import findings, reads_well

REST = SoundEdge((0.002, -0.002), (0.01, 0.01))
"""Sound that is as good as at rest where it begins and ends."""
SOUND = Sound(
    seconds=10.0,
    loudness_lufs=-23.0,
    true_peak_dbtp=-3.0,
    channel_peaks_dbfs=(-4.0, -4.5),
    silent_start_s=0.1,
    silent_end_s=0.2,
    seam_step=0.4,
    start=REST,
    end=REST,
)


def tiny(level: int) -> str:
    """What is kept of an even picture of this level, 0 to 255."""
    return f"{level:02x}" * (32 * 18 * 3)


CLEAN = Measurements(
    frames=make.FRAMES,
    seconds=10.0,
    width=1920,
    height=1080,
    black=(),
    frozen=(),
    bars=Bars(0, 0, 0, 0),
    leader=(),
    flash=Flash(0, None, 0, None),
    combed=Combed(0.0, 60),
    seam=Seam(1.5, 1.2, 4.0, 0.0, 0.97, 0.98, tiny(100), tiny(101)),
    sound=SOUND,
    bit_rate_peak=9_000_000,
    fingerprint="01",
    gaps=(),
)


def strict(**sections: Any) -> Profile:
    """The basic profile with limits for all that only a decode can show."""
    limits: dict[str, dict[str, Any]] = {
        "audio": {"loudness_lufs": -23, "true_peak_dbtp_max": -1},
        "loop": {"black_seconds_max": 2, "frozen_seconds_max": 10, "seamless": True},
    }
    merged = {name: {**limits.get(name, {}), **sections.get(name, {})} for name in {*limits, *sections}}
    return make.profile(**merged)


def clip(path: str = "clip.mp4", *, facts: dict[str, Any] | None = None, **changes: Any) -> File:
    """A conforming clip of 10 s whose decode showed nothing wrong but for what is given."""
    return make.video_file(path, facts=facts, measurements=replace(CLEAN, **changes))


def showed(limits: Profile | None = None, /, **changes: Any) -> One:
    """The same as rules about one file are given it, with every limit set."""
    return make.one(clip(**changes), strict() if limits is None else limits)


def decoded(measured: Measurements | NotMeasured | None, **video: Any) -> One:
    """A conforming clip of 300 frames that was decoded with this outcome; `video` changes its facts."""
    return make.one(make.video_file(video=make.video_facts(**video), measurements=measured))


def sound(**changes: Any) -> Sound:
    """Clean stereo sound at -23 LUFS with some values changed."""
    return replace(SOUND, **changes)


def spans(*ends: tuple[float, float]) -> tuple[Span, ...]:
    """Stretches by their starts and ends in seconds."""
    return tuple(Span(start, end) for start, end in ends)


def alone(rule: str, asked: One) -> tuple[Seen, ...]:
    """What this rule saw; no other rule about the file sees anything, and every sentence reads well."""
    seen = findings(asked)
    assert set(seen) == {rule}, seen
    for each in seen[rule]:
        reads_well(each)
    return seen[rule]
