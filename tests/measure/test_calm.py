"""The pipe of a decode is emptied now and then, handed over much at a time, and who writes never waits."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest

from mediacheck.measure import calm
from mediacheck.measure.calm import (
    GATHER_MAX_S,
    PAUSE_MAX_S,
    PAUSE_MIN_S,
    ROOM_MIN_BYTES,
    STORE_BYTES,
    CalmReader,
    room_bytes,
)

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
def test_what_comes_in_small_pieces_is_handed_over_much_at_a_time() -> None:
    """Else whoever looks is woken for every piece that is written."""

    def write(pipe: int) -> None:
        for _ in range(800):
            os.write(pipe, b"x" * 100)
            time.sleep(0.001)

    reader, thread = written(write)
    handed = [len(data) for data in iter(lambda: reader.read(STORE_BYTES), b"")]
    thread.join()
    assert sum(handed) == 80_000
    assert len(handed) < 20
    assert handed[0] < max(handed), "the first are handed over soon"
    assert reader._pause_s == PAUSE_MAX_S
    assert reader._gather_s == GATHER_MAX_S


@linux_only
def test_the_pipe_is_emptied_while_what_came_before_is_looked_at() -> None:
    """Else a fast decoder would stand still, with a full pipe, as long as the looking takes."""
    ours, theirs = wide_pipe()
    reader = CalmReader(os.fdopen(ours, "rb"))
    room = reader._room_bytes
    os.write(theirs, b"a" * room)
    assert reader.read(1) == b"a"
    os.set_blocking(theirs, False)
    for _ in range(4):
        assert os.write(theirs, b"b" * room) == room, "the pipe is empty"
        time.sleep(PAUSE_MAX_S)
        assert reader.read(1) == b"a"
    os.close(theirs)
    assert everything(reader) == b"a" * (room - 5) + b"b" * 4 * room


@linux_only
def test_the_store_is_never_overfull() -> None:
    """Who looks slowly holds the writer back, as a pipe does."""
    ours, theirs = wide_pipe()
    reader = CalmReader(os.fdopen(ours, "rb"))
    os.set_blocking(theirs, False)
    written_bytes = os.write(theirs, b"x" * reader._room_bytes)
    reader.read(1)
    with suppress(BlockingIOError):
        while True:
            written_bytes += os.write(theirs, b"x" * reader._room_bytes)
            reader._emptied_s = 0.0
            reader.read(1)
    assert STORE_BYTES <= written_bytes <= STORE_BYTES + 3 * reader._room_bytes
    os.close(theirs)
    assert len(everything(reader)) > STORE_BYTES


@linux_only
def test_who_writes_fast_is_not_kept_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pause is over before the pipe is full."""
    ours, theirs = wide_pipe()
    reader = CalmReader(os.fdopen(ours, "rb"))
    fast, slow, pauses = [reader._room_bytes - 1] * 9, [1] * 12, list[float]()
    coming = iter([*fast, *slow])

    def wait(_: object, seconds: float, *, for_more: bool = False) -> bool:
        if not for_more:
            pauses.append(seconds)
            os.write(theirs, b"x" * size) if (size := next(coming, 0)) else os.close(theirs)
        return True

    monkeypatch.setattr(calm, "_wait", wait)
    reader._gather_s, reader._pause_s = 60.0, PAUSE_MAX_S
    os.write(theirs, b"x")
    assert len(reader.read(STORE_BYTES)) == 1 + sum((*fast, *slow[:-1], 1))
    shorter, longer = pauses[: len(fast)], pauses[len(fast) :]
    assert shorter == sorted(shorter, reverse=True)
    assert longer == sorted(longer)
    assert longer[0] == PAUSE_MIN_S, "it does not come to nothing, or it could not grow again"
    assert longer[-1] == PAUSE_MAX_S


@linux_only
def test_the_end_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calm, "PAUSE_MAX_S", 60.0)
    ours, theirs = wide_pipe()
    reader = CalmReader(os.fdopen(ours, "rb"))
    reader._gather_s = reader._pause_s = 30.0
    os.write(theirs, b"x")
    threading.Timer(0.1, os.close, [theirs]).start()
    begun_s = time.monotonic()
    assert everything(reader) == b"x"
    assert time.monotonic() - begun_s < 10


@linux_only
@pytest.mark.parametrize("size_bytes", [4096, 8192, SIZE])
def test_in_a_narrow_pipe_nothing_is_waited_for(size_bytes: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each read takes it all, so that each would be followed by a pause."""
    waits = list[float]()
    monkeypatch.setattr(calm, "_wait", lambda _, seconds, **__: waits.append(seconds))
    ours, theirs = wide_pipe(size_bytes)
    reader = CalmReader(os.fdopen(ours, "rb"))
    for _ in range(3):
        os.write(theirs, b"x" * size_bytes)
        assert reader.read(SIZE + 1) == b"x" * size_bytes
    os.close(theirs)
    assert reader.read(SIZE) == b""
    assert waits == []


@pytest.mark.parametrize("size_bytes", [4096, ROOM_MIN_BYTES])
def test_who_leaves_is_told_the_end_and_the_pipe_is_closed(size_bytes: int) -> None:
    ours, theirs = wide_pipe(size_bytes)
    pipe = os.fdopen(ours, "rb")
    with CalmReader(pipe) as reader:
        os.write(theirs, b"x" * 100)
        assert reader.read(10) == b"x" * 10
        reader.leave()
        assert reader.read(10) == b""
    os.set_blocking(theirs, False)
    pipe.close()
    with pytest.raises(BrokenPipeError):
        os.write(theirs, b"x")
    os.close(theirs)


def test_what_is_no_pipe_is_read_without_waiting(tmp_path: Path) -> None:
    place = tmp_path / "file"
    place.write_bytes(b"x" * 100)
    with place.open("rb") as file:
        assert room_bytes(file) == 0
        reader = CalmReader(file)
        assert everything(reader) == b"x" * 100
    assert reader._pause_s == PAUSE_MIN_S
