"""Large blocks of an image: read into the room that the caller has, up to its end."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from mediacheck.card.blocks import Blocks

CONTENT = bytes(range(250))


@pytest.fixture
def image(tmp_path: Path) -> str:
    (tmp_path / "card.img").write_bytes(CONTENT)
    return str(tmp_path / "card.img")


@pytest.mark.parametrize("by_place", [True, False])
def test_the_room_is_filled_from_any_place(
    by_place: bool, image: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not by_place:  # as on Windows
        monkeypatch.delattr(os, "preadv", raising=False)
    room = bytearray(100)
    with Blocks(image) as blocks:
        assert blocks.size_bytes == 250
        assert blocks.read_into(140, memoryview(room)) == 100
        assert room == CONTENT[140:240]
        assert blocks.read_into(0, memoryview(room)[:7]) == 7
        assert room == CONTENT[:7] + CONTENT[147:240]


def test_what_lies_beyond_the_end_is_left_out(image: str) -> None:
    room = bytearray(100)
    with Blocks(image) as blocks:
        assert blocks.read_into(200, memoryview(room)) == 50
        assert room == CONTENT[200:] + bytes(50)
        assert blocks.read_into(300, memoryview(room)) == 0


def test_short_reads_are_read_on(image: str, monkeypatch: pytest.MonkeyPatch) -> None:
    if not hasattr(os, "preadv"):
        pytest.skip("this system reads in another way")
    whole = os.preadv
    monkeypatch.setattr(os, "preadv", lambda file, rooms, place: whole(file, [rooms[0][:30]], place))
    room = bytearray(100)
    with Blocks(image) as blocks:
        assert blocks.read_into(0, memoryview(room)) == 100
    assert room == CONTENT[:100]


def test_nothing_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        Blocks(str(tmp_path / "nothing"))
    with pytest.raises(OSError, match=r"."):
        Blocks(str(tmp_path))
