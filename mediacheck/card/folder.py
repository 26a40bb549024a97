"""Lists a folder that stands for a card, or a drive that the system has mounted.

It must not open a file, and must not follow anything that leads outside the card.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from pathlib import Path, PurePath
from typing import TypeVar

from mediacheck.card.model import Card, Entry
from mediacheck.errors import CardError

Scandir = Callable[[str], AbstractContextManager[Iterator["os.DirEntry[str]"]]]
Progress = Callable[[int], None]
"""Is told how many files were found so far, once for each folder."""
AnyPath = TypeVar("AnyPath", bound=PurePath)

GUARDED_FOLDERS = frozenset(
    (
        "system volume information",
        "$recycle.bin",
        "recycler",
        ".trashes",
        ".spotlight-v100",
        ".fseventsd",
        ".documentrevisions-v100",
        ".temporaryitems",
        "lost+found",
    )
)
"""Folders in the root that desktop systems keep for themselves and may not let anybody read.

Names as in the public collection github/gitignore (macOS, Windows); "lost+found" from memory.
"""

IO_REPARSE_TAG_MOUNT_POINT = 0xA0000003
"""Windows: a folder that is really a junction to another one."""

OUTSIDE = "a link that leads outside the card"
TO_NOTHING = "a link to nothing"
CIRCLE = "a link that leads back to itself"
FOLDER_AGAIN = "a link to a folder of the card, whose files are listed there"
SAME_FOLDER = "a folder that was listed already under another name"
VANISHED = "a file or folder that was gone before it could be looked at"
GUARDED = "a folder that the computer keeps for itself and does not let anybody read"
SPECIAL = (
    (stat.S_ISFIFO, "a named pipe, not a file"),
    (stat.S_ISSOCK, "a socket, not a file"),
    (stat.S_ISBLK, "a device, not a file"),
    (stat.S_ISCHR, "a device, not a file"),
)


def open_folder(path: Path, progress: Progress | None = None, scandir: Scandir = os.scandir) -> Card:
    """List a folder as a card. CardError: nothing there, not a folder, or a folder that cannot be read.

    Entries stand in the order of their names, files before folders. What is on the card and cannot be
    read as a file is an entry that is `unusable`; nothing is left out.
    """
    source = printable(str(path))
    root = whole_drive(path).absolute()  # so that no name looks like an option or an address to a program
    status = _root_status(root, source)
    listing = _Listing(root, source, scandir, progress)
    listing.visited.add((status.st_dev, status.st_ino))
    listing.walk()
    found = sorted(listing.found, key=lambda entry: _name_order(entry.path))
    entries = tuple(entry.at(position) for position, entry in enumerate(found))
    return Card(source, "folder", entries, tuple(sorted(listing.folders, key=_name_order)))


def printable(name: str) -> str:
    """A name with every byte that is not Unicode written as \\x and two digits."""
    return os.fsencode(name).decode("utf-8", "backslashreplace")


def whole_drive(path: AnyPath) -> AnyPath:
    """Windows: "E:" is meant as the whole drive E, not as the current folder on it."""
    return type(path)(path.drive + "\\") if path.drive and str(path) == path.drive else path


@dataclass(frozen=True, slots=True)
class _Found:
    """An entry that has no position yet."""

    path: str
    size_bytes: int
    location: Path
    unusable: str | None
    valid_name: bool

    def at(self, position: int) -> Entry:
        return Entry(
            self.path, self.size_bytes, position, self.location, self.unusable, valid_name=self.valid_name
        )


@dataclass(slots=True)
class _Listing:
    """The walk through the folders of one card."""

    root: Path
    source: str
    scandir: Scandir
    progress: Progress | None
    found: list[_Found] = field(default_factory=list)
    folders: list[str] = field(default_factory=list)
    visited: set[tuple[int, int]] = field(default_factory=set)
    real_root: str = ""

    def walk(self) -> None:
        """Folder by folder, from a list that grows: no depth of folders overruns the stack."""
        self.real_root = os.path.realpath(self.root)
        waiting = [""]
        while waiting:
            waiting.extend(self._list(waiting.pop()))
            if self.progress:
                self.progress(len(self.found))

    def _list(self, folder: str) -> list[str]:
        """Take down the files of one folder, a path below the root, and return the folders in it."""
        try:
            with self.scandir(str(self.root / folder)) as items:
                here = list(items)
        except OSError as error:
            self._unlisted(folder, error)
            return []
        if folder:
            self.folders.append(printable(folder))
        names = (f"{folder}/{item.name}" if folder else item.name for item in here)
        return [name for item, name in zip(here, names, strict=True) if self._take(item, name)]

    def _take(self, item: os.DirEntry[str], name: str) -> bool:
        """Take one thing down, or answer that it is a folder still to be listed."""
        try:
            return self._is_new_folder(item, name)
        except FileNotFoundError:
            self._add(name, unusable=VANISHED)
        except OSError as error:
            self._add(name, unusable=f"a file or folder that cannot be looked at ({error.strerror})")
        return False

    def _unlisted(self, folder: str, error: OSError) -> None:
        """A folder that cannot be listed ends the listing, unless it is known to hold nothing to play."""
        if folder and isinstance(error, FileNotFoundError):
            self._add(folder, unusable=VANISHED)
        elif folder.casefold() in GUARDED_FOLDERS and isinstance(error, PermissionError):
            self._add(folder, unusable=GUARDED)
        else:
            shown = printable(str(self.root / folder)) if folder else self.source
            raise CardError(f"the folder {shown} cannot be read: {_reason(error)}") from error

    def _is_new_folder(self, item: os.DirEntry[str], name: str) -> bool:
        status = item.stat(follow_symlinks=False)
        if stat.S_ISLNK(status.st_mode) or is_junction(status):
            self._take_link(item.path, name)
        elif stat.S_ISDIR(status.st_mode):
            return self._first_visit(item.path, name)
        else:
            self._take_file(status, name)
        return False

    def _first_visit(self, path: str, name: str) -> bool:
        """Whether a folder is met for the first time. Folders mounted twice could lead in a circle."""
        status = Path(path).lstat()
        identity = (status.st_dev, status.st_ino)
        if identity in self.visited:
            self._add(name, unusable=SAME_FOLDER)
            return False
        if status.st_ino:  # 0 where the file system gives no numbers
            self.visited.add(identity)
        return True

    def _take_file(self, status: os.stat_result, name: str) -> None:
        special = next((what for is_it, what in SPECIAL if is_it(status.st_mode)), None)
        self._add(name, size_bytes=0 if special else status.st_size, unusable=special)

    def _take_link(self, path: str, name: str) -> None:
        target = os.path.realpath(path)
        if not _inside(target, self.real_root):
            self._add(name, unusable=OUTSIDE)
            return
        try:
            status = Path(path).stat()
        except OSError as error:
            broken = CIRCLE if error.errno == errno.ELOOP else TO_NOTHING
            self._add(name, unusable=broken)
            return
        if stat.S_ISDIR(status.st_mode):
            self._add(name, unusable=FOLDER_AGAIN)
        else:
            self._take_file(status, name)

    def _add(self, name: str, size_bytes: int = 0, unusable: str | None = None) -> None:
        shown = printable(name)
        self.found.append(_Found(shown, size_bytes, self.root / name, unusable, _is_unicode(name)))


def is_junction(status: os.stat_result) -> bool:
    """Windows: whether a folder is a junction, which leads elsewhere as a link does."""
    return getattr(status, "st_reparse_tag", 0) == IO_REPARSE_TAG_MOUNT_POINT


def _root_status(root: Path, source: str) -> os.stat_result:
    try:
        status = root.stat()
    except (FileNotFoundError, NotADirectoryError, ValueError) as error:
        raise CardError(f"there is nothing at {source}") from error
    except OSError as error:
        raise CardError(f"{source} cannot be read: {_reason(error)}") from error
    if not stat.S_ISDIR(status.st_mode):
        kind = "file" if stat.S_ISREG(status.st_mode) else "device or pipe"
        raise CardError(f"{source} is a {kind}, not a folder or drive")
    return status


def _reason(error: OSError) -> str:
    if isinstance(error, PermissionError):
        return "you may not look into it"
    return error.strerror or str(error)


def _inside(target: str, root: str) -> bool:
    try:
        return os.path.commonpath((target, root)) == root
    except ValueError:  # on another drive
        return False


def _is_unicode(name: str) -> bool:
    try:
        os.fsencode(name).decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _name_order(path: str) -> tuple[tuple[tuple[int, str], ...], str]:
    """Folder by folder, files before folders, case ignored: as `loop.name_order`, ties by exact name."""
    *folders, name = path.split("/")
    return (*((1, folder.casefold()) for folder in folders), (0, name.casefold())), path
