"""Reads the files that go on a card, and says what a person needs to know where they cannot be read.

It must not write.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import BinaryIO

from mediacheck.build.direct import Reading
from mediacheck.errors import CardError
from mediacheck.loop import File

BLOCK_BYTES = 1 << 20


def opened(file: File) -> BinaryIO:
    """The file, for reading. Raises CardError."""
    try:
        return file.entry.open()
    except OSError as error:
        raise unreadable(file, error) from error


def fill_view(source: BinaryIO | Reading, view: memoryview, file: File, least: int | None = None) -> int:
    """As many bytes as there is room for. CardError: there are fewer, and fewer than `least`."""
    done = 0
    try:
        while done < len(view):
            found = source.readinto(view[done:])  # type: ignore[union-attr]  # every opened entry has it
            if not found:
                break
            done += found
    except OSError as error:
        raise unreadable(file, error) from error
    if done < (len(view) if least is None else least):
        raise changed(file)
    return done


def hashed(file: File) -> File:
    """With its hash: it is not known of a file whose inspection did not end well. Raises CardError."""
    if file.sha256 is not None:
        return file
    sha256, block = hashlib.sha256(), memoryview(bytearray(BLOCK_BYTES))
    with opened(file) as source:
        while found := fill_view(source, block, file, least=0):
            sha256.update(block[:found])
    return replace(file, sha256=sha256.hexdigest())


def changed(file: File) -> CardError:
    """The error for a file that is not what it was when it was checked."""
    error = CardError(f"{file.entry.path} was changed while the card was built, so no card was made")
    error.advice = "Run the same command again when nothing else writes to the files."
    return error


def unreadable(file: File, error: OSError) -> CardError:
    """The error for a file that could be read when it was checked."""
    found = CardError(
        f"{file.entry.path} cannot be read any more ({error.strerror or error}), so no card was made"
    )
    found.advice = "See whether the disk that holds it is still there."
    return found
