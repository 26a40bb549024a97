"""Which pictures tell the faces of a display apart: those that differ are chosen and marked.

It must not read files: it compares the pictures that were brought back from each card.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.choice import Look, choose, look_at
from mediacheck.measure.model import Picture

OTHER_SCENE_LEVELS = 25.0
"""Mean difference, of 256 levels, from which on two pictures are of different scenes: what moves within one
stays below (common practice in finding cuts; PySceneDetect's content detector has 27)."""
SAME_MOMENT_S = 0.002
"""Pictures of two encodings of one film stand at the same time to the last digit: only those are compared
place by place."""
OTHER_PLACE_LEVELS, OTHER_PLACES = 40.0, 4
"""So many of the 144 cells that differ by so much are more than encoders do: another logo, another price."""
MOSTLY = 0.5
"""Share of its pictures that a loop has in common with another face's, above which those are marked that it
has not."""
CELLS_PX = (9, 16)
"""Down and across."""

Pictures = Mapping[str, tuple[Picture, ...]]
"""By the path of the item."""
Seconds = Mapping[str, Fraction | None]
Cells = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Loop:
    """The pictures of one face's loop to choose from, and how long each item lasts."""

    pictures: Pictures
    seconds: Seconds


@dataclass(frozen=True, slots=True)
class Told:
    """The pictures to draw of one face, and what tells them from the other faces'."""

    pictures: Pictures
    only_here: Mapping[str, frozenset[float]]
    """By item, the seconds of pictures of which no other face has any that is alike; marked only where the
    loop has most of its pictures in common with another face."""
    lead: Mapping[str, Picture]
    """By item, the one picture that stands for it: one that only this face has, where there is one."""
    common: tuple[float, ...]
    """For each face in order: the share of this loop's pictures that it has too; 1 for the face itself."""


def told_apart(loops: Sequence[Loop], count: int) -> tuple[Told, ...]:
    """Choose up to `count` pictures of each item of each face."""
    faces = [_Compared(loop) for loop in loops]
    return tuple(_told(face, faces, count) for face in faces)


class _Compared:
    """The pictures of one face with what is told from them."""

    def __init__(self, loop: Loop) -> None:
        self.looks = {path: tuple(map(look_at, pictures)) for path, pictures in loop.pictures.items()}
        self.drawn = [
            (path, look) for path, looks in self.looks.items() for look in looks if not look.is_empty
        ]
        cells = [_cells(look) for _, look in self.drawn]
        self.cells: Cells = np.stack(cells) if cells else np.zeros((0, *CELLS_PX, 3), np.float32)
        self.seconds = np.array([look.picture.second for _, look in self.drawn])
        paths = list(self.looks)
        self.items = np.array([paths.index(path) for path, _ in self.drawn], int)
        lengths = [loop.seconds.get(path) for path, _ in self.drawn]
        self.lengths = np.array([np.nan if length is None else float(length) for length in lengths])

    def has_like(self, other: _Compared, place: int) -> bool:
        """Whether any picture of this face is like one of another's."""
        if not len(self.cells):
            return False
        differences = np.abs(self.cells - other.cells[place])
        same_moment = (np.abs(self.seconds - other.seconds[place]) <= SAME_MOMENT_S) & (
            np.abs(self.lengths - other.lengths[place]) <= SAME_MOMENT_S
        )
        unlike = differences.mean(axis=(1, 2, 3)) >= OTHER_SCENE_LEVELS
        changed = (differences.max(axis=3) >= OTHER_PLACE_LEVELS).sum(axis=(1, 2)) >= OTHER_PLACES
        twins = same_moment & ~unlike
        # Where an item has the same moment, it alone tells; else any picture of the same scene does.
        others = ~unlike & ~np.isin(self.items, self.items[twins])
        return bool((twins & ~changed).any() or others.any())


def _told(face: _Compared, faces: list[_Compared], count: int) -> Told:
    others = [other for other in faces if other is not face]
    found = np.array([[other.has_like(face, i) for i in range(len(face.drawn))] for other in others], bool)
    shares = iter(found.mean(axis=1) if found.size else [0.0] * len(others))
    common = tuple(1.0 if other is face else float(next(shares)) for other in faces)
    marked: dict[str, frozenset[float]] = {}
    if (
        found.size
        and max(share for other, share in zip(faces, common, strict=True) if other is not face) > MOSTLY
    ):
        alone = ~found.any(axis=0)
        for place in np.flatnonzero(alone):
            path, look = face.drawn[place]
            marked[path] = marked.get(path, frozenset()) | {look.picture.second}
    chosen = {
        path: _chosen(looks, count, marked.get(path, frozenset())) for path, looks in face.looks.items()
    }
    shown = {path: {picture.second for picture in pictures} for path, pictures in chosen.items()}
    lead = {path: _chosen(looks, 1, marked.get(path, frozenset())) for path, looks in face.looks.items()}
    return Told(
        chosen,
        {path: seconds & shown[path] for path, seconds in marked.items()},
        {path: pictures[0] for path, pictures in lead.items() if pictures},
        common,
    )


def _chosen(looks: Sequence[Look], count: int, preferred: frozenset[float]) -> tuple[Picture, ...]:
    return tuple(look.picture for look in choose(looks, count, preferred))


def _cells(look: Look) -> Cells:
    down, across = CELLS_PX
    return np.asarray(look.tiny.reshape(down, 2, across, 2, 3).mean(axis=(1, 3)), np.float32)
