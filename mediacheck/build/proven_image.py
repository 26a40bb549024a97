"""The image of a card that is going to be written: what it is by its bytes, and that it stays so.

It must not write, and does not know what the bytes mean.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from mediacheck.build.fan import BLOCK_BYTES
from mediacheck.build.record import beside
from mediacheck.card.folder import printable
from mediacheck.card.medium import open_medium
from mediacheck.card.partitions import read_partitions
from mediacheck.errors import CardError, ManifestError
from mediacheck.manifest.sums import sums_of
from mediacheck.watching import ByteWatcher


@dataclass(frozen=True, slots=True)
class Stamp:
    """By what it is seen that a file is still the same."""

    device: int
    inode: int
    size_bytes: int
    modified_ns: int

    @classmethod
    def of(cls, file: BinaryIO) -> Stamp:
        """That of an opened file. Raises OSError."""
        status = os.fstat(file.fileno())
        return cls(status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns)


@dataclass(frozen=True, slots=True)
class ProvenImage:
    """An image whose bytes were read whole."""

    path: Path
    stamp: Stamp
    sha256: str
    is_listed: bool
    """Whether a list of checksums beside it says the same; False: there is none."""
    has_gpt: bool

    @property
    def size_bytes(self) -> int:
        """How large it is."""
        return self.stamp.size_bytes


def open_image(path: Path) -> BinaryIO:
    """Open it for reading. CardError: it is no file, or not to be read."""
    shown = printable(str(path))
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise CardError(f"{shown} is no image: give the file of an image, such as card.img")
        return path.open("rb", buffering=0)
    except (OSError, ValueError) as error:
        raise CardError(f"{shown} cannot be read: {getattr(error, 'strerror', None) or error}") from error


def prove_image(path: Path, watcher: ByteWatcher) -> ProvenImage:
    """Read it whole. CardError, ManifestError: it is not what a list of checksums beside it says."""
    with open_image(path) as file:
        listed = _listed(path)
        stamp = Stamp.of(file)
        watcher.begin(stamp.size_bytes, "reading the image")
        try:
            sha256 = _sha256(file, path, watcher)
        finally:
            watcher.end()
        if Stamp.of(file) != stamp:
            raise changed(path)
    if listed not in (None, sha256):
        names = beside(path).sums.name
        error = CardError(f"{printable(str(path))} is not the image that {names} names: its bytes are others")
        error.advice = "Build it or copy it again."
        raise error
    with closing(open_medium(str(path))) as medium:
        has_gpt = read_partitions(medium).table == "GPT"
    return ProvenImage(path, stamp, sha256, listed is not None, has_gpt)


def changed(path: Path) -> CardError:
    """The error for an image that another program writes to."""
    error = CardError(f"{printable(str(path))} was changed while it was read")
    error.advice = "Wait until it is complete, and run the same command again."
    return error


def blocks_of(file: BinaryIO, size_bytes: int) -> Iterator[bytes]:
    """Its bytes from the first to the last, in blocks; fewer where it is shorter by now. Raises OSError."""
    for offset in range(0, size_bytes, BLOCK_BYTES):
        length = min(BLOCK_BYTES, size_bytes - offset)
        block = read_block(file, offset, length)
        yield block
        if len(block) < length:
            return


def read_block(file: BinaryIO, offset: int, length: int) -> bytes:
    """So many bytes from there; fewer where it ends. Raises OSError."""
    file.seek(offset)
    pieces = []
    while length and (piece := file.read(length)):
        pieces.append(piece)
        length -= len(piece)
    return pieces[0] if len(pieces) == 1 else b"".join(pieces)


def _sha256(file: BinaryIO, path: Path, watcher: ByteWatcher) -> str:
    digest = hashlib.sha256()
    try:
        for block in blocks_of(file, Stamp.of(file).size_bytes):
            digest.update(block)
            watcher.advanced(len(block))
    except OSError as error:
        raise CardError(f"{printable(str(path))} cannot be read: {error.strerror or error}") from error
    return digest.hexdigest()


def _listed(path: Path) -> str | None:
    """What the list beside it says of it; None where there is no list."""
    place = beside(path).sums
    shown = printable(str(place))
    try:
        content = place.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise ManifestError(f"{shown} cannot be read: {error.strerror or error}") from error
    sums = dict(sums_of(content, shown))
    if printable(path.name) not in sums:
        unnamed = ManifestError(f"{shown} stands beside the image, and does not name it")
        unnamed.advice = "Give the image the name that it was built with, or remove the list."
        raise unnamed
    return sums[printable(path.name)]
