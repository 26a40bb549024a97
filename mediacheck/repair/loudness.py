"""Brings sound to a level: listens to it mixed down, finds a gain, and rehearses with the encoder.

It must not touch pictures. A gain is the same for all of a clip; a limiter, which changes how it sounds, is
put in only where the loudest moments would go over their limit.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from mediacheck import processes
from mediacheck.encoding.sound import LIMITER_DB, USUAL_RATE_HZ
from mediacheck.measure.graph import LOUDNESS, START
from mediacheck.measure.log import Listener
from mediacheck.measure.sound import parse_ebur128_summary
from mediacheck.repair.commands import Line, sound_filters
from mediacheck.repair.encode import ASK_MASTER, GUARD, CannotMake, begun
from mediacheck.repair.model import Levels, SoundRecipe

PEAK_MAX_DBTP = -1.0
"""Where nothing is asked of the peaks: the greatest that EBU R 128 permits."""
NEAR_LU = 0.3
"""As near as is tried for; the meter shows tenths."""
ROOM_DB = 0.5
"""First guess at what an encoder puts back of peaks that a limiter cut; the rehearsal tells."""
MORE_ROOM_DB = 0.4
"""Beyond what the rehearsal was over: the next one does not come out the same."""
FAR_DB = 3.0
"""Peaks so far under a limit stay there in any codec, without rehearsal (common practice, no source)."""
TRIES = 8
SLOPE_MIN = 0.2
"""A limiter takes back part of a gain: at least so much of it is taken to arrive."""
HELD_MAX_DB = 20.0
"""A limiter that takes away more leaves nothing of how a sound moves (common practice, no source)."""
OFF_LU = 0.5
"""As far as a level may be off (EBU R 128, version 3)."""
LIMITED = "Its loudest moments are held down by a limiter, so that the rest is as loud as asked for."
NOT_MEASURED = (
    "Its sound is silent, or too short to be measured (less than 0.4 s): it stays as loud as it is."
)
"""ITU-R BS.1770 measures in blocks of 0.4 s that are louder than -70 LUFS."""

Rehearse = Callable[[str], "Heard"]
"""Encodes the sound with the filters that bring it to level, and listens to what comes out."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What a meter says of a sound. None: nothing could be measured."""

    loudness_lufs: float | None
    true_peak_dbtp: float | None


@dataclass(frozen=True, slots=True)
class Levelling:
    """The filters that bring a sound to its level, and what a person should know of it."""

    filters: str
    notes: tuple[str, ...] = ()


def listen(ffmpeg: Path, inputs: Line, track: str, filters: str, limit_s: float) -> Heard:
    """Loudness and true peak of one track (ITU-R BS.1770) behind these filters.

    `inputs` are the arguments up to the last `-i`. Raises CannotMake; ProgramError where there is no such
    program.
    """
    meter = ",".join(filter(None, (filters, LOUDNESS)))
    command = (str(ffmpeg), *START, *GUARD, *inputs, "-map", track, "-af", meter, "-f", "null", "-")
    listener = Listener()
    with begun(command, limit_s, listener.hear) as running:
        running.stdout.read()
        exit_code = running.wait()
    if exit_code:
        how = processes.how_it_ended(exit_code)
        raise CannotMake(f"Its sound cannot be listened to: ffmpeg {how}.", ASK_MASTER)
    return Heard(*parse_ebur128_summary(tuple(listener.last_lines)))


def levelling(before: Heard, levels: Levels, rate_hz: int, rehearse: Rehearse) -> Levelling:
    """The filters for a sound that measures `before`, found by rehearsal.

    A sound that cannot be measured stays as loud as it is, but for peaks over their limit.
    """
    if before.loudness_lufs is None and before.true_peak_dbtp is None:
        return Levelling("", (NOT_MEASURED,) if levels.loudness_lufs is not None else ())
    search = _Search(before, levels, rate_hz)
    if search.is_far_from_limit:
        return Levelling(search.filters())
    tried: dict[str, tuple[float, Heard]] = {}
    while len(tried) < TRIES and (filters := search.filters()) not in tried:
        after = rehearse(filters)
        tried[filters] = search.off(after), after
        if tried[filters][0] == 0.0:
            break
        search.learn(after)
    best = min(tried, key=lambda filters: tried[filters][0])
    return Levelling(best, _notes(search, best))


