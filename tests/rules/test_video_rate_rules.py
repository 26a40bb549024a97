"""Rules about rhythm and data rate of the picture: each finds its defect and leaves the others silent."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from mediacheck.profile import Profile
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, One
from tests.rules.judging import Defect, answer, failing, findings, holds, reads_well, reason
from tests.rules.make import bare_profile, one, packet_facts, profile, video_facts, video_file


def paced(limits: Profile | None = None, **changes: Any) -> One:
    """A conforming clip whose picture differs in these facts."""
    return one(video_file(video=video_facts(**changes)), limits)


def peak(bit_s: int | None, read_mbit_s: float | None, seconds: float = 1.0) -> Profile:
    """A profile that restricts nothing but the player's buffer."""
    player: dict[str, Any] = {"buffer_seconds": seconds}
    if read_mbit_s is not None:
        player["read_mbit_s"] = read_mbit_s
    return bare_profile(player=player, video={} if bit_s is None else {"bit_rate_peak_max": bit_s})


CALM = 20_000
BUSY = packet_facts(sizes_bytes=[CALM] * 90 + [200_000] * 60 + [CALM] * 150)
"""Three seconds at 4.8 Mbit/s, two at 48 Mbit/s, and calm again; frame n stands at n/30 s."""

DEFECTS = {
    "frame rate": Defect(
        "video-frame-rate",
        paced(frame_rate=Fraction(50)),
        "50 frames per second",
        "24, 25, 29.97 or 30 frames per second",
        "runs at 50 frames per second",
    ),
    "a rate so close that only its fraction tells": Defect(
        "video-frame-rate",
        paced(frame_rate=Fraction(24000, 1001)),
        "23.976 frames per second",
        "24, 25, 29.97 or 30 frames per second",
        "movement judders",
    ),
    "variable frame rate": Defect(
        "video-frame-rate-variable",
        paced(
            frame_rate_mode="variable",
            frame_rate=Fraction(2971, 100),
            packets=packet_facts(shortest_interval_s=0.0166, longest_interval_s=0.25),
        ),
        "variable (16.6 to 250 ms between frames)",
        "constant",
        "sound drifts away",
    ),
    "variable frame rate, packets unlisted": Defect(
        "video-frame-rate-variable",
        paced(bare_profile(), frame_rate_mode="variable", frame_rate=None, packets=None),
        "variable",
        "constant",
        "uneven times",
    ),
    "bit rate": Defect(
        "video-bit-rate",
        paced(bit_rate=20_000_001),
        "20,000,001 bit/s",
        "up to 20,000,000 bit/s",
        "stutters or skips this file",
    ),
    "bit rate well over": Defect(
        "video-bit-rate", paced(bit_rate=35_250_000), "35.25 Mbit/s", "up to 20 Mbit/s", "takes 35.25 Mbit/s"
    ),
    "peak": Defect(
        "video-bit-rate-peak",
        paced(packets=BUSY),
        "runs dry at 4.0 s, 0.37 Mbit short",
        "up to 25 Mbit/s over 1 s",
        "At 4.0 s the picture needs 0.37 Mbit more than the player has read ahead: it stutters there",
    ),
    "peak over what the player reads": Defect(
        "video-bit-rate-peak",
        paced(peak(100_000_000, 10, 0.5), packets=BUSY),
        "runs dry at 3.1 s, 0.40 Mbit short",
        "up to 10 Mbit/s over 0.5 s",
        "At 3.1 s",
    ),
    "one frame larger than the buffer": Defect(
        "video-bit-rate-peak",
        paced(peak(1_000_000, None), packets=packet_facts(sizes_bytes=[125_001])),
        "runs dry at 0.0 s, 0.01 Mbit short",
        "up to 1 Mbit/s over 1 s",
        "At 0.0 s",
    ),
    "keyframes far apart": Defect(
        "video-gop",
        paced(packets=packet_facts(keyframe_every=250)),
        "8.33 s between keyframes",
        "up to 2 s",
        "up to 8.33 s apart and the player wants one every 2 s",
    ),
    "no keyframe at the start": Defect(
        "video-gop",
        paced(bare_profile(), packets=packet_facts(starts_with_keyframe=False)),
        "no keyframe at the start",
        "a keyframe at the start",
        "the screen first shows grey or torn pictures",
    ),
}


@pytest.mark.parametrize("defect", DEFECTS.values(), ids=DEFECTS.keys())
def test_a_defect_is_found_by_its_own_rule_and_fails_no_other(defect: Defect) -> None:
    holds(defect)


