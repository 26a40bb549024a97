"""All pictures of the loops that may be shown, ready to be searched.

It must not look at photos.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.index import ItemIndex, Keyframe
from mediacheck.identify.retrieve import Floats, WordIndex, plain
from mediacheck.identify.verify import fine


@dataclass(frozen=True)
class Entry:
    """One loop: its name, and its items in play order."""

    name: str
    items: tuple[ItemIndex, ...]

    @property
    def seconds(self) -> float:
        """One round."""
        return sum(item.seconds for item in self.items)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a picture stands: in which loop, and from which second to which of its round."""

    loop: int
    from_s: float
    until_s: float


class Gallery:
    """Loops with all their pictures in one row."""

    def __init__(self, loops: Sequence[Entry]) -> None:
        self.loops = tuple(loops)
        self._fine: dict[int, Floats] = {}
        self.keyframes: list[Keyframe] = []
        self.spots: list[Spot] = []
        for number, loop in enumerate(loops):
            begin_s = 0.0
            for item in loop.items:
                for keyframe in item.keyframes:
                    self.keyframes.append(keyframe)
                    self.spots.append(Spot(number, begin_s + keyframe.second, begin_s + keyframe.until_s))
                begin_s += item.seconds

    @cached_property
    def words(self) -> WordIndex:
        """By their points."""
        return WordIndex([keyframe.points for keyframe in self.keyframes])

    @cached_property
    def rows(self) -> Floats:
        """By small pictures, one row each."""
        return plain([keyframe.small for keyframe in self.keyframes])

    @cached_property
    def loop_of(self) -> NDArray[np.int64]:
        """Number of the loop of each picture."""
        return np.array([spot.loop for spot in self.spots], np.int64)

    def fine(self, place: int) -> Floats:
        """Of a picture's small copy, without light and shade; kept for the next photo."""
        if place not in self._fine:
            self._fine[place] = fine(self.keyframes[place].small)
        return self._fine[place]

    def first(self, scores: Floats, loops: int, each: int) -> list[int]:
        """The best pictures: of so many loops, so many of each."""
        found: list[int] = []
        taken: dict[int, int] = {}
        for place in np.argsort(-scores, kind="stable"):
            if scores[place] <= 0:
                break
            loop = int(self.loop_of[place])
            if loop not in taken and len(taken) >= loops:
                continue
            if taken.get(loop, 0) < each:
                taken[loop] = taken.get(loop, 0) + 1
                found.append(int(place))
        return found
