"""What we read from H.264 parameter sets is what was written, and what ffmpeg reads."""

from __future__ import annotations

import re
import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.media.h264 import ASPECTS as H264_ASPECTS
from mediacheck.media.h264 import H264Sequence, sequence_of
from mediacheck.names import Chroma
from tests.conftest import ClipFactory
from tests.media.bit_writer import H264Set
from tests.media.recipe import Variant

SCALING = st.lists(st.integers(1, 255), max_size=64).map(tuple)
CHROMAS: tuple[Chroma, ...] = ("4:0:0", "4:2:0", "4:2:2", "4:4:4")
"""By chroma_format_idc, ITU-T H.264 Table 6-1."""
SETS = st.builds(
    H264Set,
    profile_idc=st.sampled_from((66, 77, 88, 100, 110, 122, 244)),
    constraints=st.sampled_from((0, 0x10, 0x40, 0xC0)),
    level_idc=st.sampled_from((9, 10, 11, 12, 13, 20, 30, 31, 40, 41, 42, 50, 51, 52)),
    references=st.integers(0, 16),
    frames_only=st.booleans(),
    chroma=st.sampled_from((0, 1, 2, 3)),
    bit_depth=st.integers(8, 14),
    scaling=st.none() | st.lists(st.none() | SCALING, min_size=1, max_size=12).map(tuple),
    order_count=st.sampled_from((0, 1, 2)),
    cycle=st.lists(st.integers(-9, 9), max_size=6).map(tuple),
    columns=st.integers(2, 600),
    rows=st.integers(2, 600),
    crop=st.none() | st.tuples(*[st.integers(0, 7)] * 4),
    vui=st.booleans(),
    aspect=st.none() | st.integers(0, 20) | st.tuples(st.integers(0, 999), st.integers(0, 999)),
    colours=st.none() | st.tuples(st.integers(1, 9), st.integers(1, 18)),
    timing=st.booleans(),
    hrd=st.lists(st.integers(0, 4), max_size=2).map(tuple),
    buffering=st.none() | st.integers(0, 16),
)


ASPECTS = {
    2: Fraction(12, 11),
    4: Fraction(16, 11),
    13: Fraction(160, 99),
    14: Fraction(4, 3),
    16: Fraction(2),
}
"""Some rows of ITU-T H.264 Table E-1."""
CROPPED = {0: (1, 1), 1: (2, 2), 2: (2, 1), 3: (1, 1)}
"""chroma_format_idc to the pixels across and down of one cropping step (ITU-T H.264 7.4.2.1.1)."""


def size_of(wanted: H264Set, chroma: int) -> tuple[int, int]:
    """Width and height in pixels: whole macroblocks less what is cropped; twice the rows for fields."""
    left, right, top, bottom = wanted.crop or (0, 0, 0, 0)
    across, down = CROPPED[chroma]
    frame = 16 * wanted.rows - down * (top + bottom)
    return 16 * wanted.columns - across * (left + right), frame if wanted.frames_only else 2 * frame


def aspect_of(aspect: int | tuple[int, int] | None) -> Fraction | None:
    if isinstance(aspect, tuple):
        return Fraction(*aspect) if all(aspect) else None
    return H264_ASPECTS[aspect - 1] if aspect and aspect <= 16 else None


def test_pixel_shapes_of_the_standard() -> None:
    """ITU-T H.264 Table E-1, from memory; ffmpeg's variants with 12:11 and 16:11 agree."""
    assert {number: H264_ASPECTS[number - 1] for number in ASPECTS} == ASPECTS
    assert len(H264_ASPECTS) == 16


def configuration(unit: bytes) -> bytes:
    """An avcC record with one parameter set and no picture parameter set (ISO/IEC 14496-15; from memory)."""
    return b"\x01\x64\x00\x28\xff\xe1" + len(unit).to_bytes(2, "big") + unit + b"\x00"


