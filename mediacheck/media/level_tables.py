"""The level tables of ITU-T H.264 and H.265, figure by figure as printed.

It must not reckon: what follows from the figures stands in `levels`.
"""

from __future__ import annotations

from typing import NamedTuple


class H264Level(NamedTuple):
    """One row of ITU-T H.264 Table A-1; `bit_rate` and `buffer` in units of the factor in H264_FACTORS."""

    name: str
    macroblocks_per_s: int
    """MaxMBPS"""
    macroblocks: int
    """MaxFS"""
    dpb_macroblocks: int
    """MaxDpbMbs"""
    bit_rate: int
    """MaxBR"""
    buffer: int
    """MaxCPB"""


class H265Level(NamedTuple):
    """One row of ITU-T H.265 Tables A.8 and A.9; bit rates and buffers in units of 1000 bit/s and bit."""

    name: str
    samples: int
    """MaxLumaPs"""
    samples_per_s: int
    """MaxLumaSr"""
    main_bit_rate: int
    """MaxBR, Main tier"""
    high_bit_rate: int | None
    """MaxBR, High tier; None where the level has no High tier."""


H264_LEVELS = (
    H264Level("1", 1_485, 99, 396, 64, 175),
    H264Level("1b", 1_485, 99, 396, 128, 350),
    H264Level("1.1", 3_000, 396, 900, 192, 500),
    H264Level("1.2", 6_000, 396, 2_376, 384, 1_000),
    H264Level("1.3", 11_880, 396, 2_376, 768, 2_000),
    H264Level("2", 11_880, 396, 2_376, 2_000, 2_000),
    H264Level("2.1", 19_800, 792, 4_752, 4_000, 4_000),
    H264Level("2.2", 20_250, 1_620, 8_100, 4_000, 4_000),
    H264Level("3", 40_500, 1_620, 8_100, 10_000, 10_000),
    H264Level("3.1", 108_000, 3_600, 18_000, 14_000, 14_000),
    H264Level("3.2", 216_000, 5_120, 20_480, 20_000, 20_000),
    H264Level("4", 245_760, 8_192, 32_768, 20_000, 25_000),
    H264Level("4.1", 245_760, 8_192, 32_768, 50_000, 62_500),
    H264Level("4.2", 522_240, 8_704, 34_816, 50_000, 62_500),
    H264Level("5", 589_824, 22_080, 110_400, 135_000, 135_000),
    H264Level("5.1", 983_040, 36_864, 184_320, 240_000, 240_000),
    H264Level("5.2", 2_073_600, 36_864, 184_320, 240_000, 240_000),
    H264Level("6", 4_177_920, 139_264, 696_320, 240_000, 240_000),
    H264Level("6.1", 8_355_840, 139_264, 696_320, 480_000, 480_000),
    H264Level("6.2", 16_711_680, 139_264, 696_320, 800_000, 800_000),
)
"""ITU-T H.264 clause A.3.1, Table A-1, lowest first."""

H264_FIELD_LEVELS = ("2.1", "2.2", "3", "3.1", "3.2", "4", "4.1")
"""ITU-T H.264 Table A-4: the levels in which a picture may be coded in fields (interlaced)."""

H264_FRAMES_PER_S = 172
"""ITU-T H.264 clause A.3.1: no more pictures a second than this, below level 6."""

H264_FRAMES_PER_S_FROM_6 = 300

H264_FACTORS = {
    "Baseline": 1000,
    "Constrained Baseline": 1000,
    "Main": 1000,
    "Extended": 1000,
    "High": 1250,
    "Progressive High": 1250,
    "Constrained High": 1250,
    "High 10": 3000,
    "High 10 Intra": 3000,
    "Progressive High 10": 3000,
}
"""ITU-T H.264 Table A-2: bits for each unit of MaxBR and MaxCPB (VCL)."""

H264_WIDEST_FACTOR = 4000
"""ITU-T H.264 Table A-2: the profiles for 4:2:2 and 4:4:4."""

H265_LEVELS = (
    H265Level("1", 36_864, 552_960, 128, None),
    H265Level("2", 122_880, 3_686_400, 1_500, None),
    H265Level("2.1", 245_760, 7_372_800, 3_000, None),
    H265Level("3", 552_960, 16_588_800, 6_000, None),
    H265Level("3.1", 983_040, 33_177_600, 10_000, None),
    H265Level("4", 2_228_224, 66_846_720, 12_000, 30_000),
    H265Level("4.1", 2_228_224, 133_693_440, 20_000, 50_000),
    H265Level("5", 8_912_896, 267_386_880, 25_000, 100_000),
    H265Level("5.1", 8_912_896, 534_773_760, 40_000, 160_000),
    H265Level("5.2", 8_912_896, 1_069_547_520, 60_000, 240_000),
    H265Level("6", 35_651_584, 1_069_547_520, 60_000, 240_000),
    H265Level("6.1", 35_651_584, 2_139_095_040, 120_000, 480_000),
    H265Level("6.2", 35_651_584, 4_278_190_080, 240_000, 800_000),
)
"""ITU-T H.265 Tables A.8 and A.9 (A.6 and A.7 in early editions), lowest first."""

H265_FRAMES_PER_S = 300
"""ITU-T H.265 clause A.4.2: no more pictures a second than this."""

H265_LEVEL_1_BUFFER = 350
"""MaxCPB of level 1; in every other level it equals MaxBR."""

MPEG2_LEVELS = ("Low", "Main", "High-1440", "High")
"""ITU-T H.262 clause 8.3, lowest first."""
