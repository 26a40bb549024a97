"""The pipe of a decode is read in a few large pieces, and who writes never waits for that."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from mediacheck.measure import calm
from mediacheck.measure.calm import PAUSE_MAX_S, PAUSE_MIN_S, ROOM_MIN_BYTES, CalmReader, room_bytes

SIZE = 1 << 16
linux_only = pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells what a pipe can hold")


def everything(reader: CalmReader) -> bytes:
    return b"".join(iter(lambda: reader.read(SIZE), b""))


def wide_pipe(size_bytes: int = ROOM_MIN_BYTES) -> tuple[int, int]:
    ours, theirs = os.pipe()
    if sys.platform == "linux":
        import fcntl

        fcntl.fcntl(ours, fcntl.F_SETPIPE_SZ, size_bytes)
    return ours, theirs


def written(write: Callable[[int], None]) -> tuple[CalmReader, threading.Thread]:
    """A reader of a pipe into which a thread writes."""
    ours, theirs = wide_pipe()

    def work() -> None:
        write(theirs)
        os.close(theirs)

    thread = threading.Thread(target=work)
    thread.start()
    return CalmReader(os.fdopen(ours, "rb")), thread


@pytest.mark.parametrize("room", [True, False])
def test_all_that_is_written_comes_in_order_whatever_its_pieces(
    room: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not room:
        monkeypatch.setattr(calm, "room_bytes", lambda _: 0)
    data = os.urandom(1_000_000)
    sizes = [1, SIZE - 1, SIZE, SIZE + 1, 43_200, 7, 300_000]

    def write(pipe: int) -> None:
        place = 0
        while place < len(data):
            size = sizes[place % len(sizes)]
            os.write(pipe, data[place : place + size])
            place += min(size, len(data) - place)

    reader, thread = written(write)
    assert everything(reader) == data
    thread.join()


@linux_only
def test_a_pipe_that_is_empty_is_left_alone_for_a_while(monkeypatch: pytest.MonkeyPatch) -> None:
    """Else there is a read for every piece that is written."""
    reads = list[int]()
    read = os.read

    def counted(pipe: int, size: int) -> bytes:
        reads.append(size)
        return read(pipe, size)

    monkeypatch.setattr("os.read", counted)

    def write(pipe: int) -> None:
        for _ in range(400):
            os.write(pipe, b"x" * 100)
            time.sleep(0.001)

    reader, thread = written(write)
    assert len(everything(reader)) == 40_000
    thread.join()
    assert len(reads) < 100
    assert reader._pause_s == PAUSE_MAX_S


@linux_only
def test_who_writes_fast_is_not_kept_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pause is over before the pipe is full."""
    pauses = list[float]()
    monkeypatch.setattr(calm, "_pause", lambda _, seconds: pauses.append(seconds))
    ours, theirs = wide_pipe()
    reader = CalmReader(os.fdopen(ours, "rb"))
    room = reader._room_bytes
    reader._pause_s = PAUSE_MAX_S
    for _ in range(9):
        os.write(theirs, b"x" * (room - 1))
        while len(reader.read(SIZE)) == SIZE:
            pass
    assert pauses == sorted(pauses, reverse=True)
    assert pauses[-1] == PAUSE_MIN_S, "it does not come to nothing, or it could not grow again"
    for _ in range(12):
        os.write(theirs, b"x")
        reader.read(SIZE)
    assert pauses[-1] == PAUSE_MAX_S
    os.close(theirs)


@linux_only
def test_the_end_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calm, "PAUSE_MAX_S", 60.0)
    ours, theirs = wide_pipe()
    reader = CalmReader(os.fdopen(ours, "rb"))
    os.write(theirs, b"x")
    assert reader.read(SIZE) == b"x"
    reader._pause_s = 30.0
    threading.Timer(0.1, os.close, [theirs]).start()
    begun_s = time.monotonic()
    assert reader.read(SIZE) == b""
    assert time.monotonic() - begun_s < 10


@linux_only
@pytest.mark.parametrize("size_bytes", [4096, 8192, SIZE])
def test_in_a_narrow_pipe_nothing_is_waited_for(size_bytes: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each read takes it all, so that each would be followed by a pause."""
    pauses = list[float]()
    monkeypatch.setattr(calm, "_pause", lambda _, seconds: pauses.append(seconds))
    ours, theirs = wide_pipe(size_bytes)
    reader = CalmReader(os.fdopen(ours, "rb"))
    for _ in range(3):
        os.write(theirs, b"x" * size_bytes)
        assert reader.read(SIZE + 1) == b"x" * size_bytes
    os.close(theirs)
    assert reader.read(SIZE) == b""
    assert pauses == []


def test_what_is_no_pipe_is_read_without_waiting(tmp_path: Path) -> None:
    place = tmp_path / "file"
    place.write_bytes(b"x" * 100)
    with place.open("rb") as file:
        assert room_bytes(file) == 0
        reader = CalmReader(file)
        assert everything(reader) == b"x" * 100
    assert reader._pause_s == PAUSE_MIN_S
