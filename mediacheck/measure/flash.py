"""How often the picture flashes: general and red flashes, as WCAG 2.2 and ITU-R BT.1702 define them.

It must not judge: three in a second, as the limit, belongs to the rule. This is a screening, no certificate.

Every cell of the picture is followed by itself. A change of a cell counts when it amounts to enough,
whether it came at once or in small steps; a change of the picture, when more than a quarter of the cells
change the same way together; a flash, when those very cells then change back.
"""

from __future__ import annotations

import itertools
import math
from collections import deque
from collections.abc import Iterator
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.measure.luminance import chromaticity, relative_luminance
from mediacheck.measure.model import Flash

STEP_MIN = 0.1
"""A change counts from a tenth of the greatest luminance on (WCAG 2.2; 20 cd/m2 of 200 in BT.1702)."""
DARKER_MAX = 0.8
"""The darker of the two states lies below this (WCAG 2.2; 160 cd/m2 of 200 in BT.1702)."""
BRIGHT_ENOUGH = DARKER_MAX + STEP_MIN
"""What is brighter is taken for this: no step is left from `DARKER_MAX` upwards, and all others stay."""
RED_STEP_MIN = 0.2
"""The two states of a red change lie further apart than this in u'v' (WCAG 2.2, after ISO 9241-391)."""
AREA_MAX = 0.25
"""Up to a quarter of the screen may flash (BT.1702; WCAG 2.2: a quarter of any 10 degree field)."""
WINDOW_S = 1.0
TIME_ROUNDING_S = 0.001
"""Matroska keeps times in milliseconds: two pictures a second apart may be 0.999 s apart."""
TOGETHER_S = 0.05
"""Changes less than this apart are one: the cells of a quick fade do not all reach the limit in the same
picture (common practice, no source)."""
APART_S = TOGETHER_S - TIME_ROUNDING_S
GENERAL_CELLS_MAX = 20_000
"""Pictures of 160 x 90 and 160 x 120 are followed pixel by pixel; a square one is halved."""
RED_CELLS_MAX = 5_000
"""Red is followed at half that size. A cell that lies across an edge may count: at the limit of area that is
less than 2 % of the screen."""
RED_TOGETHER = 4
"""Pictures that are looked at for red in one go: arithmetic on so few cells is slow."""

Plane = NDArray[np.float32]
Cells = NDArray[np.bool_]
Changes = tuple[Cells, Cells]
"""Cells that have just changed one way (brighter; to red), and the other (darker; away from red)."""


class FlashGauge:
    """Counts flashes as pictures go by; memory holds one second of them."""

    def __init__(self) -> None:
        self._luminance, self._general = _LuminanceChanges(), _Tally()
        self._redness, self._red = _RedChanges(), _Tally()
        self._waiting: NDArray[np.uint8] | None = None
        """Room for the pictures that are looked at for red together, and when those came that wait in it."""
        self._waiting_s: list[float] = []

    def see(self, second: float, picture: NDArray[np.uint8]) -> None:
        """Take the next picture: uint8 (h, w, 3), RGB over the full range 0 to 255."""
        self._general.see(second, self._luminance.see(_shrunk(picture, GENERAL_CELLS_MAX)))
        small = _shrunk(picture, RED_CELLS_MAX)
        if self._waiting is None:
            self._waiting = np.empty((RED_TOGETHER, *small.shape), np.uint8)
        self._waiting[len(self._waiting_s)] = small
        self._waiting_s.append(second)
        if len(self._waiting_s) == RED_TOGETHER:
            self._look_for_red()

    def _look_for_red(self) -> None:
        if self._waiting is None or not self._waiting_s:
            return
        seconds, self._waiting_s = self._waiting_s, []
        for second, changes in zip(seconds, self._redness.see(self._waiting[: len(seconds)]), strict=True):
            self._red.see(second, changes)

    def result(self, end_s: float) -> Flash:
        """The greatest number of flashes in any second, and the time of the first flash of that second.

        A flash counts at the moment at which it is complete. A second is half open: flashes that follow each
        other at exactly 1/3 s are three in every second, as in BT.1702 (leading edges 334 ms apart at 60 Hz
        are acceptable). The clip is looked at once: flashes on either side of the loop's seam are not added.
        """
        self._look_for_red()
        general, red = self._general, self._red
        return Flash(general.greatest, general.at_s, red.greatest, red.at_s)


