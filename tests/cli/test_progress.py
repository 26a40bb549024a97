"""Progress: what stands on the terminal while a card is checked, and that nothing does elsewhere."""

from __future__ import annotations

import subprocess
import time
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console

from mediacheck.check import check
from mediacheck.cli.progress import watching
from mediacheck.inspection import Decoded
from mediacheck.measure.decode import TELL_EVERY_S
from mediacheck.profile_files import load_profile
from mediacheck.survey import Options

CLIP = Path(__file__).parents[2] / "sample_media" / "watering-landscape.mp4"


class Clock:
    """A clock that goes on when told."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


def terminal(width: int) -> Console:
    return Console(file=StringIO(), force_terminal=True, width=width, color_system=None, legacy_windows=False)


def drawn(console: Console) -> str:
    """Everything written so far."""
    assert isinstance(console.file, StringIO)
    return console.file.getvalue()


def last_line(console: Console) -> str:
    """What stands on the terminal when the work ends, without the bar."""
    lines = [line for line in drawn(console).replace("\r", "\n").split("\n") if " files " in line]
    assert len(lines[-1]) <= console.width + len("\x1b[2K")
    words = lines[-1].replace("\x1b[2K", "").translate({ord(sign): None for sign in "━╸╺"})
    return " ".join(words.split())


@pytest.mark.parametrize("width", [60, 100])
def test_files_seconds_speed_and_time_left_are_drawn_while_a_film_is_decoded(width: int) -> None:
    console, clock = terminal(width), Clock()
    with watching(console, clock) as watcher:
        watcher.begin(12, 1000)
        for tenth in range(6):
            watcher.decoded("film.mp4", 800, Decoded(tenth * 8.2, 82.0))
            clock.now_s += 1
        watcher.done("slide.png", 100)
    assert last_line(console) == "1 of 12 files 41 s decoded, 8.2x 00:06 left"


def test_films_decoded_at_once_are_added_up() -> None:
    console, clock = terminal(80), Clock()
    with watching(console, clock) as watcher:
        watcher.begin(2, 200)
        watcher.decoded("a.mp4", 100, Decoded(0.0, 100.0))
        watcher.decoded("b.mp4", 100, Decoded(0.0, None))
        clock.now_s += 10
        watcher.decoded("a.mp4", 100, Decoded(30.0, 100.0))
        watcher.decoded("b.mp4", 100, Decoded(20.0, None))
        clock.now_s += 10
        watcher.done("a.mp4", 100)
    assert last_line(console).startswith("1 of 2 files 50 s decoded, 5.0x ")


def test_no_speed_is_drawn_where_nothing_is_decoded() -> None:
    console, clock = terminal(80), Clock()
    with watching(console, clock) as watcher:
        watcher.begin(2, 200)
        clock.now_s += 2
        watcher.done("a.mp4", 100)
    assert last_line(console) == "1 of 2 files --:-- left"


def test_nothing_is_drawn_in_the_first_second() -> None:
    console, clock = terminal(80), Clock()
    with watching(console, clock) as watcher:
        watcher.begin(2, 200)
        watcher.decoded("a.mp4", 100, Decoded(5.0, 10.0))
        clock.now_s += 0.9
        watcher.waiting()
        watcher.done("a.mp4", 100)
        assert drawn(console) == ""


def test_a_wait_of_more_than_a_second_draws_too() -> None:
    console, clock = terminal(80), Clock()
    with watching(console, clock) as watcher:
        watcher.begin(2, 200)
        clock.now_s += 1.1
        watcher.waiting()
    assert last_line(console) == "0 of 2 files --:-- left"


def test_nothing_is_drawn_where_there_is_no_terminal() -> None:
    console, clock = Console(file=StringIO(), width=80), Clock()
    with watching(console, clock) as watcher:
        watcher.begin(1, 100)
        clock.now_s += 5
        watcher.decoded("a.mp4", 100, Decoded(5.0, 10.0))
        watcher.waiting()
        watcher.done("a.mp4", 100)
    assert drawn(console) == ""


class Notes:
    """A watcher that writes down what it is told."""

    def __init__(self) -> None:
        self.decodes: list[Decoded] = []
        self.others: list[tuple[object, ...]] = []

    def begin(self, files: int, size_bytes: int) -> None:
        self.others.append(("begin", files, size_bytes))

    def decoded(self, path: str, size_bytes: int, so_far: Decoded) -> None:
        self.others.append(("decoded", path, size_bytes))
        self.decodes.append(so_far)

    def done(self, path: str, size_bytes: int) -> None:
        self.others.append(("done", path, size_bytes))

    def waiting(self) -> None:
        """Not noted: how often depends on the machine."""


def test_a_check_at_full_depth_tells_of_a_film_from_within(ffmpeg: str, tmp_path: Path) -> None:
    film = tmp_path / CLIP.name
    again = [ffmpeg, "-v", "error", "-stream_loop", "39", "-i", str(CLIP), "-c", "copy", str(film)]
    subprocess.run(again, check=True, timeout=60)
    notes, size = Notes(), film.stat().st_size
    options = Options("full", 1, use_cache=False)
    begun_s = time.monotonic()
    report = check(tmp_path, load_profile("basic-1080p"), options, notes).report
    most = 3 + (time.monotonic() - begun_s) / TELL_EVERY_S
    measured, facts = report.files[0].measurements, report.files[0].facts
    decodes = [so_far.seconds for so_far in notes.decodes]
    assert {so_far.of_seconds for so_far in notes.decodes} == {float(facts.duration)}  # type: ignore[union-attr,arg-type]
    assert decodes[0] == 0.0
    assert decodes == sorted(decodes)
    assert decodes[-1] == measured.seconds > 0.0  # type: ignore[union-attr]
    assert 3 <= len(decodes) <= most
    told = [("decoded", CLIP.name, size)] * len(decodes)
    assert notes.others == [("begin", 1, size), *told, ("done", CLIP.name, size)]
