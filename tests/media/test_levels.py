"""The arithmetic on the level tables: each limit alone decides, reasons name it, and ranks compare.

The figures themselves are held against their standards in tests/standards.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.media.level_tables import H264_LEVELS, H265_LEVELS, H264Level
from mediacheck.media.levels import (
    NO_LEVEL,
    LevelNeed,
    h264_level_needed,
    h265_level_needed,
    has_levels,
    level_order,
    max_dpb_frames,
)

sizes = st.integers(1, 9_000)
rates = st.none() | st.fractions(Fraction(1), Fraction(320), max_denominator=1001)
bit_rates = st.none() | st.integers(1, 2_000_000_000)
held = st.none() | st.integers(0, 17)


def h264(**asked: Any) -> LevelNeed | None:
    """A small, slow Main picture but for what is given."""
    calm: dict[str, Any] = {"frame_rate": None, "reference_frames": None, "bit_rate": None}
    return h264_level_needed(**{"profile": "Main", "width": 176, "height": 144, **calm, **asked})


def h265(**asked: Any) -> LevelNeed | None:
    """A small, slow Main picture but for what is given."""
    calm: dict[str, Any] = {"frame_rate": None, "dpb_frames": None, "bit_rate": None, "high_tier": False}
    return h265_level_needed(**{"width": 176, "height": 144, **calm, **asked})


@pytest.mark.parametrize(
    ("asked", "level", "reason"),
    [
        ({}, "1", "it keeps every limit of the lowest level"),
        (
            {"width": 1920, "height": 1080},
            "4",
            "8,160 macroblocks in the picture; level 3.2 allows 5,120",
        ),
        (
            {"width": 1920, "height": 1080, "frame_rate": Fraction(60)},
            "4.2",
            "489,600 macroblocks a second; level 4.1 allows 245,760",
        ),
        (
            {"width": 2720, "height": 16},
            "3.2",
            "170 macroblocks along the longer side; level 3.1 allows 169",
        ),
        ({"frame_rate": Fraction(173)}, "6", "173 frames a second; level 5.2 allows 172"),
        (
            {"width": 1920, "height": 1080, "reference_frames": 5},
            "5",
            "5 frames held for reference; level 4.2 allows 4 of this size",
        ),
        ({"bit_rate": 64_001}, "1b", "65 kbit/s on average; level 1 allows 64"),
        (
            {"frame_rate": Fraction(300), "bit_rate": 800_000_001},
            NO_LEVEL,
            "800,001 kbit/s on average; level 6.2 allows 800,000",
        ),
        ({"interlaced": True}, "2.1", "a picture coded in fields; level 2.1 is the lowest that allows it"),
        (
            {"width": 1920, "height": 1080, "interlaced": True, "frame_rate": Fraction(60)},
            NO_LEVEL,
            "489,600 macroblocks a second; level 4.1 allows 245,760",
        ),
    ],
)
def test_the_h264_limit_that_decides_is_named(asked: dict[str, Any], level: str, reason: str) -> None:
    assert h264(**asked) == LevelNeed(level, reason)


@pytest.mark.parametrize(
    ("asked", "level", "reason"),
    [
        ({}, "1", "it keeps every limit of the lowest level"),
        (
            {"width": 1920, "height": 1080, "frame_rate": Fraction(60)},
            "4.1",
            "124,416,000 luma samples a second; level 4 allows 66,846,720",
        ),
        (
            {"width": 4232, "height": 8},
            "5",
            "4,232 luma samples along the longer side; level 4.1 allows 4,222",
        ),
        ({"frame_rate": Fraction(301)}, NO_LEVEL, "301 frames a second; level 6.2 allows 300"),
        (
            {"width": 1920, "height": 1080, "dpb_frames": 7},
            "5",
            "7 frames held for reference; level 4.1 allows 6 of this size",
        ),
        ({"bit_rate": 12_000_001}, "4.1", "12,001 kbit/s on average; level 4 allows 12,000"),
        (
            {"bit_rate": 30_000_001, "high_tier": True},
            "4.1",
            "30,001 kbit/s on average; level 4 allows 30,000",
        ),
        ({"high_tier": True}, "4", "High tier; level 4 is the lowest that has it"),
    ],
)
def test_the_h265_limit_that_decides_is_named(asked: dict[str, Any], level: str, reason: str) -> None:
    assert h265(**asked) == LevelNeed(level, reason)


@pytest.mark.parametrize("size", [{"width": 0}, {"height": 0}, {"width": -1}])
def test_without_a_picture_size_no_level_is_named(size: dict[str, int]) -> None:
    assert h264(**size) is None
    assert h265(**size) is None


def test_a_field_picture_is_a_whole_number_of_macroblock_pairs_high() -> None:
    """1280x720 has 45 rows; in fields it is coded as 46, and 30 frames a second are then too many for 3.1."""
    hd = {"width": 1280, "height": 720, "frame_rate": Fraction(30)}
    assert h264(**hd) == LevelNeed("3.1", "3,600 macroblocks in the picture; level 3 allows 1,620")
    assert h264(**hd, interlaced=True) == LevelNeed(
        "3.2", "3,680 macroblocks in the picture; level 3.1 allows 3,600"
    )


def test_a_short_clip_may_average_more_than_its_level_allows_for_long() -> None:
    """Level 1 in Main: 64,000 bit/s and a buffer of 175,000 bits, so 2 s may carry 303,000 bits."""
    assert h264(bit_rate=151_500, duration=Fraction(2)) == LevelNeed(
        "1", "it keeps every limit of the lowest level"
    )
    assert h264(bit_rate=151_501, duration=Fraction(2)) == LevelNeed(
        "1b", "152 kbit/s on average; level 1 allows 151"
    )
    assert h265(bit_rate=303_000, duration=Fraction(2)) == LevelNeed(
        "1", "it keeps every limit of the lowest level"
    )
    assert h265(bit_rate=303_001, duration=Fraction(2)) == LevelNeed(
        "2", "304 kbit/s on average; level 1 allows 303"
    )


def test_a_profile_that_the_table_does_not_know_is_given_the_widest_factor() -> None:
    assert h264(profile="Unheard Of", bit_rate=256_000) == h264(profile="Main", bit_rate=64_000)


def table_ranks() -> dict[str, list[str]]:
    """Levels of each codec, lowest first."""
    return {
        "H.264": [row.name for row in H264_LEVELS],
        "H.265": [row.name for row in H265_LEVELS],
        "MPEG-2": ["Low", "Main", "High-1440", "High"],
        "MPEG-4": ["0", "0b", "1", "2", "3", "3b", "4", "5", "6"],
        "VP9": ["1", "1.1", "2", "2.1", "3", "4", "4.1", "5", "6.2"],
        "AV1": ["2", "2.1", "3", "4", "5.1", "6", "7.3"],
        "VC-1": ["0", "1", "4"],
    }


@pytest.mark.parametrize(("codec", "rising"), table_ranks().items(), ids=table_ranks().keys())
def test_ranks_rise_with_the_levels_of_a_codec(codec: str, rising: list[str]) -> None:
    ranks = [level_order(codec, level) for level in (*rising, NO_LEVEL)]
    assert None not in ranks
    assert all(low is not None and high is not None and low < high for low, high in pairwise(ranks))
    assert has_levels(codec)


@pytest.mark.parametrize(
    ("codec", "level"),
    [
        ("H.264", "4.5"),
        ("H.264", "Main"),
        ("H.265", "1b"),
        ("MPEG-2", "4.1"),
        ("VP9", "Main"),
        ("MJPEG", "1"),
    ],
)
def test_what_is_not_a_level_of_the_codec_has_no_rank(codec: str, level: str) -> None:
    assert level_order(codec, level) is None


def test_an_idle_zero_does_not_change_a_level() -> None:
    assert level_order("H.264", "4.0") == level_order("H.264", "4")


@pytest.mark.parametrize("codec", ["MJPEG", "ProRes", "MPEG-1", "DNXHD"])
def test_codecs_without_levels_are_known_as_such(codec: str) -> None:
    assert not has_levels(codec)


@pytest.mark.parametrize(("codec", "level"), [("H.264", "4.5"), ("H.265", "1b"), ("VP9", "4")])
def test_the_picture_memory_of_an_unknown_level_is_refused(codec: str, level: str) -> None:
    with pytest.raises(ValueError, match="level"):
        max_dpb_frames(codec, level, 1920, 1080)


def rank(codec: str, need: LevelNeed | None) -> int:
    """The rank of a needed level, which must have one."""
    assert need is not None
    found = level_order(codec, need.level)
    assert found is not None
    return found


@given(sizes, sizes, rates, held, bit_rates)
def test_asking_for_more_never_lowers_the_h264_level(
    width: int, height: int, rate: Fraction | None, frames: int | None, bit_rate: int | None
) -> None:
    full = h264(width=width, height=height, frame_rate=rate, reference_frames=frames, bit_rate=bit_rate)
    for less in (
        h264(width=width, height=height),
        h264(width=width, height=height, frame_rate=rate),
        h264(width=width, height=height, reference_frames=frames),
        h264(width=width, height=height, bit_rate=bit_rate),
        h264(width=height, height=width, frame_rate=rate, reference_frames=frames),
    ):
        assert rank("H.264", less) <= rank("H.264", full)


@given(sizes, sizes, rates, held)
def test_a_picture_and_the_same_turned_need_the_same_level(
    width: int, height: int, rate: Fraction | None, frames: int | None
) -> None:
    lying, standing = {"width": width, "height": height}, {"width": height, "height": width}
    asked: dict[str, Any] = {"frame_rate": rate}
    assert h264(**lying, **asked, reference_frames=frames) == h264(
        **standing, **asked, reference_frames=frames
    )
    assert h265(**lying, **asked, dpb_frames=frames) == h265(**standing, **asked, dpb_frames=frames)


@given(st.sampled_from(H264_LEVELS), sizes, sizes)
def test_a_level_takes_as_many_frames_as_it_holds_and_no_more(
    row: H264Level, width: int, height: int
) -> None:
    most = max_dpb_frames("H.264", row.name, width, height)
    level = rank("H.264", LevelNeed(row.name, ""))
    assert 0 <= most <= 16
    if rank("H.264", h264(width=width, height=height)) <= level:
        assert rank("H.264", h264(width=width, height=height, reference_frames=most)) <= level
    one_more = h264(width=width, height=height, reference_frames=most + 1)
    assert rank("H.264", one_more) != level
