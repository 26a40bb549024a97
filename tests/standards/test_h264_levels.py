"""H.264 levels against ITU-T H.264 Annex A: the tables themselves and worked examples."""

from __future__ import annotations

from fractions import Fraction
from math import isqrt

import pytest

from mediacheck.media.level_tables import H264_FACTORS, H264_LEVELS, H264_WIDEST_FACTOR
from mediacheck.media.levels import NO_LEVEL, LevelNeed, h264_level_needed, max_dpb_frames

NTSC_30 = Fraction(30000, 1001)


def needed(
    width: int,
    height: int,
    frame_rate: Fraction | int,
    *,
    profile: str = "High",
    bit_rate: int | None = None,
    reference_frames: int | None = None,
    interlaced: bool = False,
) -> LevelNeed:
    """The need of a stream that is given whole."""
    need = h264_level_needed(
        profile=profile,
        width=width,
        height=height,
        frame_rate=Fraction(frame_rate),
        reference_frames=reference_frames,
        bit_rate=bit_rate,
        interlaced=interlaced,
    )
    assert need is not None
    return need


def test_the_table_is_the_printed_one() -> None:
    """Source: ITU-T H.264 clause A.3.1, Table A-1 (level, MaxMBPS, MaxFS, MaxDpbMbs, MaxBR, MaxCPB)."""
    printed = """
        1     1485     99     396    64    175
        1b    1485     99     396    128   350
        1.1   3000     396    900    192   500
        1.2   6000     396    2376   384   1000
        1.3   11880    396    2376   768   2000
        2     11880    396    2376   2000  2000
        2.1   19800    792    4752   4000  4000
        2.2   20250    1620   8100   4000  4000
        3     40500    1620   8100   10000 10000
        3.1   108000   3600   18000  14000 14000
        3.2   216000   5120   20480  20000 20000
        4     245760   8192   32768  20000 25000
        4.1   245760   8192   32768  50000 62500
        4.2   522240   8704   34816  50000 62500
        5     589824   22080  110400 135000 135000
        5.1   983040   36864  184320 240000 240000
        5.2   2073600  36864  184320 240000 240000
        6     4177920  139264 696320 240000 240000
        6.1   8355840  139264 696320 480000 480000
        6.2   16711680 139264 696320 800000 800000
    """
    rows = [line.split() for line in printed.strip().splitlines()]
    assert [(row.name, *map(str, row[1:])) for row in H264_LEVELS] == [tuple(row) for row in rows]


@pytest.mark.parametrize(
    ("level", "longest_px"),
    [("1", 448), ("2.1", 1264), ("3", 1808), ("3.1", 2704), ("4.1", 4096), ("4.2", 4208), ("5.1", 8688)],
)
def test_the_longest_side_of_a_level(level: str, longest_px: int) -> None:
    """Source: ITU-T H.264 clause A.3.1 f and g: a side is at most Sqrt(MaxFS * 8) macroblocks."""
    row = next(row for row in H264_LEVELS if row.name == level)
    assert isqrt(8 * row.macroblocks) * 16 == longest_px
    order = [row.name for row in H264_LEVELS]
    assert order.index(needed(longest_px, 16, 1).level) <= order.index(level)
    assert order.index(needed(longest_px + 1, 16, 1).level) > order.index(level)


def test_the_bit_rate_factors_are_the_printed_ones() -> None:
    """Source: ITU-T H.264 Table A-2, cpbBrVclFactor by profile."""
    printed = {"Baseline": 1000, "Main": 1000, "Extended": 1000, "High": 1250, "High 10": 3000}
    assert {name: H264_FACTORS[name] for name in printed} == printed
    assert {"High 4:2:2", "High 4:4:4 Predictive"}.isdisjoint(H264_FACTORS)
    assert H264_WIDEST_FACTOR == 4000


@pytest.mark.parametrize(
    ("width", "height", "frame_rate", "level", "frames"),
    [
        (640, 360, 30, "3", 8),
        (720, 480, NTSC_30, "3", 6),
        (720, 576, 25, "3", 5),
        (1024, 600, 30, "3.1", 7),
        (1280, 720, 30, "3.1", 5),
        (1280, 720, 60, "3.2", 5),
        (1280, 800, 30, "3.2", 5),
        (1366, 768, 30, "3.2", 4),
        (1366, 768, 60, "4.2", 8),
        (1920, 540, 30, "3.2", 5),
        (1920, 540, 60, "4", 8),
        (1920, 1080, 30, "4", 4),
        (1080, 1920, 30, "4", 4),
        (1920, 1080, 50, "4.2", 4),
        (1920, 1080, 60, "4.2", 4),
        (1920, 1200, 30, "5", 12),
        (2560, 1440, 30, "5", 7),
        (2560, 1440, 60, "5.1", 12),
        (3840, 2160, 30, "5.1", 5),
        (2160, 3840, 30, "5.1", 5),
        (3840, 2160, 50, "5.2", 5),
        (3840, 2160, 60, "5.2", 5),
        (7680, 4320, 30, "6", 5),
    ],
)
def test_worked_examples_of_size_and_rate(
    width: int, height: int, frame_rate: Fraction | int, level: str, frames: int
) -> None:
    """Source: worked by hand from ITU-T H.264 Table A-1; frames are MaxDpbFrames of clause A.3.1 h."""
    assert needed(width, height, frame_rate).level == level
    assert max_dpb_frames("H.264", level, width, height) == frames
    assert needed(width, height, frame_rate, reference_frames=frames).level == level
    assert needed(width, height, frame_rate, reference_frames=frames + 1).level != level


