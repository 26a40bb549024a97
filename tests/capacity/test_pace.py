"""How fast something went, on the whole and where it was slowest."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.capacity.pace import Pace, Stopwatch
from tests.device.false_media import Clock

MB = 1_000_000


def pace(*steps: tuple[float, int]) -> Pace:
    """From steps of (seconds, megabytes)."""
    marks = [(0.0, 0)]
    for seconds, megabytes in steps:
        marks.append((marks[-1][0] + seconds, marks[-1][1] + megabytes * MB))
    return Pace(tuple(marks))


def test_an_even_pace_has_no_slower_stretch() -> None:
    even = pace(*[(1.0, 20)] * 60)
    assert (even.mb_s, even.slowest_mb_s, even.stretch_s, even.judged) == (20.0, 20.0, 10.0, True)


def test_the_slowest_ten_seconds_are_found() -> None:
    found = pace(*[(1.0, 40)] * 30, *[(1.0, 10)] * 10, *[(1.0, 40)] * 30)
    assert found.slowest_mb_s == 10.0
    assert found.mb_s == pytest.approx((60 * 40 + 10 * 10) / 70)


def test_a_halt_shorter_than_ten_seconds_counts_with_its_neighbours() -> None:
    found = pace(*[(1.0, 40)] * 30, (5.0, 0), *[(1.0, 40)] * 30)
    assert found.slowest_mb_s == 20.0  # 5 s of 40 and 5 s of nothing


def test_a_short_run_is_told_by_tenths_and_not_judged() -> None:
    found = pace(*[(0.5, 40)] * 5, (0.5, 10), *[(0.5, 40)] * 4)
    assert (found.stretch_s, found.slowest_mb_s, found.judged) == (0.5, 20.0, False)


@pytest.mark.parametrize(
    ("step", "judged"), [((10.0, 1074), True), ((9.9, 1074), False), ((10.0, 1073), False)]
)
def test_it_takes_a_gibibyte_and_ten_seconds_to_judge(step: tuple[float, int], judged: bool) -> None:
    assert pace(step).judged is judged


def test_without_time_there_is_no_speed() -> None:
    assert (Pace().mb_s, Pace().slowest_mb_s) == (None, None)
    assert (pace((0.0, 5)).mb_s, pace((0.0, 5)).slowest_mb_s) == (None, None)


@given(st.lists(st.tuples(st.floats(0, 30), st.integers(0, 2000)), min_size=1, max_size=40))
def test_the_slowest_stretch_is_the_slowest_of_all_that_are_just_long_enough(
    steps: list[tuple[float, int]],
) -> None:
    found = pace(*steps)
    rates = [found.mb_s]
    for end in found.marks:
        begins = [begin for begin in found.marks if end[0] - begin[0] >= found.stretch_s and begin != end]
        if begins and end[0] > begins[-1][0]:
            rates.append((end[1] - begins[-1][1]) / (end[0] - begins[-1][0]) / MB)
    assert found.slowest_mb_s == (
        None if found.mb_s is None else min(rate for rate in rates if rate is not None)
    )


def test_a_stopwatch_counts_only_what_it_is_given() -> None:
    clock = Clock()
    watch = Stopwatch(clock)

    def work(seconds: float) -> str:
        clock.now_s += seconds
        return "done"

    assert watch.timed(work, 2.0) == "done"
    work(100.0)
    watch.mark(10)
    watch.timed(work, seconds=3.0)
    watch.mark(20)
    assert watch.pace == Pace(((0.0, 0), (2.0, 10), (5.0, 20)))


def test_time_spent_on_what_fails_counts() -> None:
    clock = Clock()
    watch = Stopwatch(clock)

    def fails() -> None:
        clock.now_s += 4.0
        raise FileNotFoundError

    with pytest.raises(FileNotFoundError):
        watch.timed(fails)
    watch.mark(1)
    assert watch.pace.seconds == 4.0
