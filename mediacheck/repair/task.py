"""One new file to be made, as it is sent to a worker process, and how long that may take.

It must not make it.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from mediacheck.cache import Cache, digest_of
from mediacheck.cache import Key as CheckKey
from mediacheck.card.within import Within
from mediacheck.inspection import decode_limit_s
from mediacheck.loop import File
from mediacheck.measure.model import Measurements
from mediacheck.media.facts import MediaFacts
from mediacheck.repair.kept import Kept, Key
from mediacheck.repair.model import QUALITY_FLOOR, Recipe
from mediacheck.which_ffmpeg import Program

ENCODE_LIMIT_S = 600.0
ENCODE_PIXELS_S = 500_000
"""Slowest encoding believed: a picture of full HD in four seconds, on a small laptop with a slow codec."""
LENGTH_S = 3600.0
"""Where neither recipe nor headers tell how long it plays."""
SIDES_PX = (1920, 1080)
RUNS_MAX = 5
"""Two passes, the second once more, and what is read beside."""


@dataclass(frozen=True, slots=True)
class Task:
    """What `work.convert` is told. Equal keys make equal files."""

    location: Path | Within
    """Of the master."""
    facts: MediaFacts
    """Of the master."""
    recipe: Recipe
    out: Path
    ffmpeg: Path
    ffmpeg_version: str
    prove: bool = True
    quality_floor: float = QUALITY_FLOOR
    """VMAF points."""
    master_sha256: str | None = None
    accepted: frozenset[str] = frozenset()
    """What the check heard the decoder say of this master, and did not take for damage."""
    kept: Kept | None = None
    """Where an earlier conversion may be known; needs `master_sha256`."""
    cache: Cache | None = None
    """Where what a full check of the new file would measure is kept for that check."""

    def here(self, ffmpeg: Program) -> Task:
        """The same on the machine where it is now, whose ffmpeg, of the same version, this is."""
        return replace(self, ffmpeg=ffmpeg.path, cache=self.cache.here() if self.cache else None)

    def checked_as(self, sha256: str, facts: MediaFacts) -> CheckKey:
        """What the measurements of a full check are known by: those of the new file, or of its master."""
        return CheckKey(sha256, "full", digest_of(facts), self.ffmpeg_version)

    @property
    def key(self) -> Key | None:
        """What an earlier conversion is known by; None: it cannot be."""
        if self.master_sha256 is None:
            return None
        floor = self.quality_floor if self.prove else None
        return Key(self.master_sha256, digest_of(self.recipe), self.ffmpeg_version, floor)

    @property
    def master_bytes(self) -> int:
        """Size of the master; 0 where it is out of reach by now, which the making will tell."""
        if not isinstance(self.location, Path):
            return self.location.size_bytes
        with suppress(OSError):
            return self.location.stat().st_size
        return 0

    @property
    def seconds(self) -> float | None:
        """How long the new file will play, as far as that can be known."""
        known = self.recipe.seconds
        if known is None and self.facts.duration is not None:
            return float(self.facts.duration)
        return known

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the new picture, or about."""
        picture, video = self.recipe.picture, self.facts.video
        width = (picture.width if picture else None) or (video.width if video else 0)
        height = (picture.height if picture else None) or (video.height if video else 0)
        return width or SIDES_PX[0], height or SIDES_PX[1]

    @property
    def frames_per_s(self) -> float:
        """Of the new picture, or about."""
        picture, video = self.recipe.picture, self.facts.video
        rate = (picture.frames_per_s if picture else None) or (video.frame_rate if video else None)
        return float(rate or 30)


def accepted_complaints(master: File) -> frozenset[str]:
    """As `Task.accepted`, of a master that is not damaged: a clip that was cut out of a longer one may begin
    with frames that need others from before its start."""
    found = master.measurements
    known = found.decode_errors if isinstance(found, Measurements) else ()
    return frozenset(error.message for error in known)


def encode_limit_s(task: Task) -> float:
    """How long one run of the encoder may take; generous, and finite."""
    width, height = task.size_px
    frames = (task.seconds or LENGTH_S) * task.frames_per_s
    return ENCODE_LIMIT_S + frames * width * height / ENCODE_PIXELS_S + decode_limit_s(task.master_bytes)


def time_limit_s(task: Task) -> float:
    """For one call of `work.convert`: each run within has a limit of its own, and is ended before."""
    return RUNS_MAX * encode_limit_s(task)


def together_limit_s(tasks: Sequence[Task]) -> float:
    """For one call of `work.convert_together`."""
    return sum(map(time_limit_s, tasks))
