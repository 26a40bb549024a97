"""What ffmpeg says while it decodes: complaints about the file, and where in the clip they came.

It must not judge how bad a complaint is; it tells those about the file from those about our own outputs.
"""

from __future__ import annotations

import re
from collections import deque

from mediacheck.measure.model import DecodeError

KEPT_ERRORS = 100
KEPT_LINES = 80
"""Enough for the closing summary of the loudness filter, of which all lines but the first bear no level."""
TIME_SHOWN = re.compile(r"^\[Parsed_showinfo\S* @ .*\bpts_time:\s*(?P<second>-?\d+(?:\.\d+)?(?:e[+-]?\d+)?)")
OWN_SIDE = re.compile(r"^\[(out#|vost#|aost#|vf#|af#|fc#|null|nut|rawvideo|swscaler|auto_|Parsed_|graph)")
"""Complaints from the writing side of the process: they are about our outputs, not about the file."""
LEVEL = re.compile(r"\[(?P<level>info|warning|error|fatal|panic)\] ")
ADDRESS = re.compile(r"\[[^\]]*@ 0x[0-9a-f]+\] ?")
DAMAGE_WARNINGS = re.compile(r"corrupt|truncat|incomplete frame|invalid data", re.IGNORECASE)
CONCEALED = re.compile(r"concealing \d+ DC, \d+ AC, \d+ MV errors")
"""libavcodec's error concealment, which it reports at level info."""


class Listener:
    """Hears every line of the log, in a thread of its own.

    `second` is how far the decoder has come, from its first picture; None before that.
    """

    def __init__(self) -> None:
        self.second: float | None = None
        self._first_s: float | None = None
        self.count = 0
        self.kept: list[DecodeError] = []
        self.last_lines: deque[str] = deque(maxlen=KEPT_LINES)

    def hear(self, line: str) -> None:
        """Take one line."""
        if shown := TIME_SHOWN.match(line):
            self._come_to(float(shown["second"]))
        elif LEVEL.search(line) is None:
            self.last_lines.append(line)
        elif is_complaint(line):
            self.complain(plain(line))

    def _come_to(self, at_s: float) -> None:
        if self._first_s is None:
            self._first_s = at_s
        self.second = max(self.second or 0.0, at_s - self._first_s)

    def complain(self, message: str) -> None:
        """Note one complaint; at most `KEPT_ERRORS` are kept, all are counted."""
        self.count += 1
        if len(self.kept) < KEPT_ERRORS:
            self.kept.append(DecodeError(message, self.second))


def is_complaint(line: str) -> bool:
    """Whether a line of ffmpeg's log (with level words) tells of damage in the file."""
    level = LEVEL.search(line)
    if level is None or OWN_SIDE.match(line):
        return False
    if level["level"] == "info":
        return bool(CONCEALED.search(line))
    return level["level"] != "warning" or bool(DAMAGE_WARNINGS.search(line))


def plain(line: str) -> str:
    """The message without the program's own address tags and level word."""
    return LEVEL.sub("", ADDRESS.sub("", line)).strip()
