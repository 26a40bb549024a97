"""Settings of an encoder as data: the arguments of ffmpeg, each with the reason why it is there.

It must not start anything: the lines are shown to people, and other rooms run them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from mediacheck.names import Chroma
from mediacheck.profile import CodecLimits


@dataclass(frozen=True, slots=True)
class Reason:
    """One setting as it stands in the line, and what it is for, in words for people."""

    setting: str
    why: str


@dataclass(frozen=True, slots=True)
class Part:
    """Arguments of ffmpeg that belong together, and the reasons for them."""

    arguments: tuple[str, ...]
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Refused:
    """No line can be given; the reason is a clause that goes on from "because"."""

    reason: str


@dataclass(frozen=True, slots=True)
class Frame:
    """The picture to make, in pixels. With `bars` exactly this size, else at most (the master's shape)."""

    width: int
    height: int
    bars: bool


@dataclass(frozen=True, slots=True)
class Budget:
    """Bits that the encoder may spend: kbit/s at most, and the buffer in kbit over which that is counted."""

    rate_kbit_s: int
    buffer_kbit: int


@dataclass(frozen=True, slots=True)
class Tools:
    """One profile of a codec in one pixel format, and the arguments that make the encoder use it."""

    profile: str | None
    arguments: tuple[str, ...]
    pixel_format: str
    chroma: Chroma = "4:2:0"
    bit_depth: int = 8


@dataclass(frozen=True, slots=True)
class Target:
    """What a codec's own settings depend on. `level` is the one to mark, None: the encoder finds it."""

    container: str
    limits: CodecLimits
    frame: Frame
    rate: Fraction
    keyframe_frames: int
    budget: Budget
    tools: Tools
    level: str | None


def part(*arguments: str, why: str) -> Part:
    """A part with one reason."""
    return Part(arguments, (Reason(" ".join(arguments), why),))


def arguments_of(parts: Sequence[Part]) -> tuple[str, ...]:
    """All arguments in order."""
    return tuple(argument for one in parts for argument in one.arguments)
