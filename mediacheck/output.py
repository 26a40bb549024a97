"""Writes results so that the old file or the new one is there at any moment, never half of one.

It must not know what it writes.
"""

from __future__ import annotations

import errno
import io
import os
import secrets
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, cast

from mediacheck.errors import OutputError

REASONS = {
    errno.EACCES: "you may not write there, or another program has it open",
    errno.EPERM: "you may not write there",
    errno.EROFS: "that place is write-protected",
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "your share of the disk is used up",
    errno.EFBIG: "it would be larger than that disk allows",
    errno.ENOENT: "its folder does not exist",
    errno.ENOTDIR: "a part of its path is a file, not a folder",
    errno.EISDIR: "there is a folder of that name",
    errno.ENAMETOOLONG: "the name is too long",
    errno.EIO: "the disk does not answer as it should",
}
NAME_IN_TEMPORARY = 40
"""Characters of the final name that the temporary one repeats; together they stay under any limit."""


def write_atomically(path: Path, data: bytes | str) -> None:
    """Write a whole file; text as UTF-8 with line ends as they are. OutputError if that cannot be done."""
    with atomic_writer(path) as file:
        file.write(data.encode() if isinstance(data, str) else data)


@contextmanager
def atomic_writer(path: Path) -> Iterator[BinaryIO]:
    """A file to write into, which takes the place of `path` when the block ends well.

    If the block raises, or the program is killed, what was at `path` before is still there.
    OutputError: one sentence that names the path and the reason.
    """
    place = _place(path)
    temporary = place.with_name(f".{place.name[:NAME_IN_TEMPORARY]}.{secrets.token_hex(6)}.partial")
    file = _opened(temporary, path)
    try:
        yield cast("BinaryIO", file)
        _finished(file, temporary, place, path)
    except BaseException:
        with suppress(OSError, OutputError):
            file.close()
        with suppress(OSError):
            temporary.unlink()
        raise


class _Target(io.FileIO):
    """The temporary file. What goes wrong while writing it is told of the path that people know."""

    shown: Path

    def write(self, data: object) -> int:
        """As FileIO, with OutputError in place of OSError."""
        try:
            return super().write(data)  # type: ignore[arg-type]  # bytes-like, as the base takes it
        except OSError as error:
            raise refusal(self.shown, error) from error


def _place(path: Path) -> Path:
    """Where the file really goes: a link stays a link. Only a file or nothing may be there already."""
    try:
        place = Path(os.path.realpath(path))
        mode = place.stat().st_mode
    except FileNotFoundError as error:
        if not place.name:  # a drive that is not there
            raise refusal(path, error) from error
        return place
    except (OSError, ValueError) as error:
        raise refusal(path, error) from error
    if stat.S_ISDIR(mode):
        raise OutputError(f"{path} cannot be written: {REASONS[errno.EISDIR]}")
    if not stat.S_ISREG(mode):
        raise OutputError(f"{path} cannot be written: it is a device or pipe, not a file")
    return place


def _opened(temporary: Path, path: Path) -> io.BufferedWriter:
    try:
        target = _Target(temporary, "xb")
    except (OSError, ValueError) as error:
        raise refusal(path, error) from error
    target.shown = path
    return io.BufferedWriter(target)


def _finished(
    file: io.BufferedWriter | io.BufferedRandom | io.FileIO,
    temporary: Path,
    place: Path,
    path: Path,
    claimed: bool = False,
) -> None:
    """Give it its name; `claimed` is one that another run may claim as soon as it is closed."""
    try:
        file.flush()
        os.fsync(file.fileno())
        if not claimed:  # Windows renames nothing that is open
            file.close()
        with suppress(OSError):
            temporary.chmod(stat.S_IMODE(place.stat().st_mode))  # a replaced file keeps its permissions
        temporary.replace(place)
        file.close()
    except OSError as error:
        raise refusal(path, error) from error
    sync_folder(place.parent)


def sync_folder(folder: Path) -> None:
    """Make the new name last through a power cut. Windows opens no folders, and does this by itself."""
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def write_all(file: BinaryIO, data: bytes | memoryview) -> None:
    """Write all of it to an unbuffered file, which may take less at a time. Raises OSError."""
    left = memoryview(data)
    while left:
        left = left[file.write(left) :]


def refusal(path: Path, error: OSError | ValueError) -> OutputError:
    """What a person needs to know of a failed write, with the path that people know."""
    known = REASONS.get(error.errno or 0) if isinstance(error, OSError) else None
    reason = known or getattr(error, "strerror", None) or str(error)
    return OutputError(f"{path} cannot be written: {reason}")


