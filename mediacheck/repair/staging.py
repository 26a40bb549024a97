"""The copy as it grows, out of sight, and how it comes to its place: each file complete there, or not at all.

It must not decide what belongs in it.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from mediacheck.build.source import fill_view, opened
from mediacheck.errors import CardError, OutputError, WrongUse
from mediacheck.inspection import sha256_of
from mediacheck.loop import File
from mediacheck.output import atomic_writer, lock, refusal, sync_folder
from mediacheck.repair.places import Places

BLOCK_BYTES = 1 << 20
LOCK = "in-use"


@contextmanager
def working(places: Places) -> Iterator[None]:
    """The folder for work in progress, for one run at a time. What a stopped run leaves serves the next."""
    try:
        places.content.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(places.work / LOCK, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        raise refusal(places.work, error) from error
    try:
        lock(descriptor)
        yield
    except BlockingIOError as error:
        raise WrongUse(f"{places.out} cannot be written: another repair is writing it") from error
    finally:
        os.close(descriptor)
        _tidy(places)


def _tidy(places: Places) -> None:
    """Nothing stays of a run that came to its end."""
    if not places.content.exists():
        with suppress(OSError):  # another run has begun
            (places.work / LOCK).unlink()
            places.work.rmdir()


def clear(places: Places, wanted: Collection[str]) -> None:
    """Remove from the work what an earlier run left and this one does not want. Raises OutputError."""
    for folder, _, names in os.walk(places.content, topdown=False):
        for name in names:
            path = Path(folder) / name
            if path.relative_to(places.content).as_posix() not in wanted:
                _removed(path)
        with suppress(OSError):  # not empty
            Path(folder).rmdir()
    with suppress(OSError):
        places.content.mkdir(parents=True, exist_ok=True)


def copy(file: File, places: Places, path: str, there: Mapping[str, str]) -> None:
    """One file of the source, byte for byte as it was checked. CardError: it is another one by now."""
    target = places.content / path
    if target.is_file() and sha256_of(target) == file.sha256:
        return
    make_folder(target)
    if there.get(path) == file.sha256 and _taken(places.out / path, target):
        return
    digest, block = hashlib.sha256(), memoryview(bytearray(BLOCK_BYTES))
    with opened(file) as source, atomic_writer(target) as copied:
        while found := fill_view(source, block, file, least=0):
            digest.update(block[:found])
            copied.write(block[:found])
        if file.sha256 is not None and digest.hexdigest() != file.sha256:
            raise _changed(file)


def _changed(file: File) -> CardError:
    error = CardError(f"{file.entry.path} was changed while it was copied, so the copy was not made")
    error.advice = "Run the same command again when nothing else writes to the files."
    return error


def _taken(place: Path, target: Path) -> bool:
    """A second name for what stands in the copy already; False where that does not go."""
    try:
        os.link(place, target)
    except OSError:
        return False
    return True


def make_folder(target: Path) -> None:
    """The folder that a file is to be written into. Raises OutputError."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise refusal(target, error) from error


def drop_old(places: Places, there: Mapping[str, str], wanted: Mapping[str, str]) -> bool:
    """Remove from the copy what an earlier repair put there and is not wanted now. True: there was some."""
    gone = [path for path, sha256 in there.items() if wanted.get(path) != sha256]
    for path in gone:
        _removed(places.out / path)
    return bool(gone)


def settle(places: Places, there: Mapping[str, str], order: Sequence[str], folders: Sequence[str]) -> bool:
    """Bring the work to its place: all at once where nothing is there, else file by file, in this order.

    False: all of it was there already. Raises OutputError.
    """
    try:
        for folder in folders:
            (places.content / folder).mkdir(parents=True, exist_ok=True)
        if not places.out.exists():
            places.content.replace(places.out)
            moved = True
        else:
            moved = _moved(places, there, order)
            for folder in folders:
                (places.out / folder).mkdir(parents=True, exist_ok=True)
        sync_folder(places.out.absolute().parent)
        drop(places)
    except OSError as error:
        raise refusal(places.out, error) from error
    return moved


def drop(places: Places) -> None:
    """Nothing of the work is needed any more."""
    if places.content.exists():
        shutil.rmtree(places.content)


def _moved(places: Places, there: Mapping[str, str], order: Sequence[str]) -> bool:
    moved = False
    for path in order:
        target = places.out / path
        if path in there and target.exists():  # the same bytes: what differed is gone by now
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        (places.content / path).replace(target)
        moved = True
    _without_empty_folders(places.out)
    return moved


def _without_empty_folders(out: Path) -> None:
    for folder, _, _ in os.walk(out, topdown=False):
        if Path(folder) != out:
            with suppress(OSError):  # not empty
                Path(folder).rmdir()


def _removed(path: Path) -> None:
    try:
        path.unlink()
    except FileNotFoundError:
        return
    except OSError as error:
        raise OutputError(f"{path} cannot be removed: {error.strerror or error}") from error
