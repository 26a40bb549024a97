"""A trace is the same whenever its bars are settled, and a picture stands until the next one comes."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from mediacheck.identify import traces
from mediacheck.identify.traces import HEIGHT, STEP_S, WIDTH, Tracer


def shown(count: int) -> list[NDArray[np.uint8]]:
    """Noise between bars above and below."""
    found = np.zeros((count, 180, 320, 3), np.uint8)
    found[:, 20:160] = np.random.default_rng(1).integers(60, 250, (count, 140, 320, 1), np.uint8)
    return list(found)


def traced(pictures: list[NDArray[np.uint8]], step_s: float = STEP_S) -> NDArray[np.uint8]:
    tracer = Tracer()
    for number, picture in enumerate(pictures):
        tracer.see(number * step_s, picture)
    return tracer.result().pictures


@pytest.mark.parametrize("settled", [1, 5, 12, 99])
def test_bars_are_cut_off_whenever_they_are_settled(settled: int, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = traced(shown(12))
    monkeypatch.setattr(traces, "SETTLED", settled)
    assert whole.shape == (12, HEIGHT, WIDTH)
    assert whole[:, 0].mean() > 100, "the bar is cut off"
    assert np.array_equal(traced(shown(12)), whole)


@pytest.mark.parametrize("settled", [2, 99])
def test_a_picture_stands_until_the_next_one_comes(settled: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(traces, "SETTLED", settled)
    found = traced(shown(3), step_s=3 * STEP_S)
    assert len(found) == 7
    assert np.array_equal(found[0], found[2])
    assert np.array_equal(found[3], found[5])
    assert not np.array_equal(found[2], found[3])


def test_nothing_gives_nothing() -> None:
    assert traced([]).shape == (0, HEIGHT, WIDTH)
