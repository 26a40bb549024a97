"""The steps that a value is rounded up to: card sizes, frame rates, bit rates, seconds.

It must not look at cards: it is arithmetic on numbers.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import ceil, floor
from types import MappingProxyType

from mediacheck.profile_values import parse_rate
from mediacheck.rules.video_rate import RATE_TOLERANCE

CTA_861_RATES: Mapping[Fraction, float | int] = MappingProxyType(
    {
        Fraction(24000, 1001): 23.976,
        Fraction(24): 24,
        Fraction(25): 25,
        Fraction(30000, 1001): 29.97,
        Fraction(30): 30,
        Fraction(50): 50,
        Fraction(60000, 1001): 59.94,
        Fraction(60): 60,
    }
)
"""The rates of CTA-861's formats for whole frames (through Linux drm_edid.c), with their 1000/1001 (from
memory), and how people write them."""

SMALL_KBIT = (10, 20, 50, 100, 200, 500, 1000)
"""Steps of 1-2-5 below 1 Mbit/s, in kbit/s; from there on every whole Mbit/s is a step, as encoders are set
(common practice, no source)."""

SOUND_KBIT = (64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 384, 448, 512, 576, 640)
"""kbit/s. Up to 320: ISO/IEC 11172-3, Layer III, and from there ATSC A/52 Table 5.18, both through FFmpeg."""
SOUND_KBIT_BEYOND = 64
"""Beyond these, for sound that is not packed: multiples, of which 1,536 (48 kHz stereo of 16 bits) is one
(common practice, no source)."""

NOMINAL_OVER = Fraction(2, 100)
"""Some cards hold a little more than is printed on them (common practice, no source)."""


def nominal_gb(size_bytes: int) -> int | float:
    """The size that a card is sold under and that its bytes keep to, in decimal GB.

    Sizes double: 1, 2 (the largest SDSC card), 4 ... 32 (the largest SDHC card), 64 ... (SD Association,
    second-hand). One that holds up to 2 % more than such a size is no card of the next, which may be of
    another kind: then it is the next tenth of a GB.
    """
    gb, step = Fraction(size_bytes, 10**9), 1
    while gb > step * (1 + NOMINAL_OVER):
        step *= 2
    return step if gb <= step else ceil(gb * 10) / 10


def standard_rate(rate: Fraction) -> Fraction | None:
    """The rate of CTA-861 that this one is but for rounding in the container; None where it is another."""
    return next((exact for exact in CTA_861_RATES if abs(rate - exact) <= exact * RATE_TOLERANCE), None)


def written_rate(rate: Fraction) -> int | float | str | None:
    """A rate as people write it (29.97, 12.5, "1/3"), so that it still stands for this one.

    None for a rate that no profile can state (none at all, over 1000 frames per second).
    """
    if rate in CTA_861_RATES:
        return CTA_861_RATES[rate]
    short: int | float = int(rate) if rate.denominator == 1 else round(float(rate), 3)
    return next((text for text in (short, str(rate)) if _stands_for(text, rate)), None)


def _stands_for(written: int | float | str, rate: Fraction) -> bool:
    try:
        read = parse_rate(written)
    except ValueError:
        return False
    return abs(rate - read) <= read * RATE_TOLERANCE


def picture_bit_rate(bit_s: int) -> int:
    """The next step for a picture, in bit/s."""
    small = next((kbit * 1000 for kbit in SMALL_KBIT if bit_s <= kbit * 1000), None)
    return small or _up(bit_s, 1_000_000)


def sound_bit_rate(bit_s: int) -> int:
    """The next step for sound, in bit/s."""
    usual = next((kbit * 1000 for kbit in SOUND_KBIT if bit_s <= kbit * 1000), None)
    return usual or _up(bit_s, SOUND_KBIT_BEYOND * 1000)


def _up(value: int, step: int) -> int:
    return -(-value // step) * step


def half_seconds(seconds: float) -> float:
    """The next half second, at least one; what is longer by less than a microsecond is rounding of times."""
    return max(1, ceil(round(seconds, 6) * 2)) / 2


def tenth_seconds(seconds: float) -> float:
    """The next tenth of a second."""
    return ceil(round(seconds, 6) * 10) / 10


def whole_seconds(least: Fraction, most: Fraction) -> tuple[int, int]:
    """The whole seconds that two lengths lie between."""
    return floor(least), ceil(most)
