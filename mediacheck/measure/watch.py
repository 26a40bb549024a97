"""All gauges before one clip: each piece that its decode hands over is shown to those that look at its kind.

It must not decode, and knows no gauge's question.
"""

from __future__ import annotations

import cv2

from mediacheck.measure.bars import BarsGauge
from mediacheck.measure.black import BlackGauge
from mediacheck.measure.comb import CombGauge
from mediacheck.measure.fingerprint import FingerprintGauge
from mediacheck.measure.flash import FlashGauge
from mediacheck.measure.frozen import FrozenGauge
from mediacheck.measure.gaps import GapGauge
from mediacheck.measure.leader import LeaderGauge
from mediacheck.measure.model import Picture
from mediacheck.measure.pieces import Piece
from mediacheck.measure.seam import SeamGauge
from mediacheck.measure.sound import SoundGauge

LEADER_STEP_S = 0.079
"""Test material is looked for in every other picture or so: it lasts for seconds."""


class Watch:
    """All gauges before one clip."""

    def __init__(self) -> None:
        cv2.setNumThreads(1)  # the decoder has the cores
        self.black, self.frozen, self.flash = BlackGauge(), FrozenGauge(), FlashGauge()
        self.leader, self.seam, self.fingerprint = LeaderGauge(), SeamGauge(), FingerprintGauge()
        self.bars, self.comb, self.gaps = BarsGauge(), CombGauge(), GapGauge()
        self.sound: SoundGauge | None = None
        self.frames, self.last_s = 0, 0.0
        self.size_px: tuple[int | None, int | None] = (None, None)
        self.pictures: list[Picture] = []
        self._leader_s = -LEADER_STEP_S
        self._columns: Piece | None = None
        self._rows: Piece | None = None
        self._first_of_pair: Piece | None = None
        """Columns of a picture whose next one is to come."""

    def take(self, piece: Piece) -> None:
        """Show one piece to the gauges that look at its kind."""
        {
            "small": self._small,
            "columns": self._column_strip,
            "rows": self._row_strip,
            "thumbnail": self._thumbnail,
            "sound": self._sound,
        }[piece.kind](piece)

    def _small(self, piece: Piece) -> None:
        self.frames, self.last_s = self.frames + 1, piece.second
        self.gaps.see(piece.second)
        for gauge in (self.black, self.frozen, self.flash, self.seam, self.fingerprint):
            gauge.see(piece.second, piece.data)
        if piece.second - self._leader_s >= LEADER_STEP_S:
            self._leader_s = piece.second
            self.leader.see(piece.second, piece.data)

    def _column_strip(self, piece: Piece) -> None:
        """Strips come in pairs of neighbouring pictures; combs are looked for between the two."""
        if self._first_of_pair is not None:
            self.comb.see(self._first_of_pair.data, piece.data)
            self._first_of_pair = None
        self._columns = piece
        self._look_for_bars()

    def _row_strip(self, piece: Piece) -> None:
        """Rows come of the first picture of a pair alone."""
        self._rows = piece
        self._look_for_bars()

    def _look_for_bars(self) -> None:
        """Once both strips of one picture are there, in whichever order they came.

        The time tells, and not the count: where the form of the picture changes, ffmpeg counts anew.
        """
        if self._columns is None or self._rows is None or self._columns.second != self._rows.second:
            return
        columns, rows, self._rows = self._columns, self._rows, None
        self._first_of_pair = columns
        self.size_px = rows.data.shape[1], columns.data.shape[0]
        self.bars.see(columns.data, rows.data)

    def _thumbnail(self, piece: Piece) -> None:
        height, width = piece.data.shape[:2]
        self.pictures.append(Picture(piece.second, width, height, piece.data.tobytes()))

    def _sound(self, piece: Piece) -> None:
        if self.sound is None:
            self.sound = SoundGauge(piece.sample_rate, piece.data.shape[1])
        self.sound.see(piece.second, piece.data)
