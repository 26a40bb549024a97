"""What we read from H.265 parameter sets is what was written, and what ffmpeg reads."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.media.h265 import H265Sequence, sequence_of
from mediacheck.names import Scan
from tests.conftest import ClipFactory
from tests.media.bit_writer import H265Set
from tests.media.recipe import Variant
from tests.media.test_h264 import extradata_of, traced

SETS = st.builds(
    H265Set,
    level_idc=st.sampled_from((30, 60, 63, 90, 93, 120, 123, 150, 153, 156, 180, 183, 186)),
    high_tier=st.booleans(),
    progressive=st.booleans(),
    interlaced=st.booleans(),
    held=st.lists(st.integers(1, 16), min_size=1, max_size=7).map(tuple),
    every_layer=st.booleans(),
    layer_profiles=st.booleans(),
    layer_levels=st.booleans(),
    chroma=st.sampled_from((0, 1, 2, 3)),
    bit_depth=st.integers(8, 16),
    window=st.none() | st.just((0, 0, 0, 4)),
)
SCANS: dict[tuple[bool, bool], Scan] = {(True, False): "progressive", (False, True): "interlaced"}


def configuration(*units: bytes) -> bytes:
    """An hvcC record with one array per unit (ISO/IEC 14496-15 8.3.3.1; from memory)."""
    arrays = (
        bytes([0x80 | unit[0] >> 1 & 63 if unit else 0x80])
        + b"\x00\x01"
        + len(unit).to_bytes(2, "big")
        + unit
        for unit in units
    )
    return b"\x01" + bytes(21) + bytes([len(units)]) + b"".join(arrays)


@given(SETS)
def test_a_parameter_set_says_what_was_written(wanted: H265Set) -> None:
    """Tier, level, scan and the frames held of the highest layer; in hvcC and in Annex B."""
    scan = SCANS.get((wanted.progressive, wanted.interlaced))
    expected = H265Sequence(
        wanted.level_idc,
        wanted.high_tier,
        wanted.held[-1],
        scan,
    )
    unit, other = wanted.unit(), b"\x40\x01\x0c\x01"
    assert sequence_of(configuration(other, unit)) == expected
    assert sequence_of(b"\x00\x00\x00\x01" + other + b"\x00\x00\x00\x01" + unit) == expected


@pytest.mark.parametrize(
    ("level_idc", "level"),
    [(30, "1"), (60, "2"), (63, "2.1"), (90, "3"), (93, "3.1"), (120, "4"), (123, "4.1"), (153, "5.1")],
)
def test_levels_are_thirtieths(level_idc: int, level: str) -> None:
    """ITU-T H.265 clause A.4.1: general_level_idc is 30 times the level."""
    sequence = sequence_of(configuration(H265Set(level_idc=level_idc).unit()))
    assert sequence is not None
    assert sequence.level == level


@given(st.binary(max_size=80))
def test_any_bytes_give_a_set_or_none(data: bytes) -> None:
    for extradata in (
        data,
        b"\x01" + data,
        b"\x00\x00\x01\x42\x01" + data,
        configuration(b"\x42\x01" + data),
    ):
        assert isinstance(sequence_of(extradata), H265Sequence | None)


def test_counts_that_the_record_has_no_room_for_end_at_once() -> None:
    """255 arrays of 65,535 units each are claimed by a record of a few bytes."""
    assert sequence_of(b"\x01" + bytes(21) + b"\xff" + b"\x21\xff\xff\x00\x00" * 3) is None


def test_no_parameter_set_is_none() -> None:
    assert sequence_of(None) is None
    assert sequence_of(b"") is None
    assert sequence_of(configuration(b"\x40\x01\x0c\x01")) is None


BASE = "-c:v libx265 -preset ultrafast -pix_fmt yuv420p -x265-params log-level=error:pools=1"
KNOWN = "MP4; H.265 Main 25 8 4:2:0 progressive"
IN_TS = KNOWN.replace("MP4", "MPEG-TS")
HIGH = "level-idc=5.1:high-tier=1:vbv-maxrate=90000:vbv-bufsize=90000"
ENCODED: tuple[tuple[Variant, str, bool, str], ...] = (
    (Variant("x265-refs-1.mp4", f"{BASE}:ref=1:bframes=0:level-idc=3.1:high-tier=0", KNOWN, seconds="0.4"),
     "3.1", False, "progressive"),
    (Variant("x265-refs-5.mp4", f"{BASE}:ref=5:bframes=4:level-idc=4:high-tier=0", KNOWN, seconds="0.4"),
     "4", False, "progressive"),
    (Variant("x265-high.mp4", f"{BASE}:ref=3:{HIGH}", KNOWN, seconds="0.4"), "5.1", True, "progressive"),
    (Variant("x265-layers.mp4", f"{BASE}:temporal-layers=2:bframes=3:b-pyramid=1:level-idc=4.1:high-tier=0",
             KNOWN, seconds="0.4"), "4.1", False, "progressive"),
    (Variant("x265-fields.mp4", f"{BASE}:interlace=tff:level-idc=4.1:high-tier=0", KNOWN, seconds="0.4"),
     "4.1", False, "interlaced"),
    (Variant("x265-10-bit.mp4", f"{BASE.replace('420p', '422p10le')}:ref=2:level-idc=4:high-tier=0", KNOWN,
             seconds="0.4"), "4", False, "progressive"),
    (Variant("x265-refs-2.ts", f"{BASE}:ref=2:bframes=2:level-idc=4:high-tier=0", IN_TS, seconds="0.4"),
     "4", False, "progressive"),
)  # fmt: skip


@pytest.mark.parametrize(("variant", "level", "high", "scan"), ENCODED, ids=lambda value: str(value)[:40])
def test_streams_say_what_the_encoder_was_told(
    variant: Variant, level: str, high: bool, scan: str, clip: ClipFactory
) -> None:
    """x265's own settings: level, tier and field coding; hvcC and Annex B."""
    sequence = sequence_of(extradata_of(clip(variant)))
    assert sequence is not None
    assert (sequence.level, sequence.high_tier, sequence.scan) == (level, high, scan)


@pytest.mark.parametrize("variant", [each[0] for each in ENCODED], ids=lambda variant: variant.file_name)
def test_streams_say_what_ffmpeg_reads(variant: Variant, clip: ClipFactory, ffmpeg: str) -> None:
    location = clip(variant)
    layers = traced(ffmpeg, location, "sps_max_sub_layers_minus1")["sps_max_sub_layers_minus1"]
    held = f"sps_max_dec_pic_buffering_minus1[{layers}]"
    fields = traced(ffmpeg, location, "general_tier_flag", "general_level_idc", held)
    sequence = sequence_of(extradata_of(location))
    assert sequence is not None
    assert sequence == H265Sequence(
        fields["general_level_idc"],
        bool(fields["general_tier_flag"]),
        fields[held] + 1,
        sequence.scan,
    )
