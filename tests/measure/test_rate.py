"""The busiest second of a clip, against counting it the slow way."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.measure.rate import greatest_second_bits
from mediacheck.media.facts import PacketFacts

PACKETS = st.lists(st.tuples(st.integers(0, 250), st.integers(0, 2**32 - 1)), min_size=1, max_size=60)
"""Decode times in frames at 25 frames/s, and sizes in bytes."""


def packets(times_s: list[float], sizes_bytes: list[int]) -> PacketFacts:
    times, sizes = np.array(times_s, "<f8").tobytes(), np.array(sizes_bytes, "<u4").tobytes()
    return PacketFacts(len(times_s), Fraction(0), sum(sizes_bytes), 1, True, 0, 0, 0, times, sizes)


@given(PACKETS)
def test_no_second_holds_more_and_one_holds_as_much(clip: list[tuple[int, int]]) -> None:
    """In any order of the packets; a second is half open, so a frame exactly 1 s later is not in it."""
    greatest = max(sum(size for at, size in clip if start <= at < start + 25) for start, _ in clip)
    found = greatest_second_bits(packets([at / 25 for at, _ in clip], [size for _, size in clip]))
    assert found == 8 * greatest


def test_at_a_constant_rate_a_second_holds_as_many_packets_as_the_rate_says() -> None:
    """Times of 30000/1001 frames/s are not exact in floating point; 30 packets begin within a second."""
    times = [number * 1001 / 30000 for number in range(300)]
    assert greatest_second_bits(packets(times, [1000] * 300)) == 8 * 30 * 1000
    assert greatest_second_bits(packets([number / 30 for number in range(300)], [7] * 300)) == 8 * 30 * 7


def test_without_packets_there_is_no_answer() -> None:
    assert greatest_second_bits(packets([], [])) is None


def test_times_without_sizes_give_no_answer() -> None:
    lame = PacketFacts(1, Fraction(0), 0, 1, True, 0, 0, 0, np.zeros(1, "<f8").tobytes(), b"")
    assert greatest_second_bits(lame) is None
