"""Which ffmpeg is used: it is asked for its version, once.

It must not start anything by itself: `programs` is the door for that.
"""

from __future__ import annotations

import atexit
import functools
import re
import shutil
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from mediacheck import programs
from mediacheck.errors import ProgramError

Origin = Literal["PATH", "imageio-ffmpeg wheel"]

FFMPEG_MIN = (5, 1)
LIBAVUTIL_MIN = (57, 28)
"""The library version that ffmpeg 5.1 prints; tells the age of builds that carry no release number."""
VERSION_LIMIT_S = 10.0
LOCK_SLICE_S = 0.2
"""On Windows a longer wait would hold back Ctrl-C."""
GIVE_UP_WAIT_S = 5.0
"""How long the end of this program waits for a search of ffmpeg that it has cut short."""


@dataclass(frozen=True, slots=True)
class Program:
    """A program that was found and has answered."""

    path: Path
    version: str
    """As it says itself, such as "5.1.9-0+deb12u1"."""
    origin: Origin


_ASKING = threading.Lock()
"""Who asks second waits for the answer to the first."""
_SEARCHES: list[threading.Thread] = []


def find_ffmpeg(
    path_lookup: Callable[[str], str | None] = shutil.which,
    wheel_lookup: Callable[[], Path | None] | None = None,
    time_limit_s: float = VERSION_LIMIT_S,
) -> Program:
    """The ffmpeg to use: the one on PATH if it works and is 5.1 or newer, else that of the wheel.

    Asked once per process. ProgramError if neither is of use.
    """
    while not _ASKING.acquire(timeout=LOCK_SLICE_S):
        pass
    try:
        found = _found(path_lookup, wheel_lookup or _wheel_ffmpeg, time_limit_s)
    finally:
        _ASKING.release()
    if isinstance(found, str):
        raise ProgramError(found)
    return found


def ask_ahead() -> None:
    """Have the one on PATH begin to answer. No thread waits for it yet: this process can still be copied."""
    with suppress(ProgramError):  # the search will meet the same, and has the wheel's to turn to
        programs.launch(_question(_on_path(shutil.which)))


def ask_for_ffmpeg() -> None:
    """Have it found while the caller does something else: the next `find_ffmpeg` waits for less."""

    def ask() -> None:
        with suppress(ProgramError):  # who needs it will be told
            find_ffmpeg()

    search = threading.Thread(target=ask, name="mediacheck-ffmpeg", daemon=True)
    search.start()
    _SEARCHES.append(search)


@atexit.register
def _give_up_searches() -> None:
    """Nobody waits for the answer any more, and a program that gives none would outlive us."""
    deadline_s = time.monotonic() + GIVE_UP_WAIT_S
    while any(search.is_alive() for search in _SEARCHES) and time.monotonic() < deadline_s:
        programs.cut_short_all()
        time.sleep(0.01)


@functools.cache
def _found(
    path_lookup: Callable[[str], str | None], wheel_lookup: Callable[[], Path | None], time_limit_s: float
) -> Program | str:
    """It, or why there is none: a program that takes ten seconds to say nothing is not asked twice."""
    try:
        return _asked(_on_path(path_lookup), "PATH", time_limit_s)
    except ProgramError as first:
        try:
            return _asked(_in_wheel(wheel_lookup), "imageio-ffmpeg wheel", time_limit_s)
        except ProgramError as second:
            return f"no ffmpeg of use was found: on PATH, {first}; in the imageio-ffmpeg wheel, {second}"


def ffmpeg_version(banner: str) -> str | None:
    """What `ffmpeg -version` calls its version, or None if this is not what ffmpeg prints."""
    match = re.match(r"ffmpeg version (\S+)", banner)
    return match[1] if match else None


def release_of(version: str) -> tuple[int, int] | None:
    """The release that a version names: (5, 1) for "5.1.9-0+deb12u1". None for one built between releases."""
    match = re.match(r"n?(\d+)\.(\d+)", version)
    return (int(match[1]), int(match[2])) if match else None


def ffmpeg_new_enough(banner: str) -> bool:
    """Whether the ffmpeg that printed this is release 5.1 or newer.

    Builds without a release number ("N-107213-g5f5f2a3f1b", "2024-01-01-git-0f5592cfc7") are judged by
    the version of libavutil below, which grows with every change of the interface; one that tells
    neither is not trusted to be new.
    """
    release = release_of(ffmpeg_version(banner) or "")
    if release is not None:
        return release >= FFMPEG_MIN
    library = re.search(r"^libavutil\s+(\d+)\.\s*(\d+)\.", banner, re.MULTILINE)
    return library is not None and (int(library[1]), int(library[2])) >= LIBAVUTIL_MIN


def _on_path(lookup: Callable[[str], str | None]) -> Path:
    """Only a full path counts: Windows also looks in the current folder, which may be the card's."""
    found = lookup("ffmpeg")
    if found is None or not Path(found).is_absolute():
        raise ProgramError("there is none")
    return Path(found)


def _in_wheel(lookup: Callable[[], Path | None]) -> Path:
    found = lookup()
    if found is None:
        raise ProgramError("there is none for this machine")
    return found


def _wheel_ffmpeg() -> Path | None:
    """The binary in the wheel's own folder.

    imageio_ffmpeg.get_ffmpeg_exe() falls back to the one on PATH and starts it with no time limit.
    """
    from importlib.resources import files  # takes long to load, and is seldom needed

    try:
        folder = Path(str(files("imageio_ffmpeg.binaries")))
    except ImportError:
        return None
    return next((path for path in sorted(folder.glob("ffmpeg-*")) if path.is_file()), None)


def _question(path: Path) -> tuple[str, str]:
    return str(path), "-version"


def _asked(path: Path, origin: Origin, time_limit_s: float) -> Program:
    finished = programs.run(_question(path), time_limit_s=time_limit_s).checked()
    banner = finished.stdout.decode("utf-8", "replace")
    version = ffmpeg_version(banner)
    if version is None:
        raise ProgramError(f"{path} does not answer as ffmpeg does")
    if not ffmpeg_new_enough(banner):
        wanted = ".".join(str(number) for number in FFMPEG_MIN)
        raise ProgramError(f"{path} is version {version}, and {wanted} or newer is needed")
    return Program(path, version, origin)
