"""The stream of a capacity check: every sector knows its place, and no two runs have one in common."""

from __future__ import annotations

import zlib
from random import Random

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.capacity.stream import (
    BLOCK_BYTES,
    SECTOR_BYTES,
    SECTORS_IN_BLOCK,
    Stream,
    as_sectors,
    has_mark,
    new_stream,
)

KEYS = st.binary(min_size=16, max_size=16)
NUMBERS = st.integers(0, 2**38)  # beyond any card: 2^38 blocks are 256 PiB
few = settings(max_examples=25)


@given(KEYS, NUMBERS, st.integers(0, SECTORS_IN_BLOCK - 1))
@few
def test_any_sector_tells_its_number(key: bytes, block: int, sector: int) -> None:
    stream = Stream(key)
    alone = stream.block(block)[sector : sector + 1].tobytes()
    assert len(alone) == SECTOR_BYTES
    assert stream.numbers_told(as_sectors(alone)).tolist() == [block * SECTORS_IN_BLOCK + sector]
    assert has_mark(alone)


@given(KEYS, KEYS, NUMBERS)
@few
def test_two_keys_never_match(first: bytes, second: bytes, block: int) -> None:
    one, other = Stream(first).block(block), Stream(second).block(block)
    told = Stream(first).numbers_told(other)
    if first == second:
        assert np.array_equal(one, other)
    else:
        assert not (one == other).all(axis=1).any()
        assert told.tolist() == [-1] * SECTORS_IN_BLOCK
        # and the words behind the first four, which tell the place, differ too, but for chance
        assert np.mean(one[:, 4:] == other[:, 4:]) < 0.001


@given(KEYS, st.lists(NUMBERS, min_size=2, max_size=6, unique=True), st.randoms(use_true_random=False))
@few
def test_blocks_are_equal_in_whatever_order_they_are_made(
    key: bytes, numbers: list[int], random: Random
) -> None:
    shuffled = random.sample(numbers, len(numbers))
    stream = Stream(key)
    first = {number: stream.block(number).tobytes() for number in numbers}
    again = {number: Stream(key).block(number).tobytes() for number in shuffled}
    assert first == again
    assert len(set(first.values())) == len(numbers)


@given(KEYS, NUMBERS, st.integers(0, 32 * 8 - 1))
@few
def test_a_sector_whose_number_is_spoilt_tells_none(key: bytes, block: int, bit: int) -> None:
    spoilt = bytearray(Stream(key).block(block)[:1].tobytes())
    spoilt[bit // 8] ^= 1 << bit % 8
    assert Stream(key).numbers_told(as_sectors(bytes(spoilt))).tolist() == [-1]


def test_the_content_cannot_be_packed_or_guessed() -> None:
    words = new_stream().block(0)[:, 4:]  # the first four tell the place
    assert len(zlib.compress(words.tobytes(), 9)) >= words.nbytes
    bits = np.unpackbits(words.copy().view(np.uint8))
    assert abs(bits.mean() - 0.5) < 0.001  # of 7.8 million bits: more than five times the usual error


def test_no_two_sectors_of_neighbouring_blocks_have_content_in_common() -> None:
    stream = new_stream()
    words = np.concatenate([stream.block(number)[:, 4:].ravel() for number in (0, 1, 2, 2**32, 2**38)])
    assert np.unique(words).size == words.size


def test_every_run_has_a_key_of_its_own() -> None:
    assert len({new_stream().key for _ in range(100)}) == 100


def test_other_content_has_no_mark() -> None:
    assert not has_mark(b"")
    assert not has_mark(bytes(BLOCK_BYTES))
    assert not has_mark(b"mediachk".rjust(100))  # no whole sector
    assert has_mark(bytes(SECTOR_BYTES) + new_stream().block(0)[:1].tobytes())
