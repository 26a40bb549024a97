"""Killed while adding: a few of the 200 moments of `python -m tests.stores.killed 200`."""

from __future__ import annotations

from pathlib import Path

from tests.stores.killed import FILES, sweep

KILLS = 3


def test_what_was_confirmed_is_there_after_a_kill(place: str, tmp_path: Path) -> None:
    (tmp_path / "sent").mkdir()
    assert sweep(KILLS, place, tmp_path / "sent") == KILLS * FILES
