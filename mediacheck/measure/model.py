"""What one decode of a file showed, as plain frozen numbers.

It must not hold opinions: whether a number is too high is for the rules.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

MEASUREMENTS_VERSION = 7
"""Goes up with every change of a gauge or of this model: kept results of an older one are not used again."""


@dataclass(frozen=True, slots=True)
class DecodeError:
    """One complaint of the decoder. `second` is where in the clip the picture stood, if known."""

    message: str
    second: float | None = None


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


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the clip, in seconds from its first picture."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Bars:
    """Black bars that are part of the picture through the whole clip, in pixels of the coded picture."""

    top_px: int
    bottom_px: int
    left_px: int
    right_px: int


LeaderKind = Literal["colour bars", "countdown", "slate", "line-up tone"]


@dataclass(frozen=True, slots=True)
class Leader:
    """Test material left on the clip."""

    kind: LeaderKind
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Flash:
    """The greatest number of flashes within any one second, and when that second begins.

    A flash is a pair of opposing changes (WCAG 2.2 SC 2.3.1, ITU-R BT.1702) over more than the area
    threshold of the screen.
    """

    general_max: int
    general_at_s: float | None
    red_max: int
    red_at_s: float | None


@dataclass(frozen=True, slots=True)
class Combed:
    """How many of the pictures looked at show the lines of two moments woven together."""

    share: float
    """0 to 1, of the pictures with enough movement to tell."""
    moving: int
    """How many had enough movement to tell."""
    unclear: int = 0
    """How many moved as much, and look alike whether whole or woven."""


@dataclass(frozen=True, slots=True)
class Seam:
    """The jump from the last picture to the first, beside the jumps inside the clip.

    Changes are mean absolute differences of small pictures, 0 to 255. Likenesses (see `measure.likeness`) are
    of tiny ones, 32 wide and 18 high whatever the clip's shape, 1 for the same picture twice.
    """

    picture_change: float
    usual_change: float
    """Median change between neighbouring pictures inside the clip."""
    greatest_change: float
    """Greatest change between neighbouring pictures inside the clip."""
    black_s: float
    """Black at the end plus black at the start, in seconds."""
    likeness: float | None = None
    """Of the last picture and the first."""
    usual_likeness: float = 1.0
    """The least of neighbouring pictures near both ends."""
    first: str | None = field(default=None, repr=False)
    last: str | None = field(default=None, repr=False)
    """The tiny pictures themselves, 32 * 18 * 3 bytes RGB as hexadecimal digits: any two items compare."""


SILENT_PEAK_DBFS = -60.0
"""Silence is what stays below: a thousandth of full scale (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class SoundEdge:
    """The very start or end of a sound track, for each channel; full scale is 1."""

    level: tuple[float, ...]
    """The first or last sample."""
    greatest_step: tuple[float, ...]
    """Between neighbouring samples within 50 ms of it."""


@dataclass(frozen=True, slots=True)
class Sound:
    """What the sound showed. Levels in dB below full scale; None where there was only silence."""

    seconds: float
    loudness_lufs: float | None
    """Integrated loudness, ITU-R BS.1770 / EBU R 128."""
    true_peak_dbtp: float | None
    channel_peaks_dbfs: tuple[float | None, ...]
    """Sample peak of each channel; None for a channel of zeros."""
    silent_start_s: float
    silent_end_s: float
    """Silence at the head and at the tail."""
    seam_step: float | None
    """Jump from the last sample to the first beside the greatest jump near both, as a ratio."""
    tone: tuple[Span, ...] = ()
    """Stretches of a steady single tone, as used for line-up."""
    start: SoundEdge | None = None
    end: SoundEdge | None = None
    """None where there are less than two samples."""

    @property
    def dead_channels(self) -> tuple[int, ...]:
        """Which channels stay silent from start to end, counted from 0."""
        peaks = enumerate(self.channel_peaks_dbfs)
        return tuple(place for place, peak in peaks if peak is None or peak < SILENT_PEAK_DBFS)

    @property
    def silent(self) -> bool:
        """Whether every channel stays silent from start to end; False where there was nothing to hear."""
        return self.seconds > 0 and 0 < len(self.channel_peaks_dbfs) == len(self.dead_channels)


@dataclass(frozen=True, slots=True)
class Measurements:
    """How much was seen, and what was seen. Times in seconds; None is a thing that was not measured."""

    frames: int
    seconds: float
    decode_errors: tuple[DecodeError, ...] = ()
    """About the picture. At most 100 are kept; `decode_error_count` counts all."""
    decode_error_count: int = 0
    width: int | None = None
    """Pixels of the decoded picture. Where its size changes on the way, the first that the headers do not
    give: a player that goes by them shows that one wrongly."""
    height: int | None = None
    black: tuple[Span, ...] | None = None
    frozen: tuple[Span, ...] | None = None
    bars: Bars | None = None
    """All zero where there are none."""
    leader: tuple[Leader, ...] | None = None
    flash: Flash | None = None
    combed: Combed | None = None
    seam: Seam | None = None
    sound: Sound | None = None
    """Of the first sound stream; None where the file has none."""
    bit_rate_peak: int | None = None
    """Most bits of picture within any one second, from the packets."""
    fingerprint: str | None = None
    """See `measure.fingerprint`, as hexadecimal digits."""
    gaps: tuple[Span, ...] | None = None
    """The longest waits between a picture and the next, at most 8 of them, in the order of the clip."""
    sound_errors: tuple[DecodeError, ...] = ()
    """Complaints about the sound, kept and counted like those about the picture."""
    sound_error_count: int = 0
