"""What the sequence parameter set of an H.264 stream says.

It must not judge. Source: ITU-T H.264 clauses 7.3.2.1.1 and E.1.1 (field order from memory; checked
in the tests against ffprobe on real streams).
"""

from __future__ import annotations

from dataclasses import dataclass

from mediacheck.media.bits import Bits, OutOfBits, start_code_units, without_emulation_bytes

SPS_UNIT = 7
CHROMA_PROFILES = frozenset((44, 83, 86, 100, 110, 118, 122, 128, 134, 135, 138, 139, 244))
"""profile_idc values whose parameter set goes on with the chroma format (clause 7.3.2.1.1)."""


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
    if extradata[:1] == b"\x01" and len(extradata) > 8:
        length = int.from_bytes(extradata[6:8], "big")
        unit = extradata[8 : 8 + length]
        return unit if unit and unit[0] & 31 == SPS_UNIT else None
    return next((unit for unit in start_code_units(extradata) if unit[0] & 31 == SPS_UNIT), None)


def _parse(bits: Bits) -> H264Sequence:
    profile_idc, constraints, level_idc = bits.u(8), bits.u(8), bits.u(8)
    bits.ue()  # seq_parameter_set_id
    if profile_idc in CHROMA_PROFILES:
        _skip_chroma(bits)
    bits.ue()  # log2_max_frame_num_minus4
    _skip_order_count(bits)
    reference_frames = bits.ue()
    bits.flag()  # gaps_in_frame_num_value_allowed_flag
    bits.ue()  # pic_width_in_mbs_minus1
    bits.ue()  # pic_height_in_map_units_minus1
    frames_only = bits.flag()
    if not frames_only:
        bits.flag()  # mb_adaptive_frame_field_flag
    bits.flag()  # direct_8x8_inference_flag
    if bits.flag():  # frame_cropping_flag
        for _ in range(4):
            bits.ue()
    said = _buffering(bits)
    constraint_set3 = bool(constraints & 0x10)
    return H264Sequence(
        profile_idc,
        level_idc,
        constraint_set3,
        frames_only,
        reference_frames if said is None else max(said, reference_frames),
    )


def _skip_chroma(bits: Bits) -> None:
    chroma = bits.ue()
    if chroma == 3:
        bits.flag()  # separate_colour_plane_flag
    bits.ue()  # bit_depth_luma_minus8
    bits.ue()  # bit_depth_chroma_minus8
    bits.flag()  # qpprime_y_zero_transform_bypass_flag
    if bits.flag():  # seq_scaling_matrix_present_flag
        for number in range(8 if chroma != 3 else 12):
            if bits.flag():
                _skip_scaling_list(bits, 16 if number < 6 else 64)


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


def _buffering(bits: Bits) -> int | None:
    """max_dec_frame_buffering from the VUI, or None where the stream leaves it out or is cut there."""
    try:
        if not bits.flag():  # vui_parameters_present_flag
            return None
        _skip_vui_to_restriction(bits)
        if not bits.flag():  # bitstream_restriction_flag
            return None
        bits.flag()  # motion_vectors_over_pic_boundaries_flag
        for _ in range(5):
            bits.ue()
        return bits.ue()
    except OutOfBits:
        return None


def _skip_vui_to_restriction(bits: Bits) -> None:
    if bits.flag() and bits.u(8) == 255:  # aspect_ratio_info_present_flag, Extended_SAR
        bits.u(32)
    if bits.flag():  # overscan_info_present_flag
        bits.flag()
    if bits.flag():  # video_signal_type_present_flag
        bits.u(4)
        if bits.flag():  # colour_description_present_flag
            bits.u(24)
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
