"""What the sequence parameter set of an H.265 stream says.

It must not judge. Source: ITU-T H.265 clauses 7.3.2.2 and 7.3.3 (field order from memory; checked in
the tests against ffprobe and against the encoder's own settings).
"""

from __future__ import annotations

from dataclasses import dataclass

from mediacheck.media.bits import Bits, OutOfBits, start_code_units, without_emulation_bytes
from mediacheck.names import Scan

SPS_UNIT = 33
SCANS: dict[tuple[bool, bool], Scan] = {(True, False): "progressive", (False, True): "interlaced"}


@dataclass(frozen=True, slots=True)
class H265Sequence:
    """The fields that this project uses."""

    level_idc: int
    """30 times the level."""
    high_tier: bool
    dpb_frames: int
    """sps_max_dec_pic_buffering_minus1 + 1 of the highest layer: picture memory needed."""
    scan: Scan | None
    """From general_progressive_source_flag and general_interlaced_source_flag (7.4.4); None: left open."""

    @property
    def level(self) -> str:
        """As the standard writes it: 123 is "4.1"."""
        whole, rest = divmod(self.level_idc, 30)
        return f"{whole}.{rest // 3}" if rest else str(whole)


def sequence_of(extradata: bytes | None) -> H265Sequence | None:
    """The first parameter set in a decoder configuration (hvcC, or start codes); None where none is."""
    try:
        unit = _first_unit(extradata or b"")
        return _parse(Bits(without_emulation_bytes(unit[2:]))) if unit else None
    except (OutOfBits, IndexError):
        return None


def _unit_type(unit: bytes) -> int:
    return (unit[0] >> 1) & 63


def _first_unit(extradata: bytes) -> bytes | None:
    units = _units_of_configuration(extradata) if extradata[:1] == b"\x01" else start_code_units(extradata)
    return next((unit for unit in units if len(unit) > 2 and _unit_type(unit) == SPS_UNIT), None)


def _units_of_configuration(extradata: bytes) -> list[bytes]:
    """NAL units of an hvcC box (ISO/IEC 14496-15 8.3.3.1; from memory)."""
    units: list[bytes] = []
    at = 23
    for _ in range(extradata[22]):
        count = int.from_bytes(extradata[at + 1 : at + 3], "big")
        at += 3
        for _ in range(count):
            if at >= len(extradata):
                return units
            length = int.from_bytes(extradata[at : at + 2], "big")
            units.append(extradata[at + 2 : at + 2 + length])
            at += 2 + length
    return units


def _parse(bits: Bits) -> H265Sequence:
    bits.u(4)  # sps_video_parameter_set_id
    layers = bits.u(3)  # sps_max_sub_layers_minus1
    bits.flag()  # sps_temporal_id_nesting_flag
    high_tier, level_idc, scan = _profile_tier_level(bits, layers)
    bits.ue()  # sps_seq_parameter_set_id
    bits.chroma_format()
    bits.ue()  # pic_width_in_luma_samples
    bits.ue()  # pic_height_in_luma_samples
    if bits.flag():  # conformance_window_flag
        for _ in range(4):
            bits.ue()
    for _ in range(3):  # bit depths of luma and chroma, log2_max_pic_order_cnt_lsb
        bits.ue()
    every_layer = bits.flag()  # sps_sub_layer_ordering_info_present_flag
    frames = 0
    for _ in range(layers + 1 if every_layer else 1):
        frames = bits.ue() + 1
        bits.ue()
        bits.ue()
    return H265Sequence(level_idc, high_tier, frames, scan)


def _profile_tier_level(bits: Bits, layers: int) -> tuple[bool, int, Scan | None]:
    bits.u(2)  # general_profile_space
    high_tier = bits.flag()
    bits.u(5 + 32)  # general_profile_idc, compatibility flags
    scan = SCANS.get((bits.flag(), bits.flag()))
    bits.u(46)  # the other constraint flags
    level_idc = bits.u(8)
    present = [(bits.flag(), bits.flag()) for _ in range(layers)]
    if layers:
        bits.u(2 * (8 - layers))
    for profile, level in present:
        bits.u(88 * profile + 8 * level)
    return high_tier, level_idc, scan
