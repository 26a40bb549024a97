"""H.265 levels against ITU-T H.265 Annex A: the tables themselves and worked examples."""

from __future__ import annotations

from fractions import Fraction

import pytest

from mediacheck.media.level_tables import H265_LEVELS
from mediacheck.media.levels import LevelNeed, h265_level_needed, max_dpb_frames


def needed(
    width: int,
    height: int,
    frame_rate: int,
    *,
    bit_rate: int | None = None,
    dpb_frames: int | None = None,
    high_tier: bool = False,
) -> LevelNeed:
    """The need of a stream that is given whole."""
    need = h265_level_needed(
        width=width,
        height=height,
        frame_rate=Fraction(frame_rate),
        dpb_frames=dpb_frames,
        bit_rate=bit_rate,
        high_tier=high_tier,
    )
    assert need is not None
    return need


def test_the_tables_are_the_printed_ones() -> None:
    """Source: ITU-T H.265 Tables A.8 and A.9 (level, MaxLumaPs, MaxLumaSr, MaxBR Main tier, High tier).

    Read in two independent transcriptions; early editions number the tables A.6 and A.7.
    """
    printed = """
        1   36864    552960     128    None
        2   122880   3686400    1500   None
        2.1 245760   7372800    3000   None
        3   552960   16588800   6000   None
        3.1 983040   33177600   10000  None
        4   2228224  66846720   12000  30000
        4.1 2228224  133693440  20000  50000
        5   8912896  267386880  25000  100000
        5.1 8912896  534773760  40000  160000
        5.2 8912896  1069547520 60000  240000
        6   35651584 1069547520 60000  240000
        6.1 35651584 2139095040 120000 480000
        6.2 35651584 4278190080 240000 800000
    """
    rows = [line.split() for line in printed.strip().splitlines()]
    assert [(row.name, *map(str, row[1:])) for row in H265_LEVELS] == [tuple(row) for row in rows]


@pytest.mark.parametrize(
    ("width", "height", "frame_rate", "level", "frames"),
    [
        (640, 360, 30, "2.1", 6),
        (1280, 720, 30, "3.1", 6),
        (1280, 720, 60, "4", 12),
        (1920, 540, 60, "4", 12),
        (1920, 1080, 30, "4", 6),
        (1080, 1920, 30, "4", 6),
        (1920, 1080, 60, "4.1", 6),
        (3840, 2160, 30, "5", 6),
        (3840, 2160, 60, "5.1", 6),
        (7680, 4320, 30, "6", 6),
        (7680, 4320, 60, "6.1", 6),
    ],
)
def test_worked_examples_of_size_and_rate(
    width: int, height: int, frame_rate: int, level: str, frames: int
) -> None:
    """Source: worked by hand from ITU-T H.265 Tables A.8 and A.9; frames are MaxDpbSize of clause A.4.2."""
    assert needed(width, height, frame_rate).level == level
    assert max_dpb_frames("H.265", level, width, height) == frames
    assert needed(width, height, frame_rate, dpb_frames=frames).level == level
    assert needed(width, height, frame_rate, dpb_frames=frames + 1).level != level


@pytest.mark.parametrize(
    ("width", "height", "frames"),
    [(1024, 544, 16), (1024, 552, 12), (1088, 1024, 12), (1096, 1024, 8), (1632, 1024, 8), (1640, 1024, 6)],
)
def test_picture_memory_of_level_4_steps_at_a_quarter_a_half_and_three_quarters(
    width: int, height: int, frames: int
) -> None:
    """Source: ITU-T H.265 clause A.4.2, MaxDpbSize with maxDpbPicBuf = 6; MaxLumaPs is 2,228,224."""
    assert max_dpb_frames("H.265", "4", width, height) == frames


@pytest.mark.parametrize(
    ("kbit_s", "high_tier", "level"),
    [
        (12_000, False, "4"),
        (12_001, False, "4.1"),
        (30_000, True, "4"),
        (30_001, True, "4.1"),
        (25_000, False, "5"),
        (25_001, False, "5.1"),
        (60_001, False, "6.1"),
    ],
)
def test_the_edges_of_the_bit_rate_at_1080p30(kbit_s: int, high_tier: bool, level: str) -> None:
    """Source: ITU-T H.265 Table A.9, MaxBR in units of 1000 bit/s for Main and Main 10."""
    assert needed(1920, 1080, 30, bit_rate=kbit_s * 1000, high_tier=high_tier).level == level


def test_why_1080p60_needs_4_1() -> None:
    """Source: ITU-T H.265 Table A.9, MaxLumaSr: 1920 x 1080 x 60."""
    assert needed(1920, 1080, 60) == LevelNeed(
        "4.1", "124,416,000 luma samples a second; level 4 allows 66,846,720"
    )


def test_sizes_are_coded_in_blocks_of_eight() -> None:
    """Source: ITU-T H.265 clause 7.4.3.2.1: a size is a multiple of the smallest coding block, 8 or more."""
    assert needed(1920, 540, 64) == needed(1920, 544, 64)
    assert needed(1920, 540, 65) == LevelNeed(
        "4.1", "67,891,200 luma samples a second; level 4 allows 66,846,720"
    )