@dataclass(frozen=True, slots=True)
class Beside:
    """A name for another program to write under, until what it wrote takes the place of `shown`."""

    path: Path
    place: Path
    shown: Path

    def settle(self) -> None:
        """What stands there is complete: it gets its name. OutputError if that cannot be done."""
        try:
            file = self.path.open("r+b")
        except OSError as error:
            raise refusal(self.shown, error) from error
        with file:
            _finished(file, self.path, self.place, self.shown)


@contextmanager
def place_beside(path: Path, suffix: str) -> Iterator[Beside]:
    """A free name in the folder of `path` that ends in `suffix`: programs go by endings.

    What stands there at the end and was not settled is removed. OutputError: nothing can be written there.
    """
    place = _place(path)
    name = f".{place.name[:NAME_IN_TEMPORARY]}.{secrets.token_hex(6)}.partial{suffix}"
    temporary = place.with_name(name)
    _opened(temporary, path).close()  # told here what another program would tell in its own words
    temporary.unlink()
    try:
        yield Beside(temporary, place, path)
    finally:
        with suppress(OSError):
            temporary.unlink()


@contextmanager
def partial_writer(path: Path) -> Iterator[BinaryIO]:
    """As `atomic_writer`, for what is large: it grows under a name that people see, "card.img.partial".

    What an earlier run left under that name, when it was killed, is written over. OutputError: also while
    another run writes the same file.
    """
    place = _place(path)
    temporary = place.with_name(f"{place.name}.partial")
    file = _claimed(temporary, path)
    try:
        yield cast("BinaryIO", file)
        _finished(file, temporary, place, path, claimed=sys.platform != "win32")
    except BaseException as error:
        _discard(file, temporary)
        if isinstance(error, OSError):
            raise refusal(path, error) from error
        raise


@contextmanager
def claim(path: Path, name: str) -> Iterator[None]:
    """No other run writes into the folder `path` meanwhile: a locked file in it says so, and goes at the end.

    OutputError: another run has it, or nothing can be written there.
    """
    temporary = path / f"{name}.partial"
    file = _claimed(temporary, path)
    try:
        yield
    finally:
        _discard(file, temporary)


def _claimed(temporary: Path, path: Path) -> io.FileIO:
    """The temporary file, empty and locked; it may be there already, but not in use."""
    while True:
        try:
            file = io.FileIO(temporary, "r+", opener=_open_or_create)
        except OSError as error:
            raise refusal(path, error) from error
        try:
            lock(file.fileno())
            if _is_still(file, temporary):
                file.truncate(0)
                return file
        except BlockingIOError as error:
            raise OutputError(f"{path} cannot be written: another run is writing {temporary.name}") from error
        except OSError as error:
            raise refusal(path, error) from error
        file.close()


def _open_or_create(name: str, flags: int) -> int:
    """Never through a link: what it leads to is not ours to empty."""
    return os.open(name, flags | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)


def _discard(file: io.FileIO, temporary: Path) -> None:
    """Remove it as long as it is claimed: another run may have made the next one by now."""
    with suppress(OSError, ValueError):  # ValueError: it is closed, and has its name
        if sys.platform == "win32":  # which removes nothing that is open
            file.close()
            temporary.unlink()
        elif _is_still(file, temporary):
            temporary.unlink()
    with suppress(OSError):
        file.close()


def _is_still(file: io.FileIO, temporary: Path) -> bool:
    """Whether the name still leads to this file: another run may just have given it its final name."""
    with suppress(FileNotFoundError):
        return os.path.samestat(os.fstat(file.fileno()), temporary.stat())
    return False


if sys.platform == "win32":

    def lock(descriptor: int) -> None:
        """Nobody else may lock it. Raises BlockingIOError.

        What is locked can be read through no other handle, also not of this process (Microsoft, LockFile): it
        is a byte far behind the end, so that what was written can be read back.
        """
        import msvcrt

        place = os.lseek(descriptor, 0, os.SEEK_CUR)
        os.lseek(descriptor, 1 << 62, os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError as error:
            raise BlockingIOError(*error.args) from error
        finally:
            os.lseek(descriptor, place, os.SEEK_SET)
else:

    def lock(descriptor: int) -> None:
        """Nobody else may lock it. Raises BlockingIOError; not where a file system has no locks."""
        import fcntl

        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise
        except OSError:
            return
