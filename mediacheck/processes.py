"""Ends a process together with all that it started, and says in plain words how a process ended.

It must not start anything: `workers` and `programs` are the doors for that.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Iterable
from contextlib import suppress

import psutil

WINDOWS_CRASHES = {
    0xC0000005: "it touched memory that is not its own",
    0xC000001D: "it met an instruction that this processor does not have",
    0xC00000FD: "its stack ran over",
    0xC0000409: "it found its own memory damaged",
    0xC000013A: "it was ended from the keyboard",
}
"""Exit codes that Windows gives to crashed programs (NTSTATUS values; from memory)."""


def find(pid: int | None) -> psutil.Process | None:
    """A handle that stays with this very process, also when its number is given to another one later."""
    try:
        return None if pid is None else psutil.Process(pid)
    except psutil.Error:
        return None


def end_family(process: psutil.Process | None) -> None:
    """End a process and everything that it started, at once. Nothing happens if it has already ended."""
    if process is None:
        return
    with suppress(psutil.Error):
        process.suspend()  # so that it starts nothing new while its children are being counted
    _kill((*_children(process), process))


def end_children() -> None:
    """End everything that this process started."""
    own = find(os.getpid())
    _kill(_children(own) if own else ())


def end_group(leader_pid: int) -> None:
    """POSIX: end what is left of a process group, also when its leader has ended. Elsewhere: nothing."""
    if os.name == "posix":
        with suppress(OSError):
            os.killpg(leader_pid, signal.SIGKILL)


def end_session(leader_pid: int) -> None:
    """POSIX: end what is left of a session, also when its leader has ended. Elsewhere: nothing."""
    if os.name == "posix":
        for pid in psutil.pids():
            with suppress(OSError):
                if os.getsid(pid) == leader_pid:
                    os.kill(pid, signal.SIGKILL)


def end_orphans(dead_pid: int, born_after_s: float, running: Iterable[psutil.Process] | None = None) -> None:
    """End what a dead process left running, where children keep the number of a dead parent (Windows).

    `born_after_s` is the start of the dead process in seconds of the epoch: an older process with the
    same parent number belongs to somebody else.
    """
    for process in psutil.process_iter() if running is None else running:
        with suppress(psutil.Error):
            if process.ppid() == dead_pid and process.create_time() >= born_after_s:
                end_family(process)


def how_it_ended(exit_code: int | None) -> str:
    """An exit code in plain words that follow the name of the program: "ended with exit code 3"."""
    if exit_code is None:
        return "ended in a way that the system does not tell"
    if exit_code < 0:
        return _ended_by_signal(-exit_code)
    if exit_code >= 0xC0000000:
        why = WINDOWS_CRASHES.get(exit_code, "the code tells Windows why")
        return f"crashed with code 0x{exit_code:08X} ({why})"
    return f"ended with exit code {exit_code}"


def _ended_by_signal(number: int) -> str:
    try:
        name = signal.Signals(number).name
    except ValueError:
        return f"was ended by signal {number}"
    if name == "SIGKILL":
        return "was killed (SIGKILL), as happens when the memory runs out"
    crashes = ("SIGSEGV", "SIGBUS", "SIGILL", "SIGFPE", "SIGABRT", "SIGTRAP", "SIGSYS")
    return f"crashed ({name})" if name in crashes else f"was ended from outside ({name})"


def _children(process: psutil.Process) -> tuple[psutil.Process, ...]:
    try:
        return tuple(process.children(recursive=True))
    except psutil.Error:
        return ()


def _kill(processes: Iterable[psutil.Process]) -> None:
    for process in processes:
        with suppress(psutil.Error):
            process.kill()
