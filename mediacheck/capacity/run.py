"""The whole test of a card's capacity: of the free space of a drive, or of a device that is erased.

It must not print or ask: the command does.
"""

from __future__ import annotations

import stat
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import psutil

from mediacheck.capacity.examination import examine
from mediacheck.capacity.files import Calls, files_on
from mediacheck.capacity.folder import Tell
from mediacheck.capacity.mounted_drive import Computer, drive_at
from mediacheck.capacity.pace import Clock
from mediacheck.capacity.speed_class import SpeedClass
from mediacheck.capacity.stream import SECTOR_BYTES, new_stream
from mediacheck.capacity.verdict import Outcome
from mediacheck.capacity.whole_device import surface_of
from mediacheck.card.device import windows_device
from mediacheck.card.folder import printable
from mediacheck.device.chosen import Limits, Looked, Machine, look_at, opened
from mediacheck.device.drive import Drive
from mediacheck.device.guard import drive_words
from mediacheck.errors import CardError
from mediacheck.watching import ByteWatcher


@dataclass(frozen=True, slots=True)
class Order:
    """What is asked for, and who is told of it."""

    promised: SpeedClass | None
    watcher: ByteWatcher
    clock: Clock = time.monotonic


def examine_drive(path: Path, order: Order, computer: Computer, calls: Calls, tell: Tell) -> Outcome:
    """Fill the free space of a mounted drive and read it back. CardError: it cannot be tested.

    `tell` is told what an earlier run that was killed had left.
    """
    _require_no_device(path)
    drive = drive_at(path, computer)
    with files_on(drive, tell, calls) as files:
        capacity = examine(files, new_stream(), order.watcher, order.clock)
    return Outcome(drive.shown, capacity, order.promised, _memory_bytes(), files.left_behind)


def look_at_device(path: str, max_bytes: int, machine: Machine) -> Looked:
    """A device that may be erased, and what is on it now. CardError: it must not be."""
    (looked,) = look_at([path], Limits(SECTOR_BYTES, max_bytes), machine)
    return looked


def examine_device(looked: Looked, max_bytes: int, order: Order, machine: Machine) -> Outcome:
    """Write over a whole device, if it still is what was shown, and read it back. CardError: it failed."""
    ((drive, device),) = opened([looked], Limits(SECTOR_BYTES, max_bytes), machine)
    shown = drive_words(drive)
    with surface_of(device, shown, _presence(drive, machine)) as surface:
        capacity = examine(surface, new_stream(), order.watcher, order.clock)
    return Outcome(shown, capacity, order.promised, _memory_bytes(), surface.left_behind, erased=True)


def _presence(drive: Drive, machine: Machine) -> Callable[[], bool]:
    """Whether the same card is still in: a reader may stay when its card goes."""

    def is_there() -> bool:
        try:
            now = machine.describe(drive.path)
        except CardError:
            return False
        return _identity(now) == _identity(drive)

    return is_there


def _identity(drive: Drive) -> tuple[int | None, int, str | None]:
    return drive.number, drive.size_bytes, drive.insertion


def _require_no_device(path: Path) -> None:
    """CardError: it is a raw device, which would have to be erased."""
    try:
        mode = path.stat().st_mode
    except (OSError, ValueError):
        mode = 0
    if windows_device(str(path)) or stat.S_ISBLK(mode) or stat.S_ISCHR(mode):
        error = CardError(f"{printable(str(path))} is a raw device, and its test destroys all that is on it")
        error.advice = "Add --erase if that is wanted, or give the root of the mounted card."
        raise error


def _memory_bytes() -> int:
    return psutil.virtual_memory().total
