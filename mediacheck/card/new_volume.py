"""What is to be written on a card: folders and files in their order, and the volume that is to hold them.

It must not know how a file system lays them out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from mediacheck.errors import CardError
from mediacheck.names import FileSystem


@dataclass(frozen=True, slots=True)
class NewFile:
    """A file to be written."""

    name: str
    size_bytes: int
    modified: datetime
    """Without a zone: as clocks show it. Years 1980 to 2107; creation and access get the same time."""


@dataclass(frozen=True, slots=True)
class NewFolder:
    """A folder to be written, its entries in the order of the disk: the files, then the folders."""

    name: str
    """Empty for the root."""
    modified: datetime
    files: tuple[NewFile, ...] = ()
    folders: tuple[NewFolder, ...] = ()


@dataclass(frozen=True, slots=True)
class Walked:
    """A folder that is met on a walk in the order of the disk; number 0 is the root."""

    path: str
    """From the root, with `/`; empty for the root."""
    new: NewFolder
    parent: int
    inner: tuple[int, ...]
    """The numbers in that order of the folders in it."""

    @property
    def files(self) -> Iterator[tuple[str, NewFile]]:
        """The files in it, with their paths."""
        above = f"{self.path}/" if self.path else ""
        return ((above + file.name, file) for file in self.new.files)

    @property
    def names(self) -> list[str]:
        """Of all that it lists, in order: the files, then the folders."""
        return [*(file.name for file in self.new.files), *(inner.name for inner in self.new.folders)]

    @property
    def shown(self) -> str:
        """As sentences call it."""
        return f"the folder {self.path}" if self.path else "the root folder"


def walk(root: NewFolder) -> tuple[Walked, ...]:
    """The root, and each folder before those in it."""
    found: list[tuple[str, NewFolder, int]] = []
    inner: list[list[int]] = []
    waiting = [("", root, 0)]
    while waiting:  # no recursion: no depth of folders overruns the stack
        path, folder, parent = waiting.pop()
        number = len(found)
        if number:
            inner[parent].append(number)
        above = f"{path}/" if path else ""
        waiting.extend((above + below.name, below, number) for below in reversed(folder.folders))
        found.append((path, folder, parent))
        inner.append([])
    return tuple(Walked(*one, tuple(below)) for one, below in zip(found, inner, strict=True))


@dataclass(frozen=True, slots=True)
class NewVolume:
    """A volume to be written, on a medium of 512-byte sectors."""

    file_system: FileSystem
    """FAT16, FAT32 or exFAT."""
    start_byte: int
    """Where it begins on the medium."""
    size_bytes: int
    """A multiple of 512."""
    cluster_bytes: int
    serial: int
    """32 bits."""
    root: NewFolder
    """Its names are valid (`limits.refusal`), and no two in one folder are the same (`limits.same_name`)."""
    label: str | None = None
    """Valid (`limits.label_refusal`)."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Where the bytes of one file go: in one piece, from here on."""

    path: str
    start_byte: int
    """On the medium. Of an empty file: no place, 0."""
    size_bytes: int


class LaidOut(Protocol):
    """A volume with a place for everything. All that is no file's content lies before the first content."""

    @property
    def files(self) -> tuple[Placed, ...]:
        """All files; those that have content in rising order of their places, which is the order of the
        disk: the files of a folder, then those of the folders in it."""

    @property
    def capacity_bytes(self) -> int:
        """These three as the reader of the file system tells them of the finished volume."""

    @property
    def used_bytes(self) -> int:
        """What is in use, folders included."""

    @property
    def free_bytes(self) -> int:
        """What is left."""

    def head(self) -> Iterator[tuple[int, bytes]]:
        """Everything but the files' contents: place on the medium and bytes, in rising order, in pieces of
        a few MiB at most. What is not among them is zero."""


class DoesNotFit(CardError):
    """The volume is too small for what it is to hold, or too small or too large for its file system."""

    advice = "Choose another size with --size, or take files out."
