"""Which strips are shown to which gauge, and that it is the time which brings them together."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from mediacheck.measure.pieces import Piece, PieceKind
from mediacheck.measure.watch import Watch

Seen = list[tuple[int, int]]


def strip(kind: PieceKind, number: int) -> Piece:
    """Of a picture, a tenth of a second each; every sample has its number."""
    shape = (90, 32) if kind == "columns" else (18, 160)
    return Piece(kind, number / 10, np.full(shape, number, np.uint8))


def shown(monkeypatch: pytest.MonkeyPatch, *strips: Piece) -> tuple[Seen, Seen]:
    """The pictures whose strips the gauges for bars and for combs got, pair by pair."""
    watch, bars, combs = Watch(), Seen(), Seen()

    def note(seen: Seen, one: NDArray[Any], other: NDArray[Any]) -> None:
        seen.append((int(one[0, 0]), int(other[0, 0])))

    monkeypatch.setattr(watch.bars, "see", lambda one, other: note(bars, one, other))
    monkeypatch.setattr(watch.comb, "see", lambda one, other: note(combs, one, other))
    for piece in strips:
        watch.take(piece)
    return bars, combs


@pytest.mark.parametrize("rows_first", [False, True])
def test_bars_are_looked_for_in_the_first_picture_of_a_pair_and_combs_in_both(
    rows_first: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    strips = []
    for first in (0, 7, 14):
        both = strip("columns", first), strip("rows", first)
        strips += [*(both[::-1] if rows_first else both), strip("columns", first + 1)]
    bars, combs = shown(monkeypatch, *strips)
    assert bars == [(0, 0), (7, 7), (14, 14)]
    assert combs == [(0, 1), (7, 8), (14, 15)]


def test_where_the_picture_changes_its_form_the_pairs_begin_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """ffmpeg counts from 0 again: twice here, in the middle of a pair."""
    cut = [strip(kind, first) for first in (0, 1) for kind in ("columns", "rows")]
    later = [
        strip("columns", 2),
        strip("rows", 2),
        strip("columns", 3),
        strip("columns", 9),
        strip("rows", 9),
    ]
    bars, combs = shown(monkeypatch, *cut, *later, strip("columns", 10))
    assert bars == [(0, 0), (1, 1), (2, 2), (9, 9)]
    assert combs == [(0, 1), (1, 2), (2, 3), (9, 10)]
