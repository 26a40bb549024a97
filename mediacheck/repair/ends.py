"""Which part of a master is kept when leaders and black at its head and tail are cut off.

It must not judge: what counts as a leader or as black was measured.
"""

from __future__ import annotations

from mediacheck.measure.model import Measurements
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
