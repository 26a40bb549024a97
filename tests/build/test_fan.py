"""Blocks reach every taker whole and in order, a failure comes out, and memory stays bounded."""

from __future__ import annotations

import hashlib
import threading
import time
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.build import fan
from mediacheck.build.fan import BLOCKS_AT_ONCE, Fan


@settings(max_examples=30)
@given(st.lists(st.binary(max_size=2000), max_size=60))
def test_every_taker_gets_all_blocks_in_order(blocks: list[bytes]) -> None:
    first, second = hashlib.sha256(), bytearray()
    with Fan() as hands:
        for number, block in enumerate(blocks):
            if number % 3:
                buffer = hands.buffer()
                buffer[: len(block)] = block
                hands.hand(buffer, len(block), (first.update, second.extend))
            else:
                hands.hand(block, len(block), (first.update, second.extend))
    assert bytes(second) == b"".join(blocks)
    assert first.digest() == hashlib.sha256(second).digest()


def test_takers_work_at_the_same_time() -> None:
    meeting = threading.Barrier(2, timeout=10)
    with Fan() as hands:
        hands.hand(b"x", 1, (lambda _: (meeting.wait(), None)[1], lambda _: (meeting.wait(), None)[1]))
    assert not meeting.broken


def test_what_a_taker_raises_comes_out() -> None:
    def full(_: memoryview) -> None:
        raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space"), Fan() as hands:
        hands.hand(b"x", 1, (full,))


def test_no_more_blocks_are_made_than_are_allowed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fan, "BLOCK_BYTES", 16)
    seen: set[int] = set()
    with Fan() as hands:
        for _ in range(50):
            buffer = hands.buffer()
            seen.add(id(buffer))
            hands.hand(buffer, 16, (lambda _: time.sleep(0.001),))
    assert len(seen) == BLOCKS_AT_ONCE


def _later(done: list[int], number: int, _: memoryview) -> None:
    time.sleep(0.01)
    done.append(number)


def test_settling_waits_for_what_was_handed_over() -> None:
    done: list[int] = []
    with Fan() as hands:
        for number in range(5):
            hands.hand(b"x", 1, (partial(_later, done, number),))
        hands.settle()
        assert sorted(done) == [0, 1, 2, 3, 4]


def test_what_is_done_beside_holds_no_block_up_and_is_not_begun_twice() -> None:
    go_on, begun = threading.Event(), list[int]()

    def work() -> None:
        begun.append(1)
        assert go_on.wait(10)

    taken = bytearray()
    with Fan() as hands:
        hands.beside(work)
        for _ in range(3 * BLOCKS_AT_ONCE):
            hands.hand(b"x", 1, (taken.extend,))
            hands.beside(work)
        hands.settle()
        assert (len(taken), len(begun)) == (3 * BLOCKS_AT_ONCE, 1)
        go_on.set()


def _fail() -> None:
    raise OSError(5, "Input/output error")


def test_what_fails_beside_comes_out() -> None:
    with pytest.raises(OSError, match="Input/output"), Fan() as hands:
        hands.beside(_fail)
