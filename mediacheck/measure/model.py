"""What one decode of a file showed, as plain frozen numbers.

It must not hold opinions: whether a number is too high is for the rules.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class DecodeError:
    """One complaint of the decoder. `second` is where in the clip the picture stood, if known."""

    message: str
    second: float | None = None


@dataclass(frozen=True, slots=True)
class Measurements:
    """How much was seen, and what was seen. Times in seconds."""

    frames: int
    seconds: float
    decode_errors: tuple[DecodeError, ...] = ()
    """At most 100 are kept; `decode_error_count` counts all."""
    decode_error_count: int = 0


@dataclass(frozen=True, slots=True)
class NotMeasured:
    """Why a file was not decoded to its end. `expected` as in the report's `not_checked`."""

    reason: str
    expected: bool


@dataclass(frozen=True, slots=True)
class Picture:
    """One frame as the file stores it: no rotation, square pixels assumed. `rgb` is height*width*3 bytes."""

    second: float
    width: int
    height: int
    rgb: bytes = field(repr=False)
