"""Bits are read as the standards write them, and never past the end."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.media.bits import Bits, OutOfBits, start_code_units, without_emulation_bytes
from tests.media.bit_writer import packed, se, u, ue, with_emulation_bytes

NUMBERS = st.one_of(
    st.tuples(st.just("ue"), st.integers(0, 2**32 - 2)),
    st.tuples(st.just("se"), st.integers(-(2**31) + 1, 2**31 - 1)),
    st.tuples(st.just("u"), st.integers(0, 2**20 - 1)),
)


@given(st.lists(NUMBERS))
def test_numbers_come_back_as_they_were_written(numbers: list[tuple[str, int]]) -> None:
    write: dict[str, Callable[[int], str]] = {"ue": ue, "se": se, "u": partial(u, 20)}
    bits = Bits(packed(*(write[kind](value) for kind, value in numbers)))
    read: dict[str, Callable[[], int]] = {"ue": bits.ue, "se": bits.se, "u": partial(bits.u, 20)}
    assert [(kind, read[kind]()) for kind, _ in numbers] == numbers


@pytest.mark.parametrize(
    ("code", "unsigned", "signed"),
    [("1", 0, 0), ("010", 1, 1), ("011", 2, -1), ("00100", 3, 2), ("00101", 4, -2), ("0001000", 7, 4)],
)
def test_exp_golomb_codes_of_the_standard(code: str, unsigned: int, signed: int) -> None:
    """ITU-T H.264 Tables 9-2 and 9-3 (from memory)."""
    assert (Bits(packed(code)).ue(), Bits(packed(code)).se()) == (unsigned, signed)


@given(st.binary(max_size=40), st.integers(0, 400))
def test_nothing_is_read_past_the_end(data: bytes, count: int) -> None:
    bits = Bits(data)
    if count > 8 * len(data):
        with pytest.raises(OutOfBits):
            bits.u(count)
    else:
        assert bits.u(count) == int.from_bytes(data, "big") >> (8 * len(data) - count)


@given(st.binary(max_size=40))
def test_reading_codes_always_ends(data: bytes) -> None:
    """Each code takes a bit at least, so that the end comes within as many codes as there are bits."""
    bits = Bits(data)

    def read_all() -> None:
        for _ in range(8 * len(data) + 1):
            bits.ue()

    with pytest.raises(OutOfBits):
        read_all()


@given(st.lists(st.sampled_from((0, 1, 2, 3, 4, 255)), max_size=60).map(bytes))
def test_emulation_bytes_are_taken_out_again(payload: bytes) -> None:
    assert without_emulation_bytes(with_emulation_bytes(payload)) == payload


@given(st.lists(st.binary(min_size=1, max_size=20), max_size=5), st.sampled_from((b"", b"\x00")))
def test_units_between_start_codes_come_back(payloads: list[bytes], before: bytes) -> None:
    """H.264 Annex B; a unit ends with a stop bit, never with a zero byte."""
    units = [with_emulation_bytes(payload + b"\x80") for payload in payloads]
    stream = b"".join(before + b"\x00\x00\x01" + unit for unit in units)
    assert start_code_units(stream) == units


@given(st.binary(max_size=200))
def test_units_are_never_empty(data: bytes) -> None:
    assert all(start_code_units(data))
