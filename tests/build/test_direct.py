"""Past the system's memory or not: the same bytes arrive, and what fails comes out."""

from __future__ import annotations

import errno
import mmap
import os
import random
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.build import direct
from mediacheck.build.direct import LARGE_BYTES, STEP_BYTES, Reading, Writing
from mediacheck.card.within import Run, Within

FILE_BYTES = 40 * STEP_BYTES
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="only Linux has such a way")


def room(data: bytes) -> memoryview:
    """Memory that begins where a page does."""
    view = memoryview(mmap.mmap(-1, max(1, len(data))))[: len(data)]
    view[:] = data
    return view


Piece = tuple[int, int, bool]
"""Place, length, and whether its memory begins where a page does."""
PLACES = st.integers(0, 30) | st.integers(0, 30).map(lambda number: number * STEP_BYTES)
LENGTHS = st.integers(1, 9 * STEP_BYTES) | st.integers(1, 9).map(lambda number: number * STEP_BYTES)


@settings(max_examples=60)
@given(st.lists(st.tuples(PLACES, LENGTHS, st.booleans()), max_size=8))
def test_what_is_written_here_and_there_is_there(
    tmp_path_factory: pytest.TempPathFactory, pieces: list[Piece]
) -> None:
    path = tmp_path_factory.getbasetemp() / "written"
    meant = _write(path, pieces)
    assert path.read_bytes() == meant


def _write(path: Path, pieces: Sequence[Piece]) -> bytes:
    """What is meant to be there afterwards."""
    meant = bytearray(FILE_BYTES)
    with path.open("w+b", buffering=0) as file:
        file.truncate(FILE_BYTES)
        writing = Writing(file)
        for number, (place, length, is_room) in enumerate(pieces):
            data = random.Random(number).randbytes(length)
            writing.write(place, room(data) if is_room else memoryview(data))
            meant[place : place + length] = data
        writing.end()
        file.seek(FILE_BYTES)
        assert file.write(b"rest") == 4
    return bytes(meant) + b"rest"


@pytest.mark.parametrize("kept", [True, False], ids=["in memory", "not in memory"])
@pytest.mark.parametrize(
    "size_bytes",
    [0, 1, LARGE_BYTES - 1, LARGE_BYTES, LARGE_BYTES + 1, 3 * LARGE_BYTES + STEP_BYTES, 5_000_001],
)
def test_what_is_read_is_what_is_there(size_bytes: int, kept: bool, tmp_path: Path) -> None:
    path, data = tmp_path / "read", random.Random(size_bytes).randbytes(size_bytes)
    path.write_bytes(data)
    if not kept:
        forget(path)
    for length in (16 * STEP_BYTES, LARGE_BYTES, 1000):
        with path.open("rb") as file:
            assert _read(Reading(file, size_bytes), room(bytes(length))) == data


def _read(reading: Reading, view: memoryview) -> bytes:
    found = bytearray()
    while count := reading.readinto(view):
        found += view[:count]
    return bytes(found)


def forget(path: Path) -> None:
    """Have it written, and forgotten where that can be asked for."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())
        if hasattr(os, "posix_fadvise"):
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def test_what_lies_within_a_medium_is_read(tmp_path: Path) -> None:
    path, data = tmp_path / "medium", random.Random(1).randbytes(3 * LARGE_BYTES)
    path.write_bytes(data)
    with Within(str(path), (Run(512, 2 * LARGE_BYTES),), 2 * LARGE_BYTES).open() as file:
        found = _read(Reading(file, 2 * LARGE_BYTES), room(bytes(16 * STEP_BYTES)))
    assert found == data[512 : 512 + 2 * LARGE_BYTES]


def _refuse(number: int) -> object:
    def refuse(*_: object) -> NoReturn:
        raise OSError(number, os.strerror(number))

    return refuse


ALL: Sequence[Piece] = (
    (0, 2 * STEP_BYTES, True),
    (2 * STEP_BYTES, STEP_BYTES + 7, True),
    (70_000, 30, False),
)


@LINUX
@pytest.mark.parametrize("call", ["fcntl.fcntl", "os.pwrite"])
def test_a_file_system_that_has_no_such_way_is_written_as_usual(
    call: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """open(2): what O_DIRECT is refused with. Some refuse it at once, others when it comes to writing."""
    monkeypatch.setattr(call, _refuse(errno.EINVAL))
    assert (tmp_path / "card").write_bytes(b"") == 0
    meant = _write(tmp_path / "card", ALL)
    assert (tmp_path / "card").read_bytes() == meant


@LINUX
def test_a_file_system_that_has_no_such_way_is_read_as_usual(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    path, data = tmp_path / "read", random.Random(2).randbytes(2 * LARGE_BYTES)
    path.write_bytes(data)
    monkeypatch.setattr(direct, "_is_kept", lambda *_: False)
    monkeypatch.setattr("os.preadv", _refuse(errno.EINVAL))
    with path.open("rb") as file:
        assert _read(Reading(file, len(data)), room(bytes(16 * STEP_BYTES))) == data


@LINUX
def test_a_full_disk_comes_out(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    with (tmp_path / "card").open("w+b", buffering=0) as file:
        file.truncate(FILE_BYTES)
        writing = Writing(file)
        if not writing.is_direct:
            pytest.skip("the tests' folder lies on a file system that has no such way")
        monkeypatch.setattr("os.pwrite", _refuse(errno.ENOSPC))
        with pytest.raises(OSError, match="No space left"):
            writing.write(0, room(bytes(STEP_BYTES)))


@LINUX
def test_what_goes_past_the_memory_leaves_nothing_in_it(tmp_path: Path) -> None:
    path, data = tmp_path / "card", random.Random(3).randbytes(2 * LARGE_BYTES)
    path.write_bytes(data)
    forget(path)
    if _is_in_memory(path):
        pytest.skip("the tests' folder lies on a file system that keeps all in memory")
    with path.open("r+b", buffering=0) as file:
        writing = Writing(file)
        if not writing.is_direct:
            pytest.skip("the tests' folder lies on a file system that has no such way")
        writing.write(0, room(data))
    assert not _is_in_memory(path)
    with path.open("rb") as file:
        assert _read(Reading(file, len(data)), room(bytes(LARGE_BYTES))) == data
    assert not _is_in_memory(path)


def _is_in_memory(path: Path) -> bool:
    with path.open("rb") as file:
        return direct._is_kept(file, path.stat().st_size)
