"""The same file on many cards: the first is decoded alone, all others wait for it and then go together."""

from __future__ import annotations

from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import pytest

from mediacheck.cache import Cache
from mediacheck.card.edges import EDGE_BYTES
from mediacheck.inspection import Inspection, Wanted
from mediacheck.many.once import FirstAlone
from mediacheck.workers import FileWorkers

FOUND = Inspection("video")


class ByHand(Executor):
    """Keeps what it was given until the test answers it."""

    def __init__(self) -> None:
        self.given: list[tuple[str, Future[Any]]] = []
        self.closed = False

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        if self.closed:
            raise RuntimeError("no more work is taken")
        future: Future[Any] = Future()
        self.given.append((args[1], future))
        return future

    @property
    def names(self) -> list[str]:
        return [name for name, _ in self.given]


@pytest.fixture
def wanted(tmp_path: Path) -> Wanted:
    return Wanted("full", sha256=True, cache=Cache(tmp_path / "cache", "7"))


def look(*_: object) -> Inspection:
    return FOUND


def file(folder: Path, name: str, content: bytes) -> tuple[Path, str, int]:
    path = folder / name
    path.write_bytes(content)
    return path, name, len(content)


def test_what_looks_like_one_in_work_waits_and_then_all_go_together(tmp_path: Path, wanted: Wanted) -> None:
    pool = ByHand()
    first = FirstAlone(pool)
    same = [first.submit(look, *file(tmp_path, name, b"loop"), wanted) for name in ("a", "b", "c")]
    other = first.submit(look, *file(tmp_path, "d", b"pool"), wanted)
    assert pool.names == ["a", "d"]
    pool.given[0][1].set_result(FOUND)
    assert pool.names == ["a", "d", "b", "c"]
    for _, future in pool.given[1:]:
        future.set_result(FOUND)
    assert [future.result(0) for future in (*same, other)] == [FOUND] * 4
    first.submit(look, *file(tmp_path, "e", b"loop"), wanted)
    assert pool.names[-1] == "e"


def test_only_head_and_tail_are_read(tmp_path: Path, wanted: Wanted) -> None:
    pool = ByHand()
    first = FirstAlone(pool)
    for middle in (b"1", b"2"):
        content = bytes(EDGE_BYTES) + middle + bytes(EDGE_BYTES)
        first.submit(look, *file(tmp_path, middle.decode(), content), wanted)
    first.submit(look, *file(tmp_path, "3", content[:-1] + b"x"), wanted)
    assert pool.names == ["1", "3"]


@pytest.mark.parametrize("size_bytes", [0, 4])
def test_nothing_waits_where_nothing_is_decoded_or_kept(tmp_path: Path, size_bytes: int) -> None:
    pool = ByHand()
    first = FirstAlone(pool)
    for name in ("a", "b"):
        first.submit(look, *file(tmp_path, name, bytes(size_bytes)), Wanted("quick", sha256=False))
    assert pool.names == ["a", "b"]


def test_what_cannot_be_read_does_not_wait(tmp_path: Path, wanted: Wanted) -> None:
    pool = ByHand()
    first = FirstAlone(pool)
    for _ in range(2):
        first.submit(look, tmp_path / "gone", "gone", 9, wanted)
    assert pool.names == ["gone", "gone"]


def test_a_first_that_fails_or_is_dropped_holds_nobody_up(tmp_path: Path, wanted: Wanted) -> None:
    pool = ByHand()
    first = FirstAlone(pool)
    same = [first.submit(look, *file(tmp_path, name, b"loop"), wanted) for name in ("a", "b", "c")]
    pool.given[0][1].set_exception(ValueError("crashed"))
    pool.given[1][1].cancel()
    pool.given[1][1].set_running_or_notify_cancel()
    pool.given[2][1].set_result(FOUND)
    assert isinstance(same[0].exception(0), ValueError)
    assert same[1].cancelled()
    assert same[2].result(0) == FOUND


def test_a_pool_that_was_closed_answers_what_waits(tmp_path: Path, wanted: Wanted) -> None:
    pool = ByHand()
    first = FirstAlone(pool)
    _, waiting = (first.submit(look, *file(tmp_path, name, b"loop"), wanted) for name in ("a", "b"))
    pool.closed = True
    pool.given[0][1].set_result(FOUND)
    assert isinstance(waiting.exception(0), RuntimeError)


def test_leaving_a_block_leaves_the_pool_at_work(tmp_path: Path, wanted: Wanted) -> None:
    with FileWorkers(1, 60) as pool:
        with FirstAlone(pool) as first:
            assert first.submit(len, (1, 2)).result() == 2
        assert pool.submit(len, (1,)).result() == 1
