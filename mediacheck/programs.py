"""The one door to outside programs: a time limit, the exact command kept, the last words kept.

It must not understand what a program says.
"""

from __future__ import annotations

import atexit
import os
import re
import shlex
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, BinaryIO, cast

from mediacheck import processes
from mediacheck.errors import ProgramError

OnLine = Callable[[str], None]

LAST_LINES = 20
LINE_MAX_CHARACTERS = 3000
"""Twenty such lines stay under 64,000 characters; what a line has beyond that is dropped."""
CHUNK_BYTES = 1 << 16
LISTEN_EVERY_S = 0.05
"""ffmpeg writes a line in three parts; to be woken for each costs more than to read it."""
DRAIN_WAIT_S = 2.0
PIPE_BYTES = 1 << 20
"""What a program can write ahead of its reader: Linux gives 64 kB unless asked, which is less than two small
pictures, and this much to anyone."""
CREATE_NO_WINDOW = 0x08000000
"""Windows: no console window flashes up (process creation flag; named only in Windows' subprocess)."""
UNWANTED_VARIABLES = ("FFREPORT", "AV_LOG_FORCE_COLOR", "AV_LOG_FORCE_256COLOR")
"""They make ffmpeg write a log file into the current folder, or colour codes into what it says."""


@dataclass(frozen=True, slots=True)
class Finished:
    """A program that has ended by itself. `last_words` is the tail of its standard error."""

    command: tuple[str, ...]
    exit_code: int
    stdout: bytes = field(repr=False)
    last_words: str

    def checked(self) -> Finished:
        """This very value; ProgramError if the exit code is not 0."""
        if self.exit_code != 0:
            how = processes.how_it_ended(self.exit_code)
            raise ProgramError(_sentence(self.command, how, self.last_words))
        return self


class Running:
    """A program at work. Read `stdout` to its end, then `wait`."""

    def __init__(self, process: subprocess.Popen[bytes], command: tuple[str, ...], limit_s: float) -> None:
        self.command = command
        self.stdout = cast("BinaryIO", process.stdout)
        self._process = process
        self._family = processes.find(process.pid)
        self._limit_s = limit_s
        self._too_slow = False
        self._callback_error: Exception | None = None
        self._tail: deque[str] = deque(maxlen=LAST_LINES)
        self._has_ended = threading.Event()
        self._helpers: list[threading.Thread] = []
        self._timer = threading.Timer(limit_s, self._end_too_slow)
        self._timer.daemon = True

    @property
    def pid(self) -> int:
        """The process number."""
        return self._process.pid

    @property
    def last_words(self) -> str:
        """The last lines of standard error so far."""
        return "\n".join(tuple(self._tail))

    def wait(self) -> int:
        """Wait for the end and return the exit code (POSIX: negative for a signal).

        ProgramError if it went over its time limit; an exception of `on_line` comes out as itself.
        """
        exit_code = self._process.wait()
        self._has_ended.set()
        self._timer.cancel()
        for helper in self._helpers:
            helper.join(DRAIN_WAIT_S)
        self.complain()
        return exit_code

    def complain(self) -> None:
        """Raise what went wrong so far, if anything did."""
        if self._too_slow:
            how = f"went over {self._limit_s:g} s and was ended"
            raise ProgramError(_sentence(self.command, how, self.last_words))
        if self._callback_error:
            raise self._callback_error

    def begin(self, given: bytes | None, on_line: OnLine | None) -> None:
        """Start the clock and the threads that feed the program and listen to it."""
        self._timer.start()
        self._help("stderr", self._listen, self._process.stderr, on_line)
        if self._process.stdin is not None:
            self._help("stdin", _feed, self._process.stdin, given or b"")

    def end(self) -> None:
        """End the program and its children if it still runs, and let go of its pipes."""
        self._timer.cancel()
        if self._process.poll() is None:
            processes.end_family(self._family)
            with suppress(subprocess.TimeoutExpired):
                self._process.wait(DRAIN_WAIT_S)  # longer only if it hangs in a driver
        processes.end_group(self.pid)
        self._has_ended.set()
        self.stdout.close()
        for helper in self._helpers:
            helper.join(DRAIN_WAIT_S)

    def _help(self, name: str, target: Callable[..., None], *args: object) -> None:
        thread = threading.Thread(target=target, args=args, name=f"mediacheck-{name}", daemon=True)
        thread.start()
        self._helpers.append(thread)

    def cut_short(self) -> None:
        """End the program and its children at once, from any thread; its output ends with it."""
        if self._process.poll() is None:
            processes.end_family(self._family)
        processes.end_group(self.pid)  # a child left behind keeps the pipes open

    def _end_too_slow(self) -> None:
        self._too_slow = self._process.poll() is None
        self.cut_short()

    def _listen(self, stderr: IO[bytes], on_line: OnLine | None) -> None:
        with stderr:
            for line in _lines(cast("BinaryIO", stderr), self._has_ended):
                self._tail.append(line)
                if on_line and not self._callback_error:
                    try:
                        on_line(line)
                    except Exception as error:  # a program that nobody listens to would block
                        self._callback_error = error


