"""What is kept of one item: a few pictures with their points, and a fingerprint of its whole length.

It must not know where it is kept.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.features import Points, points_of
from mediacheck.identify.footage import Rgb
from mediacheck.identify.retrieve import worded
from mediacheck.identify.traces import Trace, Tracer

POINTS = 150
FOUND = 500
"""So many are found, and those that are spread best are kept."""
SMALL = (192, 108)
"""Width and height of the picture that is kept, whatever shape the item has."""
EVERY_S = 2.0
"""At least one picture in this time, and more where the scene changes."""
CHANGED = 12.0
"""Mean difference of two small grey pictures, in levels, from which the scene counts as another one."""
STANDS = 1.5
"""Mean difference below which a scene stands still, and no further picture of it is kept."""
LEAST_S = 0.5
"""No two pictures stand closer together."""


@dataclass(frozen=True, slots=True)
class Keyframe:
    """A picture of an item. `small`: RGB, (108, 192, 3); `size_px`: what its points lie in."""

    second: float
    until_s: float
    """To where the next one begins."""
    size_px: tuple[int, int]
    small: NDArray[np.uint8]
    points: Points


@dataclass(frozen=True, slots=True)
class ItemIndex:
    """What is kept of one item."""

    seconds: float
    keyframes: tuple[Keyframe, ...]
    trace: Trace
    """By which a clip is found again along time."""


def index_of(pictures: Iterable[tuple[float, Rgb]]) -> ItemIndex:
    """Look at all pictures of an item once."""
    tracer = Tracer()
    chosen: list[tuple[float, Rgb]] = []
    last_s = 0.0
    choosing = _Choosing()
    for second, picture in pictures:
        tracer.see(second, picture)
        last_s = second
        if choosing.takes(second, picture):
            chosen.append((second, picture))
    seconds = last_s + (0.25 if chosen else 0.0)
    ends = [*(second for second, _ in chosen[1:]), seconds]
    frames = tuple(_keyframe(s, end, picture) for (s, picture), end in zip(chosen, ends, strict=True))
    return ItemIndex(seconds, frames, tracer.result())


class _Choosing:
    """Which pictures are kept: by time, and where the scene has become another one."""

    def __init__(self) -> None:
        self._kept: NDArray[np.float32] | None = None
        self._before: NDArray[np.float32] | None = None
        self._at_s = -EVERY_S

    def takes(self, second: float, picture: Rgb) -> bool:
        """Whether this one is kept. In a fade it is the picture behind it, when it stands still again."""
        grey = _grey(picture)
        settled = self._before is None or float(np.abs(grey - self._before).mean()) < CHANGED / 2
        self._before = grey
        off = float("inf") if self._kept is None else float(np.abs(grey - self._kept).mean())
        due, changed = second - self._at_s >= EVERY_S and off > STANDS, off > CHANGED
        if not (due or (changed and settled and second - self._at_s >= LEAST_S)):
            return False
        self._kept, self._at_s = grey, second
        return True


def _grey(picture: Rgb) -> NDArray[np.float32]:
    small = cv2.resize(picture, (32, 18), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), np.float32)


def _keyframe(second: float, until_s: float, picture: Rgb) -> Keyframe:
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    points = worded(points_of(np.asarray(grey, np.uint8), FOUND, POINTS))
    small = cv2.resize(picture, SMALL, interpolation=cv2.INTER_AREA)
    size = (picture.shape[1], picture.shape[0])
    return Keyframe(second, until_s, size, np.asarray(small, np.uint8), points)
