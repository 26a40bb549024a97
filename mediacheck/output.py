"""Writes results so that the old file or the new one is there at any moment, never half of one.

It must not know what it writes.
"""

from __future__ import annotations

import errno
import io
import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
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
    temporary = place.with_name(f".{place.name[:NAME_IN_TEMPORARY]}.{secrets.token_hex(6)}.part")
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
            return super().write(data)  # type: ignore[arg-type]
        except OSError as error:
            raise _refusal(self.shown, error) from error


def _place(path: Path) -> Path:
    """Where the file really goes: a link stays a link. Only a file or nothing may be there already."""
    try:
        place = Path(os.path.realpath(path))
        mode = place.stat().st_mode
    except FileNotFoundError as error:
        if not place.name:  # a drive that is not there
            raise _refusal(path, error) from error
        return place
    except (OSError, ValueError) as error:
        raise _refusal(path, error) from error
    if stat.S_ISDIR(mode):
        raise OutputError(f"{path} cannot be written: {REASONS[errno.EISDIR]}")
    if not stat.S_ISREG(mode):
        raise OutputError(f"{path} cannot be written: it is a device or pipe, not a file")
    return place


def _opened(temporary: Path, path: Path) -> io.BufferedWriter:
    try:
        target = _Target(temporary, "xb")
    except (OSError, ValueError) as error:
        raise _refusal(path, error) from error
    target.shown = path
    return io.BufferedWriter(target)


def _finished(file: io.BufferedWriter, temporary: Path, place: Path, path: Path) -> None:
    try:
        file.flush()
        os.fsync(file.fileno())
        file.close()
        with suppress(OSError):
            temporary.chmod(stat.S_IMODE(place.stat().st_mode))  # a replaced file keeps its permissions
        temporary.replace(place)
    except OSError as error:
        raise _refusal(path, error) from error
    _sync_folder(place.parent)


def _sync_folder(folder: Path) -> None:
    """Make the new name last through a power cut. Windows opens no folders, and does this by itself."""
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _refusal(path: Path, error: OSError | ValueError) -> OutputError:
    known = REASONS.get(error.errno or 0) if isinstance(error, OSError) else None
    reason = known or getattr(error, "strerror", None) or str(error)
    return OutputError(f"{path} cannot be written: {reason}")