@given(SETS)
def test_a_parameter_set_says_what_was_written(wanted: H264Set) -> None:
    """Whatever optional parts stand before the fields that are used; with and without VUI."""
    held = wanted.references
    if wanted.vui and wanted.buffering is not None:
        held = max(held, wanted.buffering)
    says_chroma = wanted.profile_idc not in (66, 77, 88)
    expected = H264Sequence(
        wanted.profile_idc,
        wanted.level_idc,
        bool(wanted.constraints & 0x10),
        wanted.frames_only,
        held,
        *size_of(wanted, wanted.chroma if says_chroma else 1),
        CHROMAS[wanted.chroma] if says_chroma else "4:2:0",
        wanted.bit_depth if says_chroma else 8,
        aspect_of(wanted.aspect) if wanted.vui else None,
        *(wanted.colours if wanted.vui and wanted.colours else (None, None)),
    )
    unit = wanted.unit()
    assert sequence_of(configuration(unit)) == expected
    assert sequence_of(b"\x00\x00\x00\x01\x09\xf0\x00\x00\x00\x01" + unit) == expected


@pytest.mark.parametrize(
    ("profile_idc", "constraints", "level_idc", "level"),
    [
        (66, 0x10, 11, "1b"),
        (77, 0x10, 11, "1b"),
        (88, 0x10, 11, "1b"),
        (66, 0x00, 11, "1.1"),
        (100, 0x10, 11, "1.1"),
        (100, 0x00, 9, "1b"),
        (100, 0x00, 10, "1"),
        (100, 0x00, 40, "4"),
        (100, 0x00, 42, "4.2"),
        (100, 0x00, 62, "6.2"),
    ],
)
def test_levels_are_written_as_in_the_standard(
    profile_idc: int, constraints: int, level_idc: int, level: str
) -> None:
    """ITU-T H.264 clause A.3.1: level 1b is 11 with constraint_set3 in the old profiles, 9 in the others."""
    unit = H264Set(profile_idc=profile_idc, constraints=constraints, level_idc=level_idc).unit()
    sequence = sequence_of(configuration(unit))
    assert sequence is not None
    assert sequence.level == level


@given(st.binary(max_size=60))
def test_any_bytes_give_a_set_or_none(data: bytes) -> None:
    for extradata in (data, b"\x01" + data, b"\x00\x00\x01\x67" + data, configuration(b"\x67" + data)):
        assert isinstance(sequence_of(extradata), H264Sequence | None)


@given(SETS, st.integers(0, 40))
def test_a_set_that_is_cut_short_is_none_or_lacks_only_the_end(wanted: H264Set, length: int) -> None:
    """A cut in the VUI loses what stands behind it; a cut before the VUI loses everything."""
    cut = sequence_of(configuration(wanted.unit()[:length]))
    whole = sequence_of(configuration(wanted.unit()))
    assert whole is not None
    assert cut is None or without_vui(cut) == without_vui(whole)


def without_vui(sequence: H264Sequence) -> H264Sequence:
    return replace(sequence, reference_frames=0, pixel_aspect=None, primaries=None, transfer=None)


def test_no_parameter_set_is_none() -> None:
    assert sequence_of(None) is None
    assert sequence_of(b"") is None
    assert sequence_of(b"\x00\x00\x01") is None
    assert sequence_of(configuration(b"\x68\xee\x3c\x80")) is None
    none_of_them = bytearray(configuration(H264Set().unit()))
    none_of_them[5] = 0xE0
    assert sequence_of(bytes(none_of_them)) is None


