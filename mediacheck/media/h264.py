"""What the sequence parameter set of an H.264 stream says.

It must not judge. Source: ITU-T H.264 clauses 7.3.2.1.1 and E.1.1 (field order from memory; checked
in the tests against ffprobe on real streams).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from mediacheck.media.bits import Bits, OutOfBits, start_code_units, without_emulation_bytes
from mediacheck.names import Chroma

SPS_UNIT = 7
CHROMA_PROFILES = frozenset((44, 83, 86, 100, 110, 118, 122, 128, 134, 135, 138, 139, 244))
"""profile_idc values whose parameter set goes on with the chroma format (clause 7.3.2.1.1)."""

CROP_UNITS: dict[Chroma, tuple[int, int]] = {
    "4:0:0": (1, 1),
    "4:2:0": (2, 2),
    "4:2:2": (2, 1),
    "4:4:4": (1, 1),
}
"""Pixels across and down (in each field) for one step of the cropping offsets (7.4.2.1.1)."""
ASPECTS = tuple(
    Fraction(*pair)
    for pair in (
        *((1, 1), (12, 11), (10, 11), (16, 11), (40, 33), (24, 11), (20, 11), (32, 11)),
        *((80, 33), (18, 11), (15, 11), (64, 33), (160, 99), (4, 3), (3, 2), (2, 1)),
    )
)
"""Table E-1, aspect_ratio_idc 1 to 16."""
EXTENDED_ASPECT = 255


@dataclass(frozen=True, slots=True)
class H264Sequence:
    """The fields that this project uses."""

    profile_idc: int
    level_idc: int
    constraint_set3: bool
    frames_only: bool
    """frame_mbs_only_flag: no interlaced coding anywhere."""
    reference_frames: int
    """max_dec_frame_buffering where the stream says it, else max_num_ref_frames: picture memory needed."""
    width: int
    height: int
    """Of the picture as shown, in pixels, without what is cropped."""
    chroma: Chroma
    bit_depth: int
    """Of the brightness."""
    pixel_aspect: Fraction | None
    primaries: int | None
    transfer: int | None
    """Colour code points of Tables E-3 and E-4. None where the stream leaves these three out."""

    @property
    def level(self) -> str:
        """As the standard writes it; level 1b is written as 11 with constraint_set3, or as 9 (A.3.1)."""
        if self.level_idc == 9 or (
            self.level_idc == 11 and self.constraint_set3 and self.profile_idc in (66, 77, 88)
        ):
            return "1b"
        whole, tenth = divmod(self.level_idc, 10)
        return f"{whole}.{tenth}" if tenth else str(whole)


def sequence_of(extradata: bytes | None) -> H264Sequence | None:
    """The first parameter set in a decoder configuration (avcC, or start codes); None where none is."""
    unit = _first_unit(extradata or b"")
    try:
        return _parse(Bits(without_emulation_bytes(unit[1:]))) if unit else None
    except OutOfBits:
        return None


def _first_unit(extradata: bytes) -> bytes | None:
    if extradata[:1] == b"\x01" and len(extradata) > 8 and extradata[5] & 31:
        length = int.from_bytes(extradata[6:8], "big")
        unit = extradata[8 : 8 + length]
        return unit if unit and unit[0] & 31 == SPS_UNIT else None
    return next((unit for unit in start_code_units(extradata) if unit[0] & 31 == SPS_UNIT), None)


def _parse(bits: Bits) -> H264Sequence:
    profile_idc, constraints, level_idc = bits.u(8), bits.u(8), bits.u(8)
    bits.ue()  # seq_parameter_set_id
    chroma, bit_depth = _chroma(bits) if profile_idc in CHROMA_PROFILES else ("4:2:0", 8)
    bits.ue()  # log2_max_frame_num_minus4
    _skip_order_count(bits)
    reference_frames = bits.ue()
    bits.flag()  # gaps_in_frame_num_value_allowed_flag
    columns, rows = bits.ue() + 1, bits.ue() + 1
    frames_only = bits.flag()
    if not frames_only:
        bits.flag()  # mb_adaptive_frame_field_flag
    bits.flag()  # direct_8x8_inference_flag
    left, right, top, bottom = (bits.ue() for _ in range(4)) if bits.flag() else (0, 0, 0, 0)
    fields = 1 if frames_only else 2
    across, down = CROP_UNITS[chroma]
    vui = _vui(bits)
    return H264Sequence(
        profile_idc,
        level_idc,
        constraint_set3=bool(constraints & 0x10),
        frames_only=frames_only,
        reference_frames=max(vui.frames_held, reference_frames),
        width=16 * columns - across * (left + right),
        height=fields * (16 * rows - down * (top + bottom)),
        chroma=chroma,
        bit_depth=bit_depth,
        pixel_aspect=vui.pixel_aspect,
        primaries=vui.primaries,
        transfer=vui.transfer,
    )


def _chroma(bits: Bits) -> tuple[Chroma, int]:
    """The chroma format and the bits of the brightness; the scaling lists behind them are skipped."""
    chroma = bits.chroma_format()
    bit_depth = 8 + bits.ue()
    bits.ue()  # bit_depth_chroma_minus8
    bits.flag()  # qpprime_y_zero_transform_bypass_flag
    if bits.flag():  # seq_scaling_matrix_present_flag
        for number in range(12 if chroma == "4:4:4" else 8):
            if bits.flag():
                _skip_scaling_list(bits, 16 if number < 6 else 64)
    return chroma, bit_depth


def _skip_scaling_list(bits: Bits, size: int) -> None:
    last, following = 8, 8
    for _ in range(size):
        if following:
            following = (last + bits.se() + 256) % 256
        last = following or last


def _skip_order_count(bits: Bits) -> None:
    kind = bits.ue()
    if kind == 0:
        bits.ue()  # log2_max_pic_order_cnt_lsb_minus4
    elif kind == 1:
        bits.flag()
        bits.se()
        bits.se()
        for _ in range(min(bits.ue(), 255)):
            bits.se()


@dataclass(slots=True)
class _Vui:
    """What the video usability information says, as far as it could be read."""

    pixel_aspect: Fraction | None = None
    primaries: int | None = None
    transfer: int | None = None
    frames_held: int = 0


def _vui(bits: Bits) -> _Vui:
    vui = _Vui()
    try:
        if bits.flag():  # vui_parameters_present_flag
            _read_looks(bits, vui)
            _skip_to_restriction(bits)
            if bits.flag():  # bitstream_restriction_flag
                bits.flag()  # motion_vectors_over_pic_boundaries_flag
                for _ in range(5):
                    bits.ue()
                vui.frames_held = bits.ue()  # max_dec_frame_buffering
    except OutOfBits:
        pass  # it is cut there: what came before stands
    return vui


def _read_looks(bits: Bits, vui: _Vui) -> None:
    if bits.flag():  # aspect_ratio_info_present_flag
        vui.pixel_aspect = _pixel_aspect(bits)
    if bits.flag():  # overscan_info_present_flag
        bits.flag()
    if bits.flag():  # video_signal_type_present_flag
        bits.u(4)
        if bits.flag():  # colour_description_present_flag
            vui.primaries, vui.transfer = bits.u(8), bits.u(8)
            bits.u(8)  # matrix_coefficients


def _pixel_aspect(bits: Bits) -> Fraction | None:
    number = bits.u(8)
    if number == EXTENDED_ASPECT:
        across, down = bits.u(16), bits.u(16)
        return Fraction(across, down) if across and down else None
    return ASPECTS[number - 1] if 1 <= number <= len(ASPECTS) else None


def _skip_to_restriction(bits: Bits) -> None:
    if bits.flag():  # chroma_loc_info_present_flag
        bits.ue()
        bits.ue()
    if bits.flag():  # timing_info_present_flag
        bits.u(65)
    nal_buffer = bits.flag()  # nal_hrd_parameters_present_flag
    if nal_buffer:
        _skip_hrd(bits)
    vcl_buffer = bits.flag()  # vcl_hrd_parameters_present_flag
    if vcl_buffer:
        _skip_hrd(bits)
    if nal_buffer or vcl_buffer:
        bits.flag()  # low_delay_hrd_flag
    bits.flag()  # pic_struct_present_flag


def _skip_hrd(bits: Bits) -> None:
    count = min(bits.ue(), 31) + 1
    bits.u(8)
    for _ in range(count):
        bits.ue()
        bits.ue()
        bits.flag()
    bits.u(20)