def _shrunk(picture: NDArray[np.uint8], cells_max: int) -> NDArray[np.uint8]:
    """The picture, halved by averaging until it has few enough cells."""
    height, width = picture.shape[:2]
    if width * height <= cells_max:
        return picture
    size = (max(1, width // 2), max(1, height // 2))
    halved = cast("NDArray[np.uint8]", cv2.resize(picture, size, interpolation=cv2.INTER_AREA))
    return _shrunk(halved, cells_max)


class _LuminanceChanges:
    """Follows each cell between its turning points."""

    def __init__(self) -> None:
        self._high: Plane | None = None

    def see(self, picture: NDArray[np.uint8]) -> Changes | None:
        """Cells that have just risen, and fallen, by a full step; None for the first picture."""
        now = relative_luminance(picture)
        cv2.threshold(now, BRIGHT_ENOUGH, 0, cv2.THRESH_TRUNC, now)
        step_up = now + STEP_MIN
        if self._high is None:
            self._high, self._rise_at = now, step_up
            self._may_rise, self._may_fall = np.ones(now.shape, np.bool_), np.ones(now.shape, np.bool_)
            return None
        np.maximum(self._high, now, out=self._high)
        np.minimum(self._rise_at, step_up, out=self._rise_at)
        rises, falls = now >= self._rise_at, step_up <= self._high
        rises &= self._may_rise
        falls &= self._may_fall
        self._turn(rises, self._may_rise, self._may_fall, self._high, now)
        self._turn(falls, self._may_fall, self._may_rise, self._rise_at, step_up)
        return rises, falls

    @staticmethod
    def _turn(cells: Cells, done: Cells, open_: Cells, extreme: Plane, now: Plane) -> None:
        """A cell that has risen can only fall next, from the highest point since it rose; or the reverse."""
        done ^= cells
        open_ |= cells
        _put(now, cells, extreme)


class _RedChanges:
    """Follows each cell to saturated red and back; the states compared are the furthest on either side."""

    def __init__(self) -> None:
        self._at_red: Cells | None = None

    def see(self, pictures: NDArray[np.uint8]) -> Iterator[Changes | None]:
        """For each of the pictures (count, h, w, 3), the cells that have just become red, and ceased to be.

        None where there is no red on either side, and for the very first picture.
        """
        count, height, width = pictures.shape[:3]
        u, v, red = chromaticity(pictures.reshape(-1, width, 3))
        parts = (part.reshape(count, height, width) for part in (u, v, _length(u, v), red))
        return itertools.starmap(self._follow, zip(*parts, strict=True))

    def _follow(self, u: Plane, v: Plane, away: Plane, red: Cells) -> Changes | None:
        """Take one picture: u' and v' of its cells, how far they are away from red, and which are red."""
        if self._at_red is None:
            self._at_red, self._u, self._v, self._away = red, u, v, away
            return None
        anchored, changes = away > self._away, None
        concerned = red | self._at_red
        if np.count_nonzero(concerned):
            far = _length(u - self._u, v - self._v) > RED_STEP_MIN
            changed = far & concerned
            changes = changed > self._at_red, changed & self._at_red
            self._at_red ^= changed
            # At red the nearer state is kept, elsewhere the further one.
            anchored ^= ((red > anchored) ^ anchored) & self._at_red
            anchored |= changed
        for now, anchor in ((u, self._u), (v, self._v), (away, self._away)):
            _put(now, anchored, anchor)
        return changes


def _length(u: Plane, v: Plane) -> Plane:
    return cast("Plane", cv2.magnitude(u, v))


def _put(source: Plane, cells: Cells, target: Plane) -> None:
    """Copy the marked cells into `target`; several times faster than numpy's own masked copy."""
    cv2.copyTo(source, cells.view(np.uint8), target)


class _Way:
    """Changes of the picture in one direction."""

    def __init__(self, shape: tuple[int, ...]) -> None:
        self.changed_s = np.full(shape, -math.inf)
        """When each cell last took part in a change of the picture."""
        self._recent: deque[tuple[float, Cells, int]] = deque()
        """When cells changed, which, and how many; only those that count as together."""
        self._recent_cells = 0

    def see(self, second: float, cells: Cells) -> Cells | None:
        """Take the cells that change in this picture; if it changes as a whole, those that do so together."""
        recent = self._recent
        while recent and second - recent[0][0] > APART_S:
            self._recent_cells -= recent.popleft()[2]
        count = int(np.count_nonzero(cells))
        if not count:
            return None
        recent.append((second, cells, count))
        self._recent_cells += count
        # The sum is no less than the area, and most pictures are settled by it.
        return self._together() if self._recent_cells > AREA_MAX * cells.size else None

    def _together(self) -> Cells | None:
        together: Cells = np.logical_or.reduce([cells for _, cells, _ in self._recent])
        if not _is_wide(together):
            return None
        for changed_s, changed, _ in self._recent:
            self.changed_s[changed] = changed_s
        return together


def _is_wide(cells: Cells) -> bool:
    return int(np.count_nonzero(cells)) > AREA_MAX * cells.size


class _Series:
    """Flashes that follow each other: the next one begins after the last one is complete."""

    def __init__(self) -> None:
        self.times: deque[float] = deque()
        """When flashes were complete, over the last second."""
        self._last_s = -math.inf

    def see(self, second: float, began_s: NDArray[np.float64]) -> None:
        """Take a change back, and when each cell had changed the other way (minus infinity: it had not)."""
        if not _is_wide(began_s > max(second - WINDOW_S + TIME_ROUNDING_S, self._last_s)):
            return
        self._last_s = second
        self.times.append(second)
        while second - self.times[0] > WINDOW_S - TIME_ROUNDING_S:
            self.times.popleft()


class _Tally:
    """From changes of cells to changes of the picture, to flashes, to the greatest number in a second.

    Three series are kept: flashes that end with the one change, with the other, and with either. The longest
    stands: a single one would depend on the change with which the pairing began, and on the place on the
    screen. That the flashes of a series follow each other keeps two halves of a screen that flash in turn
    from counting twice as often as each of them.
    """

    def __init__(self) -> None:
        self.greatest = 0
        self.at_s: float | None = None
        self._ways: tuple[_Way, _Way] | None = None
        self._series = _Series(), _Series()
        self._either = _Series()

    def see(self, second: float, changes: Changes | None) -> None:
        """Take what changed in this picture."""
        if changes is None:
            return
        if self._ways is None:
            self._ways = _Way(changes[0].shape), _Way(changes[0].shape)
        for place, cells in enumerate(changes):
            together = self._ways[place].see(second, cells)
            if together is not None:
                began_s = np.where(together, self._ways[1 - place].changed_s, -math.inf)
                self._count(second, began_s, self._series[place])

    def _count(self, second: float, began_s: NDArray[np.float64], own: _Series) -> None:
        for series in (own, self._either):
            series.see(second, began_s)
            if len(series.times) > self.greatest:
                self.greatest, self.at_s = len(series.times), series.times[0]
