"""Progress of long reads and writes: what stands on the terminal, and that nothing does elsewhere."""

from __future__ import annotations

from io import StringIO

from rich.console import Console

from mediacheck.cli.byte_progress import byte_watching
from tests.cli.test_progress import Clock, drawn, terminal


def lines(console: Console) -> list[str]:
    """Each state of the bar, in words."""
    found = drawn(console).replace("\r", "\n").split("\n")
    words = [line.replace("\x1b[2K", "").translate({ord(sign): None for sign in "━╸╺"}) for line in found]
    return [" ".join(line.split()) for line in words if "left" in line]


def test_bytes_speed_and_time_left_are_drawn() -> None:
    console, clock = terminal(100), Clock()
    with byte_watching(console, clock) as watcher:
        watcher.begin(400_000_000, "reading")
        for _ in range(10):
            clock.now_s += 1
            watcher.advanced(20_000_000)
    assert lines(console)[-1] == "reading 200.0/400.0 MB 20.0 MB/s 00:10 left"


def test_a_second_stretch_of_work_takes_the_place_of_the_first() -> None:
    console, clock = terminal(100), Clock()
    with byte_watching(console, clock) as watcher:
        watcher.begin(100, "writing")
        clock.now_s += 2
        watcher.advanced(100)
        watcher.end()
        watcher.begin(100, "reading back")
        clock.now_s += 2
        watcher.advanced(50)
    last = lines(console)[-1]
    assert last.startswith("reading back 50/100 bytes")
    assert "writing" not in last


def test_nothing_is_drawn_in_the_first_second() -> None:
    console, clock = terminal(80), Clock()
    with byte_watching(console, clock) as watcher:
        watcher.begin(100, "reading")
        clock.now_s += 0.9
        watcher.advanced(50)
        watcher.end()
        assert drawn(console) == ""


def test_nothing_is_drawn_where_there_is_no_terminal() -> None:
    console, clock = Console(file=StringIO(), width=80), Clock()
    with byte_watching(console, clock) as watcher:
        watcher.begin(100, "reading")
        clock.now_s += 5
        watcher.advanced(50)
        watcher.end()
    assert drawn(console) == ""
