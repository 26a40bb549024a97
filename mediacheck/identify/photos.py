"""What a photo of a screen shows: every picture of a library that may be it, with how well it fits.

It must not decide: that is for `decide`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.features import Points, points_of
from mediacheck.identify.footage import HEIGHT, WIDTH
from mediacheck.identify.gallery import Gallery
from mediacheck.identify.index import SMALL
from mediacheck.identify.retrieve import Floats, plain
from mediacheck.identify.screens import Quad, screens_in
from mediacheck.identify.verify import (
    Agreement,
    Fit,
    Matrix,
    agreement,
    corners_in_photo,
    fit,
    is_screen,
    rectified,
    refined,
)

LOOK_PX = 800
"""The longer side of a photo while it is searched."""
POINTS, POINTS_OF_SCREEN = 900, 500
BY_WORDS, BY_SHAPE, AGAIN = 12, 6, 8
"""Loops that each way of searching brings in."""
EACH = 2
SHAPES = 2
"""So many of the screens that were found by their shapes are looked at."""
REFINED = 3
FEATURES = (
    "inliers", "spread", "mean", "good", "worst", "patch", "colour", "share", "votes", "row", "centre",
    "inside", "edge", "larger",
)  # fmt: skip
CREDIBLE = 0.3
"""Share of blocks that agree from which a sight says that there is a screen."""
BESIDE = 0.2
"""Screens that share less than this of the smaller one are two."""
LARGER_MAX = 3.0


@dataclass(frozen=True, slots=True)
class Sight:
    """One picture of the library in the photo."""

    keyframe: int
    matrix: Matrix
    inliers: int
    spread: float
    agreement: Agreement
    share: float
    """Of the photo that the screen takes."""
    votes: float
    """Of visual words, against the best picture."""
    row: float
    """Correlation of the small pictures."""
    centre: float
    """How far from the middle of the photo it lies, as a share of the way to a corner: people aim at what
    they ask about, and the screen next to it stands at the edge."""
    inside: float
    """How much of it is in the photo."""
    part: Quad
    """Of the photo: where it lies, a polygon of up to eight corners."""
    edge: float = 0.0
    """How far it covers the same as a screen that was found by its shape: 1 for the same corners."""
    larger: float = 0.0
    """How much larger the largest other screen in the photo is: as a power of two, -LARGER_MAX to LARGER_MAX.
    People ask about the largest; the one next to it may show a known loop as well."""

    def features(self) -> Floats:
        """In the order of FEATURES."""
        found = self.agreement
        return np.array(
            [
                np.log1p(self.inliers),
                self.spread,
                found.mean,
                found.good,
                found.worst,
                found.patch,
                found.colour,
                np.sqrt(self.share),
                self.votes,
                self.row,
                self.centre,
                self.inside,
                self.edge,
                self.larger,
            ],
            np.float32,
        )

    @property
    def rough(self) -> float:
        """Which sights are worth a closer look."""
        found = self.agreement
        return 2 * found.good + found.mean + 0.3 * float(np.log1p(self.inliers)) + 0.3 * self.spread


@dataclass(frozen=True, slots=True)
class Look:
    """All that was seen in one photo; the photo as it was searched."""

    photo: NDArray[np.uint8]
    sights: tuple[Sight, ...]
    screens: tuple[Quad, ...]


def look(photo: NDArray[np.uint8], gallery: Gallery) -> Look:
    """Search one photo, RGB, the right way up."""
    small = _smaller(photo)
    grey = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), np.uint8)
    if not gallery.keyframes:
        return Look(small, (), ())
    looking = _Looking(small, points_of(grey, POINTS), gallery)
    screens = screens_in(grey)
    looking.by_points()
    for quad in screens[:SHAPES]:
        looking.by_shape(quad)
    looking.again()
    looking.closer()
    return Look(small, looking.result(screens), screens)


def _smaller(photo: NDArray[np.uint8]) -> NDArray[np.uint8]:
    scale = LOOK_PX / max(photo.shape[:2])
    if scale >= 1:
        return photo
    return np.asarray(cv2.resize(photo, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.uint8)


class _Looking:
    """The ways of searching, one after the other; each adds what it finds."""

    def __init__(self, photo: NDArray[np.uint8], points: Points, gallery: Gallery) -> None:
        self._photo, self._points, self._gallery = photo, points, gallery
        self._size = photo.shape[1], photo.shape[0]
        self._votes = gallery.words.votes(points)
        self._most = max(1e-6, float(self._votes.max(initial=0)))
        self._sights: dict[int, Sight] = {}

    def by_points(self) -> None:
        """Pictures with many words in common, verified by geometry."""
        for place in self._gallery.first(self._votes, BY_WORDS, EACH):
            found = fit(self._points, self._size, self._gallery.keyframes[place])
            if found is not None:
                self._add(place, found.matrix, found)

    def by_shape(self, quad: Quad) -> None:
        """Pictures like what is on a screen that was found by its shape."""
        matrix = _onto(quad)
        if is_screen(matrix, (WIDTH, HEIGHT), self._size):
            self._on_screen(matrix, (WIDTH, HEIGHT), BY_SHAPE)

    def again(self) -> None:
        """Where a picture fits, there is a screen: once more, with that part of the photo alone."""
        best = max(self._sights.values(), key=lambda sight: sight.rough, default=None)
        if best is None or best.agreement.good < 0.2:
            return
        keyframe = self._gallery.keyframes[best.keyframe]
        matrix = refined(self._photo, best.matrix, keyframe)
        self._add(best.keyframe, matrix, None)
        self._on_screen(matrix, keyframe.size_px, AGAIN)

    def closer(self) -> None:
        """The best of different loops, each laid on the photo as exactly as it goes."""
        taken: set[int] = set()
        for sight in sorted(self._sights.values(), key=lambda sight: -sight.rough):
            loop = int(self._gallery.loop_of[sight.keyframe])
            if loop in taken or len(taken) >= REFINED:
                continue
            taken.add(loop)
            keyframe = self._gallery.keyframes[sight.keyframe]
            self._add(sight.keyframe, refined(self._photo, sight.matrix, keyframe), None)

    def result(self, screens: Sequence[Quad]) -> tuple[Sight, ...]:
        """The best first, each seen among all the screens of the photo."""
        ordered = sorted(self._sights.values(), key=lambda sight: -sight.rough)
        shapes = [_clipped(quad, self._size) for quad in screens]
        others = [*shapes, *(sight.part for sight in ordered if sight.agreement.good > CREDIBLE)]
        return tuple(
            replace(sight, edge=_edge(sight.part, shapes), larger=_larger(sight.part, others))
            for sight in ordered
        )

    def _on_screen(self, matrix: Matrix, size_px: tuple[int, int], loops: int) -> None:
        seen, inside = rectified(self._photo, matrix, size_px, (WIDTH, HEIGHT))
        if inside.mean() < 0.3:
            return
        grey = np.asarray(cv2.cvtColor(seen, cv2.COLOR_RGB2GRAY), np.uint8)
        points = points_of(grey, POINTS_OF_SCREEN)
        rows = self._gallery.rows @ plain([seen])[0]
        votes = self._gallery.words.votes(points)
        both = votes / max(1e-6, float(votes.max(initial=0))) + np.maximum(0, rows)
        places = [*self._gallery.first(rows, loops, EACH), *self._gallery.first(both, loops, EACH)]
        scale = np.diag([WIDTH / size_px[0], HEIGHT / size_px[1], 1.0])
        for place in dict.fromkeys(places):
            keyframe = self._gallery.keyframes[place]
            here = _between((WIDTH, HEIGHT), keyframe.size_px) @ scale @ matrix
            self._add(place, here, None, float(rows[place]))
            found = fit(points, (WIDTH, HEIGHT), keyframe)
            if found is not None:
                there = found.matrix @ scale @ matrix
                if is_screen(there, keyframe.size_px, self._size):
                    self._add(place, there, found, float(rows[place]))

    def _add(self, place: int, matrix: Matrix, found: Fit | None, row: float | None = None) -> None:
        """Keep a sight if it is the best of its picture; points that agree stay known."""
        keyframe = self._gallery.keyframes[place]
        before = self._sights.get(place)
        seen, inside = rectified(self._photo, matrix, keyframe.size_px, SMALL)
        quad = corners_in_photo(matrix, keyframe.size_px)
        if quad is None or not np.isfinite(quad).all():
            return
        part = _clipped(quad, self._size)
        share, centre, within = _placed(quad, part, self._size)
        sight = Sight(
            place,
            matrix,
            max(found.inliers if found else 0, before.inliers if before else 0),
            max(found.spread if found else 0.0, before.spread if before else 0.0),
            agreement(seen, inside, keyframe.small, self._gallery.fine(place)),
            share,
            float(self._votes[place]) / self._most,
            max(
                row if row is not None else -1.0,
                before.row if before else float(self._gallery.rows[place] @ plain([seen])[0]),
            ),
            centre,
            within,
            part,
        )
        if before is None or sight.rough >= before.rough:
            self._sights[place] = sight
        else:
            self._sights[place] = replace(before, inliers=sight.inliers, spread=sight.spread, row=sight.row)


def _placed(quad: Quad, part: Quad, size_px: tuple[int, int]) -> tuple[float, float, float]:
    """Share of the photo that it takes, how far from the middle it is, and how much of it is in the photo."""
    width, height = size_px
    shared = float(cv2.contourArea(part))
    if shared <= 0:
        return 0.0, 1.0, 0.0
    middle = part.mean(axis=0) - np.array([width / 2, height / 2])
    centre = float(np.linalg.norm(middle)) / float(np.hypot(width / 2, height / 2))
    within = shared / max(1.0, float(cv2.contourArea(quad)))
    return shared / (width * height), min(1.0, centre), min(1.0, within)


def _clipped(quad: Quad, size_px: tuple[int, int]) -> Quad:
    """What of it is in the photo: a polygon of up to eight corners, or one of no area."""
    width, height = size_px
    frame = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    _, part = cv2.intersectConvexConvex(np.asarray(quad, np.float32), frame)
    return np.asarray(part, np.float32).reshape(-1, 2) if part is not None else np.zeros((3, 2), np.float32)


def _edge(quad: Quad, shapes: Sequence[Quad]) -> float:
    """Overlap with the shape that it covers best, as a share of both together."""
    area, best = float(cv2.contourArea(quad)), 0.0
    for other in shapes:
        shared, _ = cv2.intersectConvexConvex(quad, other)
        best = max(best, shared / max(1.0, area + float(cv2.contourArea(other)) - shared))
    return min(1.0, best)


def _larger(quad: Quad, others: Sequence[Quad]) -> float:
    own = max(1.0, float(cv2.contourArea(quad)))
    areas = [float(cv2.contourArea(other)) for other in others if beside(quad, other)]
    return float(np.clip(np.log2(max(1.0, *areas, 1.0) / own), -LARGER_MAX, LARGER_MAX))


def beside(one: Quad, other: Quad) -> bool:
    """Whether two screens are two, and not one seen twice."""
    areas = [float(cv2.contourArea(quad)) for quad in (one, other)]
    return float(cv2.intersectConvexConvex(one, other)[0]) < BESIDE * min(areas)


def _onto(quad: Quad) -> Matrix:
    """From the photo to a picture of 640 x 360."""
    goal = np.array([[0, 0], [WIDTH, 0], [WIDTH, HEIGHT], [0, HEIGHT]], np.float32)
    return np.asarray(cv2.getPerspectiveTransform(quad, goal), float)


def _between(one: tuple[int, int], other: tuple[int, int]) -> Matrix:
    return np.diag([other[0] / one[0], other[1] / one[1], 1.0])


def best_of_loops(sights: Iterable[Sight], gallery: Gallery, scores: Floats) -> list[tuple[int, int]]:
    """For each loop that was seen, its best sight by these scores: (loop, sight), the best first."""
    found: dict[int, int] = {}
    for number, sight in enumerate(sights):
        loop = int(gallery.loop_of[sight.keyframe])
        if loop not in found or scores[number] > scores[found[loop]]:
            found[loop] = number
    return sorted(found.items(), key=lambda item: -float(scores[item[1]]))
