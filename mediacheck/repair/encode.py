"""One run of ffmpeg that makes something: how far it has come, and in one sentence why it failed.

It must not know recipes. Complaints count whatever the exit code says: ffmpeg ends well over many of them.
"""

from __future__ import annotations

import errno
import os
import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from mediacheck import processes, programs
from mediacheck.errors import ProgramError
from mediacheck.measure.graph import PROTOCOLS
from mediacheck.measure.log import LEVEL, is_complaint, plain
from mediacheck.output import refusal
from mediacheck.repair.commands import Line

OnSecond = Callable[[float], None]
"""Told how many seconds of the new file are made."""
START = ("-hide_banner", "-nostdin", "-nostats", "-loglevel", "repeat+level+warning")
TELLING = ("-progress", "pipe:1", "-stats_period", "0.25")
GUARD = ("-protocol_whitelist", PROTOCOLS)
"""Goes before the master: what it refers to in a network is not fetched."""
OUT_TIME = re.compile(rb"out_time_us=(\d+)")
REFUSALS = {os.strerror(number): number for number in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS)}
"""What only the place for the new file can say; ffmpeg repeats the system's own words."""
WRITING = re.compile(r"^\[(?:lib(?!aom|dav1d|opus|vorbis|vpx)\w+|mp4|mov|matroska|webm|vob|mpeg|image2) @ ")
"""Encoders and containers of the new file; names that both sides share count as the master's."""
BAD = ("error", "fatal", "panic")
ASK_MASTER = "Ask for this file again, or for a new export of it."
ASK_REPORT = "Run it again with --debug and report what it says; or export the file by hand."
ASK_TIME = "Run it on a faster computer, or ask for a shorter or smaller file."


class CannotMake(Exception):
    """Why there is no new file: `problem` is a sentence for people, `ask` what to do or to ask for."""

    def __init__(self, problem: str, ask: str) -> None:
        super().__init__(problem)
        self.problem, self.ask = problem, ask


class _Listener:
    """Hears every line of the log, in a thread of its own, and keeps what matters first."""

    def __init__(self, line: Line, accepted: frozenset[str]) -> None:
        self._accepted = accepted
        self._paths = tuple(part.removeprefix("file:") for part in line if "/" in part or "\\" in part)
        self.refused: int | None = None
        """The system's number for why nothing more can be written."""
        self.master: str | None = None
        self.writing: str | None = None
        """First complaint about what is read, and about what is written."""

    def hear(self, line: str) -> None:
        """Take one line."""
        self.refused = self.refused or next((REFUSALS[words] for words in REFUSALS if words in line), None)
        level = LEVEL.search(line)
        if is_complaint(line) and not WRITING.match(line):
            if plain(line) in self._accepted:
                return
            self.master = self.master or self._clause(line)
        elif level and level["level"] in BAD:
            self.writing = self.writing or self._clause(line)

    def _clause(self, line: str) -> str:
        """Without the full stop, and without the paths of this run."""
        message = plain(line)
        for path in self._paths:
            message = message.replace(path, Path(path).name)
        return message.rstrip(" .!")


def make(
    ffmpeg: Path,
    line: Line,
    out: Path,
    limit_s: float,
    on_second: OnSecond | None = None,
    reading: str = "The file",
    accepted: frozenset[str] = frozenset(),
) -> None:
    """Run the line; it ended well and had nothing to complain about when this returns.

    `out` is the file as people know it, `reading` what they are told cannot be read, and
    `accepted` complaints about it that are known and no damage. Raises CannotMake;
    OutputError where the place refuses; ProgramError where there is no such program.
    """
    listener = _Listener(line, accepted)
    command = (str(ffmpeg), *START, *TELLING, *GUARD, *line)
    with begun(command, limit_s, listener.hear) as running:
        for second in _seconds(running.stdout):
            if on_second is not None:
                on_second(second)
        exit_code = running.wait()
    _judge(listener, exit_code, out, reading)


@contextmanager
def begun(
    command: Sequence[str | Path], limit_s: float, on_line: programs.OnLine | None = None
) -> Iterator[programs.Running]:
    """As `programs.start`, where too slow is no fault of the program's. Raises CannotMake for it."""
    is_there = False
    try:
        with programs.start(command, time_limit_s=limit_s, on_line=on_line) as running:
            is_there = True
            yield running
    except ProgramError:
        if not is_there:
            raise
        raise CannotMake(f"It took longer than {limit_s / 60:.0f} minutes.", ASK_TIME) from None


def _judge(listener: _Listener, exit_code: int, out: Path, reading: str) -> None:
    if listener.refused is not None:
        raise refusal(out, OSError(listener.refused, os.strerror(listener.refused)))
    if listener.master is not None:
        raise CannotMake(f"{reading} cannot be decoded without errors: {listener.master}.", ASK_MASTER)
    if listener.writing is not None:
        raise CannotMake(f"ffmpeg cannot make the new file: {listener.writing}.", ASK_REPORT)
    if exit_code:
        raise CannotMake(f"ffmpeg {processes.how_it_ended(exit_code)} and gave no reason.", ASK_REPORT)


def plainly_named(still: str, folder: Path) -> str:
    """The address of a still; of a copy where its path holds a %, which ffmpeg's image2 would take for the
    pattern of a numbered row, and read another file. Raises OSError."""
    if "%" not in still or not still.startswith("file:"):
        return still
    place = Path(still.removeprefix("file:"))
    copy = folder / f"still{place.suffix}"
    shutil.copyfile(place, copy)
    return f"file:{copy}"


def _seconds(stdout: BinaryIO) -> Iterator[float]:
    """How far it has come, as often as ffmpeg says so."""
    for line in stdout:
        if told := OUT_TIME.match(line):
            yield int(told[1]) / 1_000_000
