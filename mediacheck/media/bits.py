"""Reading single bits and Exp-Golomb codes, as parameter sets are written.

It must not know what the bits mean. Source: ITU-T H.264 clauses 7.4.1.1 and 9.1.
"""

from __future__ import annotations

from mediacheck.names import Chroma

CHROMA_FORMATS: tuple[Chroma, ...] = ("4:0:0", "4:2:0", "4:2:2", "4:4:4")
"""chroma_format_idc to its name (ITU-T H.264 Table 6-1, H.265 Table 6-1)."""


class OutOfBits(ValueError):
    """The parameter set ends before its last field."""


def without_emulation_bytes(nal: bytes) -> bytes:
    """The payload of a NAL unit: the 03 in each 00 00 03 was put in by the encoder (clause 7.4.1.1)."""
    return nal.replace(b"\x00\x00\x03", b"\x00\x00")


def start_code_units(data: bytes) -> list[bytes]:
    """NAL units of a byte stream with start codes 00 00 01 (H.264 Annex B)."""
    units = (unit.rstrip(b"\x00") for unit in data.split(b"\x00\x00\x01")[1:])
    return [unit for unit in units if unit]


class Bits:
    """A position in a string of bits."""

    def __init__(self, data: bytes) -> None:
        self._value = int.from_bytes(data, "big")
        self._left = 8 * len(data)

    def u(self, count: int) -> int:
        """An unsigned number of `count` bits. Raises OutOfBits."""
        if count > self._left:
            raise OutOfBits
        self._left -= count
        return (self._value >> self._left) & ((1 << count) - 1)

    def flag(self) -> bool:
        """One bit."""
        return bool(self.u(1))

    def ue(self) -> int:
        """An unsigned Exp-Golomb code (clause 9.1)."""
        zeros = 0
        while not self.u(1):
            zeros += 1
            if zeros > 32:
                raise OutOfBits
        return (1 << zeros) - 1 + self.u(zeros)

    def chroma_format(self) -> Chroma:
        """A chroma_format_idc, with the flag that follows it for 4:4:4. Raises OutOfBits for other values."""
        code = self.ue()
        if code >= len(CHROMA_FORMATS):
            raise OutOfBits
        if code == 3:
            self.flag()  # separate_colour_plane_flag
        return CHROMA_FORMATS[code]

    def se(self) -> int:
        """A signed Exp-Golomb code (clause 9.1.1)."""
        code = self.ue()
        return (code + 1) // 2 if code % 2 else -(code // 2)