@pytest.mark.parametrize(
    ("width", "height", "exactly", "level", "above"),
    [(720, 576, 25, "3", "3.1"), (1280, 720, 30, "3.1", "3.2"), (1280, 720, 60, "3.2", "4")],
)
def test_sizes_that_use_a_level_to_the_last_macroblock(
    width: int, height: int, exactly: int, level: str, above: str
) -> None:
    """Source: ITU-T H.264 Table A-1: these products equal MaxMBPS, and 1/1000 frame more is over it."""
    assert needed(width, height, exactly).level == level
    assert needed(width, height, exactly + Fraction(1, 1000)).level == above


def test_why_1080p60_needs_4_2() -> None:
    """Source: ITU-T H.264 Table A-1, MaxMBPS: 120 x 68 macroblocks (1080 lines are coded as 1088) x 60."""
    assert needed(1920, 1080, 60) == LevelNeed(
        "4.2", "489,600 macroblocks a second; level 4.1 allows 245,760"
    )
    assert needed(1920, 1088, 60) == needed(1920, 1080, 60)


@pytest.mark.parametrize(
    ("profile", "kbit_s", "level"),
    [
        ("High", 25_000, "4"),
        ("High", 25_001, "4.1"),
        ("High", 62_500, "4.1"),
        ("High", 62_501, "5"),
        ("Main", 20_000, "4"),
        ("Main", 20_001, "4.1"),
        ("Constrained Baseline", 20_001, "4.1"),
        ("High 10", 60_000, "4"),
        ("High 4:2:2", 80_000, "4"),
        ("High 4:2:2", 80_001, "4.1"),
    ],
)
def test_the_edges_of_the_bit_rate_at_1080p30(profile: str, kbit_s: int, level: str) -> None:
    """Source: ITU-T H.264 Table A-1, MaxBR, times the factor of Table A-2."""
    assert needed(1920, 1080, 30, profile=profile, bit_rate=kbit_s * 1000).level == level


def test_one_bit_over_the_limit_is_over_it() -> None:
    """Source: ITU-T H.264 Table A-1: 20,000 x 1250 bit/s."""
    assert needed(1920, 1080, 30, bit_rate=25_000_001) == LevelNeed(
        "4.1", "25,001 kbit/s on average; level 4 allows 25,000"
    )


@pytest.mark.parametrize(("level", "frames"), [("4", 4), ("4.1", 4), ("4.2", 4), ("5", 13), ("5.1", 16)])
def test_picture_memory_at_1080p(level: str, frames: int) -> None:
    """Source: ITU-T H.264 clause A.3.1 h: Min(MaxDpbMbs / (120 x 68), 16) frames."""
    assert max_dpb_frames("H.264", level, 1920, 1080) == frames


@pytest.mark.parametrize(
    ("width", "height", "frame_rate", "level"),
    [
        (176, 144, 15, "2.1"),
        (720, 576, 25, "3"),
        (1920, 1080, 25, "4"),
        (1920, 1080, 60, NO_LEVEL),
        (3840, 2160, 30, NO_LEVEL),
    ],
)
def test_interlaced_coding_has_levels_2_1_to_4_1_only(
    width: int, height: int, frame_rate: int, level: str
) -> None:
    """Source: ITU-T H.264 Table A-4, frame_mbs_only_flag."""
    assert needed(width, height, frame_rate, interlaced=True).level == level


@pytest.mark.parametrize(("frame_rate", "level"), [(172, "1.2"), (173, "6"), (300, "6"), (301, NO_LEVEL)])
def test_no_level_allows_more_than_172_frames_a_second_or_300_from_level_6(
    frame_rate: int, level: str
) -> None:
    """Source: ITU-T H.264 clause A.3.1 a: fR is 1/172 s, from level 6 1/300 s."""
    assert needed(96, 80, frame_rate).level == level
