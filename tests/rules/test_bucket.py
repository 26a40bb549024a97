"""The leaky bucket: worked examples, and the laws that any bucket keeps."""

from __future__ import annotations

import struct
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.rules.bucket import ROUNDING_BITS, Dry, first_dry

RATE = 8_000
"""bit/s: 1000 bytes in a second."""

streams = st.lists(st.tuples(st.integers(0, 2_000), st.integers(0, 50_000)), min_size=1, max_size=60)
"""Frames as (milliseconds since the frame before, bytes)."""


def run(times: Sequence[float], sizes: Sequence[int], rate: float = RATE, bucket: float = RATE) -> Dry | None:
    """The bucket over plain lists."""
    return first_dry(
        struct.pack(f"<{len(times)}d", *times), struct.pack(f"<{len(sizes)}I", *sizes), rate, bucket
    )


def times_of(stream: Sequence[tuple[int, int]]) -> list[float]:
    """Decode times in seconds."""
    total, times = 0, []
    for wait, _ in stream:
        total += wait
        times.append(total / 1000)
    return times


@pytest.mark.parametrize(
    ("times", "sizes", "expected"),
    [
        ([0.0], [1000], None),
        ([0.0], [1001], Dry(0.0, 8.0)),
        ([0.0, 1.0, 2.0], [1000, 1000, 1000], None),
        ([0.0, 0.5], [1000, 501], Dry(0.5, 8.0)),
        ([0.0, 0.5], [1000, 500], None),
        ([0.0, 10.0, 10.0], [0, 1000, 1], Dry(10.0, 8.0)),
        ([5.0, 5.5], [1000, 501], Dry(0.5, 8.0)),
        ([-0.5, 0.0], [1000, 501], Dry(0.5, 8.0)),
        ([0.0, 0.25, 0.5, 0.75], [400, 400, 900, 100], Dry(0.5, 1600.0)),
    ],
    ids=[
        "a frame as large as the bucket fits",
        "a frame larger than the bucket is short at once",
        "frames at the rate never run dry",
        "the bucket is half full after half a second",
        "exactly enough is enough",
        "a long wait fills the bucket and no more",
        "seconds count from the first frame",
        "decode times may begin below zero",
        "the first shortfall counts",
    ],
)
def test_worked_examples(times: list[float], sizes: list[int], expected: Dry | None) -> None:
    assert run(times, sizes) == expected


def test_time_stamps_that_step_back_do_not_fill_the_bucket_twice() -> None:
    assert run([0.0, 0.5, 0.0, 0.5], [1000, 0, 0, 501]) == Dry(0.5, 8.0)


def test_rounding_of_time_stamps_is_not_a_shortfall() -> None:
    third = 1 / 3
    assert run([number * third for number in range(3_000)], [1000] * 3_000, 24_000, 8_000) is None


@given(st.integers(1, 200), st.integers(1, 100_000), st.sampled_from([24.0, 25.0, 30.0, 59.94]))
def test_a_constant_stream_at_the_rate_never_runs_dry(count: int, size: int, frames_s: float) -> None:
    rate = 8 * size * frames_s
    assert run([number / frames_s for number in range(count)], [size] * count, rate, 8 * size) is None


@given(streams, st.integers(1_000, 1_000_000), st.floats(0.1, 4), st.floats(1, 10))
def test_a_faster_player_runs_dry_nowhere_earlier(
    stream: list[tuple[int, int]], rate: int, seconds: float, faster: float
) -> None:
    times, sizes = times_of(stream), [size for _, size in stream]
    slow, fast = (run(times, sizes, r, r * seconds) for r in (rate, rate * faster))
    if fast is not None:
        assert slow is not None
        assert slow.second <= fast.second


@given(streams, st.integers(1_000, 1_000_000), st.floats(0.1, 4))
def test_what_is_short_is_never_more_than_the_stream_holds(
    stream: list[tuple[int, int]], rate: int, seconds: float
) -> None:
    times, sizes = times_of(stream), [size for _, size in stream]
    dry = run(times, sizes, rate, rate * seconds)
    if dry is not None:
        assert ROUNDING_BITS < dry.short_bits <= 8 * sum(sizes)
        assert 0 <= dry.second <= times[-1] - times[0]


@given(streams, st.integers(1_000, 1_000_000), st.floats(0.1, 4))
def test_a_slow_reckoning_of_every_stretch_agrees(
    stream: list[tuple[int, int]], rate: int, seconds: float
) -> None:
    """Dry means: some stretch of frames asks for more than a full bucket and what flows in meanwhile."""
    times, sizes = times_of(stream), [size for _, size in stream]
    excess = max(
        8 * sum(sizes[first : last + 1]) - rate * seconds - rate * (times[last] - times[first])
        for first in range(len(sizes))
        for last in range(first, len(sizes))
    )
    if abs(excess - ROUNDING_BITS) > 0.01:
        assert (run(times, sizes, rate, rate * seconds) is not None) == (excess > ROUNDING_BITS)


@pytest.mark.parametrize(
    ("times", "sizes"),
    [
        (b"", b""),
        (struct.pack("<2d", 0, 1), struct.pack("<I", 5)),
        (struct.pack("<d", float("nan")), struct.pack("<I", 5)),
        (struct.pack("<d", float("inf")), struct.pack("<I", 5)),
        (struct.pack("<d", 0)[:-1], struct.pack("<I", 5)),
    ],
    ids=["nothing at all", "lengths differ", "not a number", "endless", "a broken value"],
)
def test_unusable_arrays_are_refused_and_never_called_fine(times: bytes, sizes: bytes) -> None:
    with pytest.raises(ValueError, match="times"):
        first_dry(times, sizes, RATE, RATE)