_AT_WORK: set[Running] = set()
"""All that were started by this process and have not been seen to end."""
_LAUNCHED: dict[tuple[int, tuple[str, ...]], subprocess.Popen[bytes]] = {}
"""Programs that nobody has asked for yet, by the number of the process that launched them and by command: a
copy of that process must not take the output of one."""


@contextmanager
def start(
    command: Sequence[str | Path],
    *,
    time_limit_s: float,
    input: bytes | None = None,
    on_line: OnLine | None = None,
) -> Iterator[Running]:
    """Start a program whose standard output is read as it comes; it has ended when the block is left.

    `on_line` gets each line of standard error, in a thread of its own. Without `input` the program's
    standard input is empty, never the terminal. ProgramError: not there, or over its time limit.
    """
    running = _started(tuple(str(part) for part in command), time_limit_s, input is not None)
    try:
        _AT_WORK.add(running)
        running.begin(input, on_line)
        yield running
    except Exception:
        running.end()
        running.complain()  # a reader that got too little did so because the program was ended
        raise
    finally:
        running.end()
        _AT_WORK.discard(running)
    running.complain()


def run(command: Sequence[str | Path], *, time_limit_s: float, input: bytes | None = None) -> Finished:
    """Run a program to its end. ProgramError: not there, or over its time limit."""
    with start(command, time_limit_s=time_limit_s, input=input) as running:
        stdout = running.stdout.read()
        exit_code = running.wait()
        return Finished(running.command, exit_code, stdout, running.last_words)


def launch(command: Sequence[str]) -> None:
    """Start a program that `start` or `run` will soon be asked for, without input; they take this one then.

    ProgramError if it is not there.
    """
    key = os.getpid(), tuple(command)
    if key not in _LAUNCHED:
        _LAUNCHED[key] = _process(key[1], fed=False)


def cut_short_all() -> None:
    """End every program at once that `start` or `run` is at work with, from any thread."""
    for running in tuple(_AT_WORK):
        running.cut_short()


@atexit.register
def _end_what_nobody_asked_for() -> None:
    for (owner, command), process in _LAUNCHED.items():
        if owner == os.getpid():
            Running(process, command, 0.0).cut_short()


def window_flags(platform: str = sys.platform) -> int:
    """Process creation flags: no console window on Windows, nothing elsewhere."""
    return CREATE_NO_WINDOW if platform == "win32" else 0


def shown(command: Sequence[str]) -> str:
    """A command as a person can type it."""
    return subprocess.list2cmdline(command) if sys.platform == "win32" else shlex.join(command)


def _started(command: tuple[str, ...], limit_s: float, fed: bool) -> Running:
    launched = None if fed else _LAUNCHED.pop((os.getpid(), command), None)
    process = launched or _process(command, fed)
    _widen(cast("BinaryIO", process.stdout))
    return Running(process, command, limit_s)


def _process(command: tuple[str, ...], fed: bool) -> subprocess.Popen[bytes]:
    try:
        return subprocess.Popen(
            command,
            stdin=subprocess.PIPE if fed else subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={name: value for name, value in os.environ.items() if name not in UNWANTED_VARIABLES},
            creationflags=window_flags(),
            process_group=0 if os.name == "posix" else None,  # out of reach of the terminal's Ctrl-C
        )
    except FileNotFoundError as error:
        raise ProgramError(f"there is no program {command[0]}") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ProgramError(f"{command[0]} cannot be started ({reason})") from error


def _widen(pipe: BinaryIO) -> None:
    """Linux: a program need not wait for its reader so often. Elsewhere, or where it is refused: nothing."""
    if sys.platform == "linux":
        import fcntl

        with suppress(OSError):
            fcntl.fcntl(pipe, fcntl.F_SETPIPE_SZ, PIPE_BYTES)


def _sentence(command: Sequence[str], how: str, last_words: str) -> str:
    words = last_words.strip().splitlines()[-3:]
    said = f'; its last words were "{" / ".join(words)}"' if words else ""
    return f"{Path(command[0]).name} {how} (the command was: {shown(command)}){said}"


def _feed(stdin: BinaryIO, given: bytes) -> None:
    with suppress(OSError), stdin:  # a program may stop reading when it has had enough
        stdin.write(given)


def _lines(stream: BinaryIO, has_ended: threading.Event) -> Iterator[str]:
    """Lines as they come; ffmpeg ends its progress lines with CR. A line without end is cut in pieces."""
    rest = b""
    while chunk := os.read(stream.fileno(), CHUNK_BYTES):
        *whole, rest = re.split(rb"[\r\n]+", rest + chunk)
        if len(rest) > LINE_MAX_CHARACTERS:
            whole, rest = [*whole, rest], b""
        for line in filter(None, whole):
            yield line[:LINE_MAX_CHARACTERS].decode("utf-8", "replace")
        if len(chunk) < CHUNK_BYTES // 8:
            has_ended.wait(LISTEN_EVERY_S)
    if rest:
        yield rest.decode("utf-8", "replace")
