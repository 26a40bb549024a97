"""The longest waits between pictures, however long the clip."""

from __future__ import annotations

from itertools import accumulate, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.measure.gaps import KEPT, GapGauge
from mediacheck.measure.model import Span


def gaps(*seconds: float) -> tuple[Span, ...]:
    gauge = GapGauge()
    for second in seconds:
        gauge.see(second)
    return gauge.result()


@pytest.mark.parametrize("seconds", [(), (0.0,)])
def test_without_a_next_picture_there_is_no_wait(seconds: tuple[float, ...]) -> None:
    assert gaps(*seconds) == ()


def test_waits_stand_in_the_order_of_the_clip() -> None:
    assert gaps(0.0, 1.0, 4.0, 4.5) == (Span(0.0, 1.0), Span(1.0, 4.0), Span(4.0, 4.5))


@given(st.lists(st.integers(0, 20), max_size=60))
def test_the_longest_are_kept_and_of_waits_as_long_the_earliest(steps: list[int]) -> None:
    seconds = [float(second) for second in accumulate(steps, initial=0)]
    waits = list(pairwise(seconds))
    kept = sorted(sorted(waits, key=lambda wait: (wait[0] - wait[1], wait[0]))[:KEPT])
    assert [(span.start_s, span.end_s) for span in gaps(*seconds)] == kept
