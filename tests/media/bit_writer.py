"""Writes bits and parameter sets, field by field, as the standards print them: the other way round.

It must not use the readers under test. Source: ITU-T H.264 clauses 7.3.2.1.1, 9.1, E.1.1 and E.1.2; H.265
clauses 7.3.2.2 and 7.3.3 (from memory; ffmpeg's trace_headers names the same fields in this order).
"""

from __future__ import annotations

from dataclasses import dataclass

Words = list[str]
"""Bits as text, in order."""


def u(count: int, value: int) -> str:
    """An unsigned number of `count` bits."""
    return format(value, f"0{count}b") if count else ""


def ue(value: int) -> str:
    """Exp-Golomb, Table 9-2: as many zeros before value + 1 as it has bits after the first."""
    code = format(value + 1, "b")
    return "0" * (len(code) - 1) + code


def se(value: int) -> str:
    """Signed Exp-Golomb, Table 9-3: 0, 1, -1, 2, -2, ..."""
    return ue(2 * value - 1 if value > 0 else -2 * value)


def packed(*bits: str) -> bytes:
    """Bytes of a raw byte sequence payload: the bits, a 1 and zeros up to the next byte."""
    text = "".join(bits) + "1"
    text += "0" * (-len(text) % 8)
    return int(text, 2).to_bytes(len(text) // 8, "big")


def with_emulation_bytes(payload: bytes) -> bytes:
    """A 03 goes in wherever two zero bytes are followed by 00 to 03 (H.264 clause 7.4.1.1)."""
    out, zeros = bytearray(), 0
    for byte in payload:
        if zeros >= 2 and byte <= 3:
            out.append(3)
            zeros = 0
        out.append(byte)
        zeros = zeros + 1 if byte == 0 else 0
    return bytes(out)


@dataclass(frozen=True)
class H264Set:
    """What a sequence parameter set is to say. None leaves an optional part out."""

    profile_idc: int = 100
    constraints: int = 0
    level_idc: int = 40
    references: int = 4
    frames_only: bool = True
    chroma: int = 1
    bit_depth: int = 8
    scaling: tuple[tuple[int, ...] | None, ...] | None = None
    columns: int = 20
    rows: int = 12
    """Macroblocks of 16 pixels; rows of a field where pictures are coded in fields."""
    order_count: int = 0
    cycle: tuple[int, ...] = ()
    crop: tuple[int, int, int, int] | None = None
    vui: bool = True
    aspect: int | tuple[int, int] | None = 1
    """aspect_ratio_idc, or width and height of a pixel."""
    colours: tuple[int, int] | None = None
    """colour_primaries and transfer_characteristics."""
    timing: bool = False
    hrd: tuple[int, ...] = ()
    """Number of buffers in each of up to two sets of HRD parameters."""
    buffering: int | None = None
    """max_dec_frame_buffering; None leaves bitstream_restriction out."""

    def unit(self) -> bytes:
        """The NAL unit, its one-byte header first."""
        return b"\x67" + with_emulation_bytes(packed(*self._fields()))

    def _fields(self) -> Words:
        head = [u(8, self.profile_idc), u(8, self.constraints), u(8, self.level_idc), ue(0)]
        frame = [ue(self.references), "0", ue(self.columns - 1), ue(self.rows - 1), u(1, self.frames_only)]
        if not self.frames_only:
            frame.append("1")  # mb_adaptive_frame_field_flag
        crop = ["0"] if self.crop is None else ["1", *map(ue, self.crop)]
        return [*head, *self._chroma(), ue(4), *self._order(), *frame, "1", *crop, *self._vui()]

    def _chroma(self) -> Words:
        if self.profile_idc in (66, 77, 88):
            return []
        depths = [ue(self.bit_depth - 8), ue(0)]
        out = [ue(self.chroma), *(["0"] if self.chroma == 3 else []), *depths, "0"]
        if self.scaling is None:
            return [*out, "0"]
        lists = (self.scaling * 12)[: 12 if self.chroma == 3 else 8]
        return [*out, "1", *(self._scaling(one, number) for number, one in enumerate(lists))]

    @staticmethod
    def _scaling(values: tuple[int, ...] | None, number: int) -> str:
        """A list as differences; one that ends early says so with a next scale of 0 (7.3.2.1.1.1)."""
        if values is None:
            return "0"
        size = 16 if number < 6 else 64
        out, last = "1", 8
        for value in values[:size]:
            out += se((value - last + 128) % 256 - 128)
            last = value
        if len(values) < size:
            out += se((-last + 128) % 256 - 128)
        return out

    def _order(self) -> Words:
        if self.order_count == 0:
            return [ue(0), ue(2)]
        if self.order_count == 2:
            return [ue(2)]
        return [ue(1), "1", se(-3), se(2), ue(len(self.cycle)), *map(se, self.cycle)]

    def _vui(self) -> Words:
        if not self.vui:
            return ["0"]
        colours = ["0"]
        if self.colours is not None:
            colours = ["1", u(3, 5), "0", "1", *(u(8, code) for code in (*self.colours, 1))]
        timing = ["1", u(32, 1), u(32, 50), "1"] if self.timing else ["0"]
        buffers = [self._hrd(self.hrd[n] if n < len(self.hrd) else 0) for n in range(2)]
        low_delay = ["0"] if any(self.hrd) else []
        out = [
            "1",
            *self._aspect(),
            "1",
            "0",
            *colours,
            "1",
            ue(0),
            ue(0),
            *timing,
            *buffers,
            *low_delay,
            "0",
        ]
        if self.buffering is None:
            return [*out, "0"]
        return [*out, "1", "1", ue(0), ue(0), ue(10), ue(10), ue(0), ue(self.buffering)]

    def _aspect(self) -> Words:
        if self.aspect is None:
            return ["0"]
        if isinstance(self.aspect, int):
            return ["1", u(8, self.aspect)]
        return ["1", u(8, 255), *(u(16, side) for side in self.aspect)]

    @staticmethod
    def _hrd(buffers: int) -> str:
        if not buffers:
            return "0"
        each = (ue(1000) + ue(2000) + "0") * buffers
        return "1" + ue(buffers - 1) + u(8, 0x12) + each + u(20, 0)


@dataclass(frozen=True)
class H265Set:
    """What a sequence parameter set is to say. `held` is the frames of each temporal layer, lowest first."""

    level_idc: int = 120
    high_tier: bool = False
    progressive: bool = True
    interlaced: bool = False
    held: tuple[int, ...] = (5,)
    every_layer: bool = True
    layer_profiles: bool = False
    layer_levels: bool = False
    chroma: int = 1
    bit_depth: int = 8
    window: tuple[int, int, int, int] | None = None

    def unit(self) -> bytes:
        """The NAL unit, its two-byte header first (type 33)."""
        return b"\x42\x01" + with_emulation_bytes(packed(*self._fields()))

    def _fields(self) -> Words:
        layers = len(self.held) - 1
        window = ["0"] if self.window is None else ["1", *map(ue, self.window)]
        held = self.held if self.every_layer else self.held[-1:]
        return [
            *(u(4, 0), u(3, layers), "1", *self._profile(layers), ue(0)),
            *(ue(self.chroma), *(["0"] if self.chroma == 3 else []), ue(320), ue(184), *window),
            *(ue(self.bit_depth - 8), ue(0), ue(4), u(1, self.every_layer)),
            *(ue(frames - 1) + ue(0) + ue(0) for frames in held),
        ]

    def _profile(self, layers: int) -> Words:
        general = [u(2, 0), u(1, self.high_tier), u(5, 1), u(32, 0x60000000)]
        source = [u(1, self.progressive), u(1, self.interlaced), u(46, 1 << 44)]
        out = [*general, *source, u(8, self.level_idc)]
        out += [u(1, self.layer_profiles), u(1, self.layer_levels)] * layers
        if layers:
            out.append(u(2 * (8 - layers), 0))
        for _ in range(layers):
            out.append(u(88 * self.layer_profiles + 8 * self.layer_levels, 0))
        return out
