"""Whether another machine reaches the same files: what is seen of a path here and there.

It must not know how it is asked; everything that is sent is plain, so that any version can read it.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import socket
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from mediacheck.card.device import windows_device
from mediacheck.card.edges import edges_of
from mediacheck.card.folder import printable, whole_drive
from mediacheck.card.within import Within
from mediacheck.output import refusal

Seen = tuple[tuple[Path | Within, bytes], ...]
"""Files, with what tells each from another: images of cards are all of one size."""


@dataclass(frozen=True, slots=True)
class Needs:
    """What every machine that helps must reach."""

    read: tuple[Path, ...] = ()
    """Cards and masters."""
    write: Path | None = None
    """A folder in which new files are made."""


def look_of(path: str) -> str:
    """What tells one card from another at a glance: its size, or its top folder. Raises OSError."""
    device = f"device of {socket.gethostname()}"
    if windows_device(path):
        return device
    state = whole_drive(Path(path)).stat()
    if stat.S_ISREG(state.st_mode):
        with Path(path).open("rb"):
            return f"file of {state.st_size} bytes"
    if not stat.S_ISDIR(state.st_mode):  # the same name elsewhere is another card
        return device
    with os.scandir(whole_drive(Path(path))) as listing:
        names = sorted(printable(item.name) for item in listing)
    return "folder " + hashlib.sha256("\n".join(names).encode()).hexdigest()


def looks_of(paths: tuple[Path, ...]) -> dict[str, str]:
    """Of each that can be looked at here; what cannot is told of its card later."""
    found = {}
    for path in paths:
        name = windows_device(str(path)) or str(whole_drive(path).absolute())
        with suppress(OSError, ValueError):
            found[name] = look_of(name)
    return found


def not_reached(looks: dict[str, str]) -> str | None:
    """What of this is not the same on this machine, as the end of a sentence; None: all is."""
    for path, look in looks.items():
        try:
            if look_of(path) != look:
                return f"finds something else at {printable(path)}"
        except (OSError, ValueError) as error:
            return f"cannot read {printable(path)} ({getattr(error, 'strerror', None) or error})"
    return None


@contextmanager
def marked(folder: Path | None) -> Iterator[str | None]:
    """A file in the folder by which other machines know that it is the same one. OutputError."""
    if folder is None:
        yield None
        return
    place = folder.absolute() / f".mediacheck-{secrets.token_hex(8)}.partial"
    try:
        place.touch(exist_ok=False)
    except OSError as error:
        raise refusal(folder, error) from error
    try:
        yield str(place)
    finally:
        with suppress(OSError):
            place.unlink()


def not_writable(marker: str | None) -> str | None:
    """Why new files cannot be made beside the marker from this machine; None: they can."""
    if marker is None:
        return None
    place = Path(marker)
    if not place.is_file():
        return f"does not see the folder {printable(str(place.parent))} as it is here"
    own = place.with_name(f".mediacheck-{secrets.token_hex(8)}.partial")
    try:
        own.touch(exist_ok=False)
        own.unlink()
    except OSError as error:
        return f"cannot write to {printable(str(place.parent))} ({error.strerror or error})"
    return None


def seen_by(args: object) -> Seen:
    """The files that a call will read, as they are here; without what cannot be looked at here."""
    found = {}
    for location in _read_by(args):
        with suppress(OSError, ValueError):
            found[location] = _edges_of(location)
    return tuple(found.items())


def _edges_of(location: Path | Within) -> bytes:
    size_bytes = location.stat().st_size if isinstance(location, Path) else location.size_bytes
    return edges_of(location, size_bytes)


def _read_by(value: object) -> Iterator[Path | Within]:
    if isinstance(value, tuple):
        for each in value:
            yield from _read_by(each)
    elif isinstance(value, Path | Within):
        yield value
    elif (location := getattr(value, "location", None)) is not None:
        yield from _read_by(location)


def out_of_reach(seen: Seen) -> str | None:
    """The first of these files that is not the same on this machine, or None."""
    for location, edges in seen:
        try:
            if _edges_of(location) == edges:
                continue
        except (OSError, ValueError):
            pass
        return printable(str(location) if isinstance(location, Path) else location.medium)
    return None
