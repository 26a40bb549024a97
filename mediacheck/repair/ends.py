"""Which part of a master is kept when leaders and black at its head and tail are cut off.

It must not judge: what counts as a leader or as black was measured.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from mediacheck.measure.model import Leader, Measurements
from mediacheck.measure.model import Span as Stretch
from mediacheck.names import RuleName
from mediacheck.repair.model import Span

EDGE_S = 0.25
"""So near to an end, test material or black belongs to it: a few frames of the picture between are lost."""
LEAST_S = 0.5
"""Less than this is no clip (common practice, no source)."""


def kept(measured: Measurements) -> Span | None:
    """The part between head and tail; None: nothing to cut off, or nothing would be left."""
    spans = [(part.start_s, part.end_s) for part in measured.leader or ()]
    spans += [(part.start_s, part.end_s) for part in measured.black or ()]
    start_s, end_s = _head_end(spans), _tail_start(spans, measured.seconds)
    if end_s - start_s < LEAST_S or (start_s, end_s) == (0.0, measured.seconds):
        return None
    return Span(start_s, end_s if end_s < measured.seconds else None)


def inside(measured: Measurements, black_max_s: float | None) -> frozenset[RuleName]:
    """Which rules still have something to find when head and tail are cut off."""
    part = kept(measured)
    if part is None:
        return frozenset()
    last_s = measured.seconds if part.end_s is None else part.end_s
    between = [
        (rule, span.end_s - span.start_s)
        for rule, spans in _found(measured)
        for span in spans
        if part.start_s <= span.start_s and span.end_s <= last_s
    ]
    return frozenset(
        rule for rule, long_s in between if rule != "picture-black" or long_s > (black_max_s or 0)
    )


def _found(measured: Measurements) -> Iterator[tuple[RuleName, Sequence[Leader | Stretch]]]:
    yield "picture-black", measured.black or ()
    yield "picture-leader", measured.leader or ()
    yield "picture-leader", measured.sound.tone if measured.sound else ()


def _head_end(spans: list[tuple[float, float]]) -> float:
    """How far the head reaches: a leader, then black, then perhaps another."""
    reached = 0.0
    for start_s, end_s in sorted(spans):
        if start_s <= reached + EDGE_S:
            reached = max(reached, end_s)
    return reached


def _tail_start(spans: list[tuple[float, float]], seconds: float) -> float:
    reached = seconds
    for start_s, end_s in sorted(spans, key=lambda span: -span[1]):
        if end_s >= reached - EDGE_S:
            reached = min(reached, start_s)
    return reached