BASE = "-c:v libx264 -preset veryfast -pix_fmt yuv420p -x264-params"
EVEN = "-b:v 500k -maxrate 500k -bufsize 500k"
KNOWN = "MP4; H.264 High 25 8 4:2:0 progressive"
IN_TS = KNOWN.replace("MP4", "MPEG-TS")
ENCODED: tuple[tuple[Variant, str, int, bool], ...] = (
    (Variant("x264-refs-1.mp4", f"{BASE} ref=1:bframes=0 -level 3", KNOWN, seconds="0.4"), "3", 1, True),
    (Variant("x264-refs-5.mp4", f"{BASE} ref=5:bframes=0 -level 4.1", KNOWN, seconds="0.4"), "4.1", 5, True),
    (Variant("x264-refs-16.mp4", f"{BASE} ref=16:bframes=2 -level 4", KNOWN, seconds="0.4"), "4", 16, True),
    # Pictures that are referred to and shown later are held besides: x264 asks for four with a B-pyramid.
    (Variant("x264-pyramid.mp4", f"{BASE} ref=1:bframes=3:b-pyramid=normal -level 5.1", KNOWN, seconds="0.4"),
     "5.1", 4, True),
    (Variant("x264-flat-b.mp4", f"{BASE} ref=2:bframes=3:b-pyramid=none -level 2", KNOWN, seconds="0.4"),
     "2", 2, True),
    (Variant("x264-fields.mp4", f"{BASE} ref=3:bframes=0:tff=1 -level 3.1", KNOWN, seconds="0.4"),
     "3.1", 3, False),
    (Variant("x264-hrd.mp4", f"{BASE} ref=2:bframes=0:nal-hrd=cbr -level 3 {EVEN}", KNOWN, seconds="0.4"),
     "3", 2, True),
    (Variant("x264-422.mp4", f"{BASE.replace('420p', '422p10le')} ref=2:bframes=0 -level 3.1", KNOWN,
             seconds="0.4"), "3.1", 2, True),
    (Variant("x264-refs-3.ts", f"{BASE} ref=3:bframes=0 -level 3.2", IN_TS, seconds="0.4"), "3.2", 3, True),
)  # fmt: skip


def extradata_of(location: Path) -> bytes | None:
    with av.open(str(location)) as container:
        return container.streams.video[0].codec_context.extradata


def traced(ffmpeg: str, location: Path, *names: str) -> dict[str, int]:
    """The first value of each field, as ffmpeg's own reader of headers prints them."""
    command = [ffmpeg, "-i", str(location), "-c", "copy", "-bsf:v", "trace_headers", "-f", "null", "-"]
    text = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True).stderr
    found = {}
    for name in names:
        line = re.search(rf" {re.escape(name)} +[01]+ = (-?\d+)$", text, re.MULTILINE)
        assert line, f"ffmpeg traced no {name}"
        found[name] = int(line[1])
    return found


@pytest.mark.parametrize(("variant", "level", "frames", "whole"), ENCODED, ids=lambda value: str(value)[:40])
def test_streams_say_what_the_encoder_was_told(
    variant: Variant, level: str, frames: int, whole: bool, clip: ClipFactory
) -> None:
    """x264's own settings: reference frames, level, interlaced coding; avcC and Annex B."""
    sequence = sequence_of(extradata_of(clip(variant)))
    assert sequence is not None
    assert (sequence.level, sequence.reference_frames, sequence.frames_only) == (level, frames, whole)


@pytest.mark.parametrize("variant", [each[0] for each in ENCODED], ids=lambda variant: variant.file_name)
def test_streams_say_what_ffmpeg_reads(variant: Variant, clip: ClipFactory, ffmpeg: str) -> None:
    location = clip(variant)
    names = ("profile_idc", "level_idc", "constraint_set3_flag", "frame_mbs_only_flag", "max_num_ref_frames")
    fields = traced(ffmpeg, location, *names, "max_dec_frame_buffering")
    fields |= traced(ffmpeg, location, "chroma_format_idc", "bit_depth_luma_minus8")
    sequence = sequence_of(extradata_of(location))
    assert sequence == H264Sequence(
        fields["profile_idc"],
        fields["level_idc"],
        bool(fields["constraint_set3_flag"]),
        bool(fields["frame_mbs_only_flag"]),
        max(fields["max_num_ref_frames"], fields["max_dec_frame_buffering"]),
        320,
        180,
        CHROMAS[fields["chroma_format_idc"]],
        8 + fields["bit_depth_luma_minus8"],
        Fraction(1),
        None,
        None,
    )