@pytest.mark.parametrize(
    "rate",
    [24, 25, 30, Fraction(30000, 1001), Fraction(2997, 100), Fraction(30003, 1000), Fraction(24996, 1000)],
)
def test_a_rate_that_the_profile_lists_passes_though_a_container_rounds_it(rate: Fraction) -> None:
    assert answer("video-frame-rate", paced(frame_rate=Fraction(rate))) == PASSED


@pytest.mark.parametrize(
    ("listed", "found"), [(30, Fraction(30000, 1001)), ("29.97", Fraction(30)), (24, Fraction(24000, 1001))]
)
def test_a_rate_and_its_1000_1001_neighbour_are_never_mixed_up(listed: object, found: Fraction) -> None:
    limits = profile(video={"frame_rates": [listed]})
    assert failing(paced(limits, frame_rate=found)) == {"video-frame-rate"}


def test_a_variable_rate_is_not_judged_as_a_number_too() -> None:
    asked = paced(frame_rate_mode="variable", frame_rate=Fraction(17))
    assert answer("video-frame-rate", asked) == NOT_APPLICABLE


@pytest.mark.parametrize("count", [1, 2])
def test_one_or_two_frames_have_no_rhythm(count: int) -> None:
    asked = paced(frame_rate_mode=None, packets=packet_facts(count))
    assert answer("video-frame-rate-variable", asked) == NOT_APPLICABLE


@pytest.mark.parametrize("rule", ["video-frame-rate", "video-bit-rate", "video-bit-rate-peak"])
def test_a_profile_that_leaves_a_limit_out_does_not_restrict_it(rule: str) -> None:
    odd = paced(bare_profile(), frame_rate=Fraction(7), bit_rate=10**9, packets=BUSY)
    assert answer(rule, odd) == NOT_APPLICABLE


def test_exactly_the_greatest_bit_rate_passes() -> None:
    assert answer("video-bit-rate", paced(bit_rate=20_000_000)) == PASSED


@pytest.mark.parametrize(
    "limits",
    [
        peak(48_000_000, None),
        peak(None, 48),
        peak(48_000_000, 80),
        peak(60_000_000, 48),
        peak(25_000_000, None, 2),
    ],
    ids=["peak alone", "read alone", "peak lower", "read lower", "a longer buffer"],
)
def test_a_busy_place_that_the_buffer_bridges_passes(limits: Profile) -> None:
    assert answer("video-bit-rate-peak", paced(limits, packets=BUSY)) == PASSED


@pytest.mark.parametrize("every", [1, 30, 60, 61])
def test_keyframes_up_to_one_frame_later_than_allowed_pass(every: int) -> None:
    assert answer("video-gop", paced(packets=packet_facts(keyframe_every=every))) == PASSED


def test_without_a_greatest_distance_only_the_start_is_looked_at() -> None:
    asked = paced(bare_profile(), packets=packet_facts(keyframe_every=300))
    assert answer("video-gop", asked) == PASSED


def test_a_late_start_and_a_long_stretch_are_two_findings() -> None:
    seen = findings(paced(packets=packet_facts(keyframe_every=300, starts_with_keyframe=False)))
    assert {name: [each.found for each in those] for name, those in seen.items()} == {
        "video-gop": ["no keyframe at the start", "10 s between keyframes"]
    }
    for each in seen["video-gop"]:
        reads_well(each)


@pytest.mark.parametrize(
    ("rule", "changes", "words"),
    [
        ("video-frame-rate", {"frame_rate": None}, "the file does not say its frame rate"),
        (
            "video-frame-rate-variable",
            {"frame_rate_mode": None},
            "the file does not say whether its frame rate is constant",
        ),
        ("video-bit-rate", {"bit_rate": None}, "the file does not say its bit rate"),
        ("video-bit-rate-peak", {"packets": None}, "the packets of the picture could not be listed"),
        (
            "video-bit-rate-peak",
            {"packets": packet_facts(decode_times_s=b"", sizes_bytes=b"")},
            "the packets of the picture carry no usable times",
        ),
        ("video-gop", {"packets": None}, "the packets of the picture could not be listed"),
    ],
)
def test_a_fact_that_the_file_leaves_out_is_not_passed(
    rule: str, changes: dict[str, Any], words: str
) -> None:
    assert reason(rule, paced(**changes)) == (words, False)