class _Search:
    """One gain and one ceiling, moved by what each rehearsal shows."""

    def __init__(self, before: Heard, levels: Levels, rate_hz: int) -> None:
        self.peak_max = PEAK_MAX_DBTP if levels.true_peak_dbtp_max is None else levels.true_peak_dbtp_max
        self.wanted = levels.loudness_lufs if before.loudness_lufs is not None else None
        self.asked = levels.loudness_lufs
        self._peak = before.true_peak_dbtp
        self._rate_hz = rate_hz
        self._ceiling = self.peak_max
        self._gain = 0.0
        self._last: tuple[float, float] | None = None
        if self.wanted is not None and before.loudness_lufs is not None:
            self._turn(self.wanted - before.loudness_lufs)

    def _turn(self, gain_db: float) -> None:
        self._gain += gain_db
        if self._peak is not None:
            self._gain = min(self._gain, self._ceiling - self._peak + HELD_MAX_DB)

    @property
    def is_far_from_limit(self) -> bool:
        """Whether a gain alone does it, with room to spare."""
        if self.wanted is None or self._peak is None:
            return False
        return self._peak + self._gain <= self.peak_max - FAR_DB

    def filters(self) -> str:
        """As they stand now. Without a loudness to reach, all is turned down together."""
        over = 0.0 if self._peak is None else self._peak + self._gain - self._ceiling
        if over <= 0:
            return _volume(self._gain)
        if self.wanted is None:
            return _volume(self._gain - over)
        ceiling = self._ceiling if self._ceiling < self.peak_max else self._ceiling - ROOM_DB
        return ",".join(filter(None, (_volume(self._gain), limiter(ceiling, self._rate_hz))))

    def off(self, after: Heard) -> float:
        """How far a rehearsal missed, in LU and dB together; 0.0: near enough. Peaks over count tenfold."""
        missed = 0.0
        if self.wanted is not None:
            missed = 100.0 if after.loudness_lufs is None else abs(after.loudness_lufs - self.wanted)
        over = max(
            0.0, (self.peak_max if after.true_peak_dbtp is None else after.true_peak_dbtp) - self.peak_max
        )
        return (missed if missed > NEAR_LU + 1e-9 else 0.0) + 10 * over

    def learn(self, after: Heard) -> None:
        """Move by what was missed."""
        if self.wanted is not None and after.loudness_lufs is not None:
            slope = self._slope(after.loudness_lufs)
            self._last = self._gain, after.loudness_lufs
            self._turn((self.wanted - after.loudness_lufs) / slope)
        if after.true_peak_dbtp is not None and after.true_peak_dbtp > self.peak_max:
            self._ceiling -= after.true_peak_dbtp - self.peak_max + MORE_ROOM_DB

    def _slope(self, loudness_lufs: float) -> float:
        """How much louder one more decibel made it last time."""
        if self._last is None or abs(self._gain - self._last[0]) < NEAR_LU:
            return 1.0
        slope = (loudness_lufs - self._last[1]) / (self._gain - self._last[0])
        return min(1.0, max(SLOPE_MIN, slope))


def _volume(gain_db: float) -> str:
    return f"volume={gain_db:.2f}dB" if abs(gain_db) >= 0.005 else ""


def limiter(ceiling_dbtp: float, rate_hz: int) -> str:
    """Holds the peaks under the ceiling; four times the samples show those between them (BS.1770 Annex 2).

    A ceiling lower than the limiter can be set to: all is turned up before and down behind it.
    """
    at_db = min(max(ceiling_dbtp, LIMITER_DB[0]), LIMITER_DB[1])
    shift_db = ceiling_dbtp - at_db
    steps = (
        f"aresample={4 * USUAL_RATE_HZ}",
        _volume(-shift_db),
        f"alimiter=limit={10 ** (at_db / 20):.4f}:level=false:attack=1:release=50",
        _volume(shift_db),
        f"aresample={rate_hz}",
    )
    return ",".join(filter(None, steps))


def _notes(search: _Search, filters: str) -> tuple[str, ...]:
    notes = (NOT_MEASURED,) if search.asked is not None and search.wanted is None else ()
    return (*notes, LIMITED) if "alimiter" in filters else notes


def missed(levels: Levels, after: Heard) -> tuple[str, ...]:
    """What to say of a new sound that is not at its level; nothing where nothing could be measured."""
    wanted, peak_max = levels.loudness_lufs, levels.true_peak_dbtp_max
    loud, peak = after.loudness_lufs, after.true_peak_dbtp
    off = wanted is not None and loud is not None and abs(loud - wanted) > OFF_LU + 1e-9
    over = peak is not None and peak_max is not None and peak > peak_max
    if not off and not over:
        return ()
    return (
        f"Its sound could not be brought to level: it measures {_said(loud)} LUFS, peaks {_said(peak)} dBTP.",
    )


def _said(number: float | None) -> str:
    return "?" if number is None else f"{number:.1f}"


def rehearsal(inputs: Line, sound: SoundRecipe, level: str, out: str) -> Line:
    """Makes the sound alone, as the new file will have it, in a container that takes every codec."""
    filters = sound_filters(sound, level)
    chosen = ("-map", sound.track, *(("-af", filters) if filters else ()), *sound.encoder)
    return (*inputs, *chosen, "-f", "matroska", out)
