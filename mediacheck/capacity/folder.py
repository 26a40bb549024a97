"""The folder on a drive that holds a capacity test's files: one run's alone, and gone after it.

It must not touch a file that no run of ours has made.
"""

from __future__ import annotations

import errno
import os
import re
import stat
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from mediacheck.capacity.stream import BLOCK_BYTES, has_mark
from mediacheck.card.folder import is_junction, printable
from mediacheck.endings import undisturbed
from mediacheck.errors import CardError
from mediacheck.output import lock, sync_folder
from mediacheck.report.words import counted
from mediacheck.rules.wording import size

FOLDER = "mediacheck-capacity"
O_NOT_A_LINK = getattr(os, "O_NOFOLLOW", 0)
_NAME = re.compile(rf"{FOLDER}-\d{{3,}}\.tmp")

Tell = Callable[[str], None]
"""Is told a sentence for the person who runs this."""


@dataclass(slots=True)
class Folder:
    """The folder of this run."""

    path: Path
    stays: str | None = None
    """Why it could not be removed at the end, a clause."""

    def file(self, number: int) -> Path:
        """Where the file of this number is, from 0."""
        return self.path / f"{FOLDER}-{number:03}.tmp"


@contextmanager
def claimed_folder(root: Path, shown: str, tell: Tell) -> Iterator[Folder]:
    """Make the folder in the root of a drive, or empty that of a run that was killed; remove it at the end.

    CardError: another run uses it, it holds what is not ours, or it cannot be made.
    """
    folder = Folder(root / FOLDER)
    was_there = _is_there(folder.path, shown)
    if not was_there:
        _make(folder.path, shown)
    with _alone(folder.path, shown):
        try:
            if was_there:
                _clear(folder.path, shown, tell)
            yield folder
        finally:
            with undisturbed():
                _remove(folder)


def _is_there(path: Path, shown: str) -> bool:
    try:
        status = path.lstat()
    except FileNotFoundError:
        return False
    except OSError as error:
        raise CardError(f"{shown} cannot be read: {error.strerror or error}") from error
    if not stat.S_ISDIR(status.st_mode) or is_junction(status):
        raise _foreign(shown, FOLDER)
    return True


def _make(path: Path, shown: str) -> None:
    try:
        path.mkdir(0o700)
    except OSError as error:
        reason = "it is full" if error.errno == errno.ENOSPC else error.strerror or error
        refused = CardError(f"nothing can be written to {shown}: {reason}")
        refused.advice = "See whether it is write-protected, and whether you have the right to write to it."
        raise refused from error


def _clear(path: Path, shown: str, tell: Tell) -> None:
    """Remove what a run that was killed has left. CardError: there is something else."""
    try:
        found = sorted(path.iterdir())
        ours = [file for file in found if _is_of_a_run(file)]
        freed_bytes = sum(file.stat().st_size for file in ours)
        for file in ours:
            file.unlink()
    except OSError as error:
        raise CardError(
            f"the folder {FOLDER} on {shown} cannot be emptied: {error.strerror or error}"
        ) from error
    if ours:
        tell(
            f"An earlier test of {shown} was ended before it could tidy up. Of it was removed now: "
            f"{counted(len(ours), 'file')} ({size(freed_bytes)})."
        )
    foreign = [file for file in found if file not in ours]
    if foreign:
        raise _foreign(shown, f"{FOLDER}/{printable(foreign[0].name)}")


def _is_of_a_run(file: Path) -> bool:
    """By its name and its content: a file that was begun is empty or starts with sectors of a stream."""
    status = file.lstat()
    if not _NAME.fullmatch(file.name) or not stat.S_ISREG(status.st_mode):
        return False
    with suppress(OSError), file.open("rb") as opened:
        return not status.st_size or has_mark(opened.read(BLOCK_BYTES))
    return False


def _foreign(shown: str, name: str) -> CardError:
    error = CardError(f"{shown} holds {name}, which is not known to be of a test of its capacity")
    error.advice = f"Look at it, and move or remove {FOLDER} yourself."
    return error


def _remove(folder: Folder) -> None:
    try:
        folder.path.rmdir()
        sync_folder(folder.path.parent)
    except FileNotFoundError:
        return
    except OSError as error:
        folder.stays = f"the folder {FOLDER} could not be removed ({error.strerror or error})"


if sys.platform == "win32":

    @contextmanager
    def _alone(path: Path, shown: str) -> Iterator[None]:
        """Windows opens no folders, and removes no file that another run has open."""
        yield
else:

    @contextmanager
    def _alone(path: Path, shown: str) -> Iterator[None]:
        """Nobody else may use the folder meanwhile. CardError: somebody does."""
        try:
            descriptor = os.open(path, os.O_RDONLY | os.O_DIRECTORY | O_NOT_A_LINK)
        except OSError as error:
            raise CardError(f"the folder {FOLDER} on {shown} cannot be opened: {error.strerror}") from error
        try:
            try:
                lock(descriptor)
            except BlockingIOError as error:
                busy = CardError(f"another test of the capacity of {shown} is at work")
                busy.advice = "Wait until it is done."
                raise busy from error
            yield
        finally:
            os.close(descriptor)
