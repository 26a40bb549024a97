"""How a small clip is made: ffmpeg's arguments, and what is known of it because it was asked for.

It must not look at a clip after making it: what is in it is for the readers under test to say.
"""

from __future__ import annotations

import os
import shlex
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from tests.media.truth import Answers, truth_of

COMMAND_LIMIT_S = 120


@dataclass(frozen=True, slots=True)
class Variant:
    """One clip. `known` is a truth line, see `tests.media.truth`.

    `sound` is a channel layout and a sample rate ("stereo@48000"); `size` "" means no picture. With `after`
    a second run copies the streams, with these arguments and `before_copy` for its input; for a copy that
    cuts, `encoded_seconds` is longer than `seconds`. `patch` changes the finished bytes by hand.
    """

    file_name: str
    arguments: str
    known: str
    size: str = "320x180"
    rate: str = "25"
    seconds: str = "1"
    encoded_seconds: str = ""
    sound: str = ""
    before_copy: str = ""
    after: str | None = None
    patch: Callable[[bytes], bytes] | None = field(default=None, compare=False)

    @property
    def truth(self) -> Answers:
        """The facts that the readers must find."""
        return truth_of(self.known, self.size)

    @property
    def length_s(self) -> Fraction:
        """Seconds of picture (or of sound, where there is no picture) that were asked for."""
        return Fraction(self.seconds)

    def make(self, ffmpeg: str, folder: Path) -> Path:
        """The clip in `folder`; made there unless it stands there. Raises where ffmpeg cannot make it.

        It is put in place whole, so that two processes which make it at once do no harm.
        """
        place = folder / self.file_name
        if not place.exists():
            own = folder / f"{os.getpid()}-{self.file_name}"
            self._encode(ffmpeg, own)
            if self.patch:
                own.write_bytes(self.patch(own.read_bytes()))
            own.replace(place)
        return place

    def _encode(self, ffmpeg: str, own: Path) -> None:
        if self.after is None:
            _run(ffmpeg, [*self._inputs(), *shlex.split(self.arguments), str(own)])
            return
        start = own.with_name(f"start-{own.stem}.mkv")
        _run(ffmpeg, [*self._inputs(), *shlex.split(self.arguments), str(start)])
        source = [*shlex.split(self.before_copy), "-i", str(start), "-map", "0", "-c", "copy"]
        _run(ffmpeg, [*source, *shlex.split(self.after), str(own)])
        start.unlink()

    def _inputs(self) -> list[str]:
        inputs, seconds = [], self.encoded_seconds or self.seconds
        if self.size:
            inputs.append(f"testsrc2=size={self.size}:rate={self.rate}:duration={seconds}")
        if self.sound:
            layout, _, rate = self.sound.partition("@")
            tone = f"sine=frequency=440:sample_rate={rate}:duration={seconds}"
            inputs.append(f"{tone},aformat=channel_layouts={layout}")
        return [part for source in inputs for part in ("-f", "lavfi", "-i", source)]


def _run(ffmpeg: str, arguments: list[str]) -> None:
    command = [ffmpeg, "-nostdin", "-v", "error", "-y", "-threads", "1", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, timeout=COMMAND_LIMIT_S, check=False)
    if done.returncode:
        raise AssertionError(f"ffmpeg cannot make this clip: {shlex.join(command)}\n{done.stderr}")
