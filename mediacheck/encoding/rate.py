"""Which frame rate to make, and how far keyframes stand apart.

It must not know codecs.
"""

from __future__ import annotations

from fractions import Fraction

from mediacheck.profile import CodecLimits, Screen

USUAL_MOST = Fraction(30)
"""More frames cost bits and playing power and are rarely seen in a store (common practice, no source)."""
KEYFRAME_SECONDS = 2.0
"""How soon a torn picture heals; denser keyframes cost quality (common practice, no source)."""


def rates_for(limits: CodecLimits, screen: Screen, known: frozenset[Fraction] | None) -> tuple[Fraction, ...]:
    """Rates to try, the best first: the highest allowed up to 30, and only then higher ones.

    `known` are those that the codec can express, None: any. Where the profile does not restrict the rate,
    25 for a screen of 50 Hz and 30 for any other.
    """
    if limits.frame_rates is None:
        return (Fraction(25) if screen.refresh_hz in (25, 50, 100) else USUAL_MOST,)
    allowed = [rate for rate in set(limits.frame_rates) if known is None or rate in known]
    usual = sorted((rate for rate in allowed if rate <= USUAL_MOST), reverse=True)
    return (*usual, *sorted(rate for rate in allowed if rate > USUAL_MOST))


def keyframe_frames(limits: CodecLimits, slowest: Fraction) -> int:
    """Frames from one keyframe to the next that keep the limit also at the slowest rate of the line."""
    seconds = min(KEYFRAME_SECONDS, limits.gop_seconds_max or KEYFRAME_SECONDS)
    return max(1, int(Fraction(seconds).limit_denominator(1000) * slowest))
