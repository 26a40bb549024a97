"""Progress of a repair: a line for each file and one for all, and nothing where there is no terminal."""

from __future__ import annotations

import re

from rich.console import Console

from mediacheck.cli.making_progress import making_watching
from mediacheck.inspection import Decoded
from mediacheck.survey import NoWatcher
from tests.cli.test_progress import Clock, drawn, terminal


def lines(console: Console) -> list[str]:
    """What was drawn, without bars and the signs that move the cursor."""
    plain = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", drawn(console)).replace("\r", "\n")
    kept = (line.translate({ord(sign): None for sign in "━╸╺"}) for line in plain.split("\n"))
    return [" ".join(line.split()) for line in kept if line.strip()]


def test_each_file_and_all_of_them_have_their_time_left() -> None:
    console, clock = terminal(100), Clock()
    with making_watching(console, clock) as watcher:
        watcher.begin(2, 1000)
        for second in range(5):
            watcher.decoded("a.mp4", 600, Decoded(second * 2.0, 10.0))
            watcher.decoded("b.mp4", 400, Decoded(second * 1.0, 10.0))
            clock.now_s += 1
    found = lines(console)
    assert any(re.fullmatch(r"a\.mp4 80 % \d\d:\d\d left", line) for line in found)
    assert any(re.fullmatch(r"b\.mp4 40 % \d\d:\d\d left", line) for line in found)
    assert any(re.fullmatch(r"0 of 2 new files 64 % \d\d:\d\d left", line) for line in found)


def test_a_file_that_is_made_leaves_its_line() -> None:
    console, clock = terminal(100), Clock()
    with making_watching(console, clock) as watcher:
        watcher.begin(2, 1000)
        watcher.decoded("a.mp4", 600, Decoded(1.0, 10.0))
        clock.now_s += 2
        watcher.done("a.mp4", 600)
        watcher.decoded("b.mp4", 400, Decoded(4.0, 10.0))
    found = lines(console)
    assert any(line.startswith("1 of 2 new files 76 %") for line in found)
    assert not any(line.startswith("a.mp4 100") for line in found)


def test_short_work_draws_nothing_and_a_second_stage_begins_anew() -> None:
    console, clock = terminal(100), Clock()
    with making_watching(console, clock) as watcher:
        watcher.begin(1, 10)
        watcher.done("a.mp4", 10)
        assert lines(console) == []
        watcher.begin(3, 30)
        clock.now_s += 2
        watcher.done("b.mp4", 10)
    assert any(line.startswith("1 of 3 new files 33 %") for line in lines(console))


def test_nothing_is_drawn_where_there_is_no_terminal() -> None:
    with making_watching() as watcher:
        assert isinstance(watcher, NoWatcher)
