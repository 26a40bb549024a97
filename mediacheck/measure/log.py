"""What ffmpeg says while it decodes: complaints about the picture and the sound, and where they came.

It must not judge how bad a complaint is; it tells those about the file from those about our own outputs.
"""

from __future__ import annotations

import re
from collections import deque

from mediacheck.measure.model import DecodeError

KEPT_ERRORS = 100
KEPT_LINES = 80
"""Enough for the closing summary of the loudness filter, of which all lines but the first bear no level."""
TIME_SHOWN = re.compile(r"^\[Parsed_metadata\S* @ .*\bpts_time:\s*(?P<second>-?\d+(?:\.\d+)?(?:e[+-]?\d+)?)")
SIZE_SHOWN = re.compile(
    r"^\[graph \d+ input from stream .*\] \[verbose\] w:(?P<width>\d+) h:(?P<height>\d+) "
)
SUMMARY = re.compile(r"^ +[A-Z][A-Za-z ]*:(?: +\S+ (?:LUFS|LU|dBFS))?(?P<strange>.*)$")
"""The loudness summary is logged in several calls: another thread's words may end up behind one of its lines,
without their level."""
TROUBLE = re.compile(
    r"conceal|corrupt|could not|damage|error|exceed|fail|illegal|incomplete|invalid|missing|no frame|"
    r"not found|out of range|overread|truncat|unable",
    re.IGNORECASE,
)
"""Words of decoders' complaints, and of nothing that ffmpeg's threads say when they end."""
SIZES_MAX = 8
OWN_SIDE = re.compile(r"^\[(out#|vost#|aost#|vf#|af#|fc#|null|nut|rawvideo|swscaler|auto_|Parsed_|graph)")
"""Complaints from the writing side of the process: they are about our outputs, not about the file."""
LEVEL = re.compile(r"\[(?P<level>verbose|info|warning|error|fatal|panic)\] ")
ADDRESS = re.compile(r"\[[^\]]*@ 0x[0-9a-f]+\] ?")
DAMAGE_WARNINGS = re.compile(r"corrupt|truncat|incomplete frame|invalid data", re.IGNORECASE)
CONCEALED = re.compile(r"concealing \d+ DC, \d+ AC, \d+ MV errors")
"""libavcodec's error concealment, which it reports at level info."""
NOT_OF_THE_FILE = re.compile(
    r"Decoder \(codec \S+\) not found|no decoder found for|"
    r"Cannot determine format of input stream|Error marking filters as finished"
)
"""That this ffmpeg does not know a codec; and its words at the end of a stream of which nothing was decoded:
why, it has said before."""
SOUND_SIDE = re.compile(
    r"^\[(?:aist#|(?:aac|adpcm|alac|amr|dca|e?ac3|flac|mlp|mp[123]|opus|pcm|truehd|vorbis|wma)\w* @ )"
)
"""Decoders of sound; a new ffmpeg names their stream before them."""
SOUND_STREAM = re.compile(r"^\[info\] {3}Stream #0:(?P<number>\d+)\S*: Audio: ")
STREAM_NAMED = re.compile(r"\bstream (?:= |#0:)?(?P<number>\d+)\b")
PICTURE_DECODER = re.compile(r"^\[(?:h264|hevc|mpeg4|prores|NULL) @ ")
"""Those with a picture in each thread (`graph.A_PICTURE_A_THREAD`), and a parser that has no name yet."""
HANDED_OVER = "corrupt decoded frame"
INPUTS_LISTED = "[info] Stream mapping:"
"""Behind it the output's streams are listed in the same form."""


class Complaints:
    """Of one kind: all are counted, and the first `KEPT_ERRORS` kept."""

    def __init__(self) -> None:
        self.count = 0
        self.kept: list[DecodeError] = []

    def add(self, message: str, second: float | None) -> None:
        """Note one more."""
        self.count += 1
        if len(self.kept) < KEPT_ERRORS:
            self.kept.append(DecodeError(message, second))


class Listener:
    """Hears every line of the log, in a thread of its own.

    `second` is the picture that the decoder handed over last, from its first one on; None before that. It
    complains of one that comes `ahead_s` later, but for what is said of a picture as it is handed over.
    """

    def __init__(self, ahead_s: float = 0.0) -> None:
        self.second: float | None = None
        self._ahead_s = ahead_s
        self._first_s: float | None = None
        self.picture, self.sound = Complaints(), Complaints()
        self.sizes_px: tuple[tuple[int, int], ...] = ()
        """Width and height of the decoded pictures: the first few that differ, in their order."""
        self.last_lines: deque[str] = deque(maxlen=KEPT_LINES)
        self._sound_streams: set[str] = set()
        self._inputs_listed = False

    def hear(self, line: str) -> None:
        """Take one line."""
        if shown := TIME_SHOWN.match(line):
            self._come_to(float(shown["second"]))
        elif shown := SIZE_SHOWN.match(line):
            self._see_size((int(shown["width"]), int(shown["height"])))
        elif LEVEL.search(line) is None:
            self._hear_summary(line)
        elif is_complaint(line):
            about = self.sound if self._is_of_sound(line) else self.picture
            about.add(plain(line), self._complained_of(line))
        elif not self._inputs_listed:
            self._learn(line)

    def _complained_of(self, line: str) -> float | None:
        if HANDED_OVER in line:
            return self.second
        if self.second is not None:
            return self.second + self._ahead_s
        # Before the first picture it has as many under way.
        return self._ahead_s / 2 if self._ahead_s and PICTURE_DECODER.match(line) else None

    def _hear_summary(self, line: str) -> None:
        read = SUMMARY.match(line)
        strange = read["strange"] if read else ""
        self.last_lines.append(line.removesuffix(strange))
        if TROUBLE.search(strange):
            self.picture.add(strange.strip(), self._complained_of(strange))

    def _learn(self, line: str) -> None:
        """Which streams of the file are sound: ffmpeg lists them before it begins."""
        if found := SOUND_STREAM.match(line):
            self._sound_streams.add(found["number"])
        self._inputs_listed = line.startswith(INPUTS_LISTED)

    def _is_of_sound(self, line: str) -> bool:
        """Whether a complaint names the sound. What names neither counts as the picture's."""
        named = STREAM_NAMED.search(line)
        return bool(SOUND_SIDE.match(line) or (named and named["number"] in self._sound_streams))

    def _come_to(self, at_s: float) -> None:
        if self._first_s is None:
            self._first_s = at_s
        self.second = max(self.second or 0.0, at_s - self._first_s)

    def _see_size(self, size_px: tuple[int, int]) -> None:
        if size_px not in self.sizes_px and len(self.sizes_px) < SIZES_MAX:
            self.sizes_px = (*self.sizes_px, size_px)


def is_complaint(line: str) -> bool:
    """Whether a line of ffmpeg's log (with level words) tells of damage in the file."""
    level = LEVEL.search(line)
    if level is None or OWN_SIDE.match(line) or NOT_OF_THE_FILE.search(line):
        return False
    if level["level"] == "info":
        return bool(CONCEALED.search(line))
    if level["level"] == "warning":
        return bool(DAMAGE_WARNINGS.search(line))
    return level["level"] != "verbose"


def plain(line: str) -> str:
    """The message without the program's own address tags and level word."""
    return LEVEL.sub("", ADDRESS.sub("", line)).strip()
