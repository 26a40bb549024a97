"""Frame rates against the fractions of the published video timings."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from mediacheck.rules.model import PASSED
from mediacheck.rules.video_rate import RATE_TOLERANCE, video_frame_rate
from tests.rules.make import bare_profile, one, video_facts, video_file

TIMINGS = {
    "1920x1080p60": (Fraction(148_500_000, 2200 * 1125), Fraction(60)),
    "1920x1080p50": (Fraction(148_500_000, 2640 * 1125), Fraction(50)),
    "1920x1080p24": (Fraction(74_250_000, 2750 * 1125), Fraction(24)),
    "1920x1080p25": (Fraction(74_250_000, 2640 * 1125), Fraction(25)),
    "1920x1080p30": (Fraction(74_250_000, 2200 * 1125), Fraction(30)),
    "1280x720p50": (Fraction(74_250_000, 1980 * 750), Fraction(50)),
    "3840x2160p24": (Fraction(297_000_000, 5500 * 2250), Fraction(24)),
    "3840x2160p30": (Fraction(297_000_000, 4400 * 2250), Fraction(30)),
    "3840x2160p60": (Fraction(594_000_000, 4400 * 2250), Fraction(60)),
}
"""CTA-861 (transcribed in the Linux kernel's drm_edid.c): pixel clock over the whole raster."""


def judged(rate: Fraction, *listed: Any) -> Any:
    """What the rule says of a clip at this rate where the profile lists these."""
    limits = bare_profile(video={"frame_rates": list(listed)})
    return video_frame_rate.judge(one(video_file(video=video_facts(frame_rate=rate)), limits))


@pytest.mark.parametrize(("raster", "exact"), TIMINGS.values(), ids=TIMINGS.keys())
def test_the_rate_of_a_published_timing_is_taken_as_its_whole_number(
    raster: Fraction, exact: Fraction
) -> None:
    """Source: CTA-861 video identification codes."""
    assert raster == exact
    assert judged(raster, int(exact)) == PASSED


@pytest.mark.parametrize("whole", [24, 30, 60, 120])
def test_the_same_timing_with_its_clock_over_1_001_is_another_rate(whole: int) -> None:
    """Source: CTA-861: 60, 30 and 24 Hz codes also stand for 1000/1001 of them (from memory)."""
    slowed = Fraction(whole * 1000, 1001)
    assert Fraction(whole) - slowed > whole * RATE_TOLERANCE
    assert [(each.found, each.wanted) for each in judged(slowed, whole)] == [
        (f"{float(slowed):.3f}".rstrip("0") + " frames per second", f"{whole} frames per second")
    ]


@pytest.mark.parametrize(
    ("spelt", "exact"),
    [
        ("23.976", Fraction(24000, 1001)),
        ("23.98", Fraction(24000, 1001)),
        ("29.97", Fraction(30000, 1001)),
        ("30000/1001", Fraction(30000, 1001)),
        ("59.94", Fraction(60000, 1001)),
        ("119.88", Fraction(120000, 1001)),
    ],
)
def test_a_rounded_spelling_in_a_profile_stands_for_the_exact_fraction(spelt: str, exact: Fraction) -> None:
    """Source: SMPTE practice (from memory): 23.976024, 29.970030 and 59.940060 frames per second."""
    assert judged(exact, spelt) == PASSED
    whole = Fraction(round(exact))
    assert [each.found for each in judged(whole, spelt)] == [f"{whole} frames per second"]
